//! The rules on whole drives.

use super::made::Made;
use crate::failing_cause::Instant;
use crate::recording::Silence;
use crate::rules::instants::Marks;
use crate::rules::{Judge, compare_twice, find};
use crate::signal::Direction::{Down, Up};

const HUNTING: &str = "hunting count";
const ANSWERS: &str = "answers each tick";

/// Steady from 1 s on, the run-in ends at 21 s; then so many commands, 5 s apart, up and down by turns.
fn steady_with(commands: u32) -> Made {
    let mut made = Made::engaged();
    (made.steady, made.speed) = (true, 45.0);
    made.until(25_000);
    for at in 0..commands {
        made.shift(if at % 2 == 0 { Up } else { Down });
        made.until(25_000 + (at + 1) * 5000);
    }
    made.until(90_000);
    made
}

/// One reversal a minute is allowed.
#[test]
fn see_sawing() {
    let broken = steady_with(3);
    // Up at 25 s, down at 30 s, up at 35 s: two reversals.
    assert_eq!(broken.seen(HUNTING, -1.0).at_ms, 35_000);
    // It heeds no line: up at 45 km/h is late for 2>3 at 43, down early for 3>2 at 27, and second is no gear for 45.
    let map = ["only on the line", "response deadline", "settles on map gear"];
    assert_eq!(broken.broken(), [&[HUNTING], &map[..]].concat());
    let kept = steady_with(2);
    kept.seen(HUNTING, 0.0);
    assert_eq!(kept.measure(HUNTING).reached[..2], [1, 1]);
    steady_with(1).seen(HUNTING, 1.0);
    assert_eq!(steady_with(0).measure(HUNTING).reached[..2], [1, 0]);
}

/// One reversal at 30 s and one at 130 s are further than a minute apart: of two that count alike the first is told.
#[test]
fn of_reversals_that_count_alike_the_first_is_told() {
    let mut made = Made::engaged();
    (made.steady, made.speed) = (true, 45.0);
    for (at_ms, direction) in [(25_000, Up), (30_000, Down), (125_000, Up), (130_000, Down)] {
        made.until(at_ms);
        made.shift(direction);
    }
    made.until(140_000);
    assert_eq!(made.seen(HUNTING, 0.0).at_ms, 30_000);
}

/// Two pairs hunt in one steady stretch, 3-4 twice as often as it may and 4-5 once more: each is broken for itself, and one
/// that is left out, as a waiver does, hides nothing of the other.
#[test]
fn each_pair_hunts_for_itself() {
    let mut made = Made::engaged();
    (made.steady, made.speed, made.gear) = (true, 60.0, 2);
    made.until(3000);
    made.shift(Up);
    made.until(25_000);
    for direction in [Up, Down, Up, Down, Up, Up, Down, Up] {
        made.shift(direction);
        made.run(4300);
    }
    made.until(100_000);
    // 3-4: down at 30 s, up at 35 s, down at 40 s, up at 45 s. 4-5: down at 55 s, up at 60 s.
    assert_eq!(made.seen(HUNTING, -3.0).at_ms, 45_000);
    let but = |low: u8| {
        let except = Marks::Except(vec![Instant::Gears(low)]);
        let mut judge = Judge { some: Some((find(HUNTING).unwrap(), except)), ..Judge::default() };
        let mut measures = Vec::new();
        judge.judge(&made.spec, &made.recorded(), &mut measures);
        measures[find(HUNTING).unwrap()].seen.map(|m| (m.margin, m.at_ms))
    };
    assert_eq!(but(3), Some((-1.0, 60_000)));
    assert_eq!(but(4), Some((-3.0, 45_000)));
}

/// 10 s and more apart is no reversal; neither is what comes in the run-in.
#[test]
fn slow_turns_are_no_hunting() {
    let mut made = Made::engaged();
    (made.steady, made.speed) = (true, 45.0);
    for (at, direction) in [(3000, Up), (6000, Down), (9000, Up), (12_000, Down), (30_000, Up), (40_010, Down)] {
        made.until(at);
        made.shift(direction);
    }
    made.until(90_000);
    made.seen(HUNTING, 1.0);
}

/// Up and down by turns, 5 s apart: four reversals within a minute. Where the gearbox, after each up, stays where it was or
/// goes one gear further by itself, and is read there, the command that follows takes nothing back.
#[test]
fn what_the_gearbox_does_by_itself_is_no_hunting() {
    let reversals = |further: i8| {
        let mut made = Made::engaged();
        made.spec.facts.signals.gear = true;
        (made.steady, made.speed, made.gear_read) = (true, 45.0, Some(2.0));
        for (at, direction) in (0..5).map(|nth| (25_000 + 5000 * nth, if nth % 2 == 0 { Up } else { Down })) {
            made.until(at);
            made.pulse(direction, 100);
            made.run(900);
            made.gear = if direction == Up { 3_u8.saturating_add_signed(further) } else { 2 };
            made.gear_read = Some(f64::from(made.gear));
        }
        made.until(90_000);
        made.measure(HUNTING).seen.expect("steady for a minute").margin
    };
    assert_eq!(reversals(0), 1.0 - 4.0);
    // Down from fourth and then up from second; or down from second and up from there.
    assert_eq!((reversals(1), reversals(-1)), (1.0, 1.0));
}

#[test]
fn silence() {
    let mut made = Made::van();
    made.nothing(ANSWERS);
    made.run(100);
    made.seen(ANSWERS, 1.0);
    assert_eq!(made.measure(ANSWERS).reached[0], 1);
    made.recording.silence = Some(Silence::Closed);
    assert_eq!(made.seen(ANSWERS, -1.0).at_ms, 100);
    assert_eq!(made.broken(), [ANSWERS]);
}

/// One recording can't tell; two are compared: minus the ticks that differ, and those that only one has.
#[test]
fn the_same_drive_twice() {
    assert!(find("determinism").is_some());
    let first = Made::engaged();
    first.nothing("determinism");
    let margin = |other: &Made| compare_twice(&first.recording, &other.recording).seen.map(|m| (m.margin, m.at_ms));
    assert_eq!(margin(&Made::engaged()).map(|(m, _)| m), Some(1.0));
    let mut other = Made::engaged();
    other.recording.rows[40].contacts.up = true;
    other.recording.rows[41].contacts.up = true;
    assert_eq!(margin(&other), Some((-2.0, 400)));
    other.run(30);
    assert_eq!(margin(&other), Some((-5.0, 400)));
}

#[test]
fn the_rule_that_compares_drives_stands_where_the_campaign_looks_for_it() {
    assert_eq!(crate::rules::RULES[crate::rules::DETERMINISM].card.name, "determinism");
}

/// 1.5 s hold a second step where the box waits 1 s between two commands, and none where it waits that long.
#[test]
fn a_cascade_needs_room_for_a_second_step() {
    let mut spec = super::made::spec("van.toml");
    let rule = super::super::RULES[find("downshift cascade limit").unwrap()];
    let asks = |spec: &crate::spec::Spec| [0, 1].map(|situation| (rule.asks)(spec, situation));
    spec.limits.shift_blind = crate::units::Ms::new(1490.0);
    assert_eq!(asks(&spec), [true, true]);
    spec.limits.shift_blind = crate::units::Ms::new(1500.0);
    assert_eq!(asks(&spec), [false, true]);
}
