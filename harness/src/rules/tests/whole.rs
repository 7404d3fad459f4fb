//! The rules on whole drives.

use super::made::Made;
use crate::recording::Silence;
use crate::rules::{compare_twice, find};
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
