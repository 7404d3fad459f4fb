//! The rules on data: leaps, invalid answers, extra answers, clocks, damaged maps.

use super::made::{Made, spec};
use crate::outcome::Measure;
use crate::recording::{Delivered, Recording};
use crate::rules::fed::Fed;
use crate::rules::order_immunity::{Extra, extras};
use crate::rules::{bad_map_refused, clock_wrap, find, idle_hour, order_immunity};
use crate::signal::Direction::{Down, Up};
use crate::signal::{Action, Answer, Contacts, Content, Lever, Output, Signal};

const LEAP: &str = "implausible speed holds";
const INVALID: &str = "invalid answer is not a number";

/// From 100 km/h to 20 at 3000 ms; between two answers 8 km/h at the most are brakes and rounding: 0.155 s · 40 + 2.
/// The downshift so long after that.
fn fallen(after_ms: u32, pedal: f64) -> Made {
    let mut made = Made::engaged();
    made.gear = 2;
    climb(&mut made);
    made.pedal = pedal;
    made.until(20_000);
    made.speed = 20.0;
    made.until(20_000 + after_ms);
    made.shift(Down);
    made.run(1000);
    made
}

/// In steps that a van can do, 2 km/h in 100 ms, to 100 km/h and third gear.
fn climb(made: &mut Made) {
    made.until(2000);
    made.speed = 45.0;
    made.until(4000);
    made.shift(Up);
    while made.speed < 100.0 {
        made.speed += 2.0;
        made.run(100);
    }
}

/// Allowed from 500 ms on, give or take one tick.
#[test]
fn a_fall_faster_than_brakes_can() {
    fallen(490, 0.0).seen(LEAP, 0.0);
    assert!(!fallen(490, 0.0).broken().contains(&LEAP));
    assert_eq!(fallen(300, 0.0).seen(LEAP, -0.19).at_ms, 20_300);
    assert!(fallen(300, 0.0).broken().contains(&LEAP));
    // 3 to 4 at 45 km/h was a leap as well, but 2 s earlier and without a command of its own.
    assert_eq!(fallen(490, 0.0).measure(LEAP).reached[..2], [1, 1]);
    Made::engaged().nothing(LEAP);
}

/// From 100 km/h to 93: less than 8.
#[test]
fn brakes_are_believed() {
    let mut made = Made::engaged();
    climb(&mut made);
    made.until(20_000);
    made.speed = 93.0;
    made.run(100);
    made.shift(Down);
    assert_eq!(made.measure(LEAP).reached[0], 0);
    assert!(!made.broken().contains(&LEAP));
}

/// The speed before the leap asks for the downshift too: 100 km/h in third lies above the line 3>2 at any pedal, but
/// 40 km/h at full pedal lies below it.
#[test]
fn a_kickdown_is_not_asked_for_by_the_leap() {
    let at = |pedal: f64| {
        let mut made = Made::engaged();
        made.until(2000);
        made.speed = 45.0;
        made.until(4000);
        made.shift(Up);
        made.pedal = pedal;
        made.until(8000);
        made.speed = 20.0;
        made.run(200);
        made.pulse(Down, 100);
        made.run(500);
        made
    };
    let line = |pedal| spec("van.toml").map.down_kmh(3, pedal).unwrap();
    assert!(line(0.0) < 45.0 && line(100.0) >= 45.0);
    assert!(at(0.0).broken().contains(&LEAP));
    assert!(!at(100.0).broken().contains(&LEAP));
}

/// 0.9 g and no leap, then 20 km/h in third, 7 km/h below the line 3>2. Due 1 s after the command before; 2 s are free.
#[test]
fn a_hard_stop_holds_no_longer_than_two_seconds() {
    let waits = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.speed = 45.0;
        made.until(4000);
        made.shift(Up);
        made.pedal = 0.0;
        // The leap to 45 km/h lies further back than is looked at.
        made.until(18_000);
        made.accel = -9.0;
        while made.speed > 20.0 {
            made.speed -= 3.0;
            made.run(100);
        }
        made.accel = 0.0;
        made.speed = 20.0;
        let from = made.now();
        made.until(from + ms);
        made.shift(Down);
        made.run(3000);
        made
    };
    // 45 down to 21, 18: nine steps; from 24 km/h on it is due, while braking hard nothing is asked for.
    let kept = waits(1500);
    assert_eq!(kept.measure(LEAP).reached[2], 1);
    assert!(kept.measure(LEAP).seen.is_some_and(|m| (0.0..1.0).contains(&m.margin)));
    let broken = waits(3000).measure(LEAP).seen.expect("reached");
    // From the tick after the braking to the one of the command: 3.00 s, give or take a tick.
    assert!((broken.margin + 1.0).abs() < 0.02, "{}", broken.margin);
    assert!(waits(3000).broken().contains(&LEAP));
}

/// The same stop; the gear signal stays at third, and a downshift just before the braking ended was refused.
#[test]
fn after_a_hard_stop_a_refused_downshift_may_be_given_up() {
    let after = |tapped: bool| {
        let mut made = Made::engaged();
        made.spec.facts.signals.gear = true;
        made.gear_read = Some(2.0);
        made.until(2000);
        made.speed = 45.0;
        made.until(4000);
        made.shift(Up);
        (made.gear_read, made.pedal) = (Some(3.0), 0.0);
        made.until(18_000);
        made.accel = -9.0;
        while made.speed > 21.0 {
            made.speed -= 3.0;
            made.run(100);
        }
        made.accel = 0.0;
        if tapped {
            made.pulse(Down, 100);
        }
        made.run(9000);
        made.broken().contains(&LEAP)
    };
    assert!(after(false));
    assert!(!after(true));
}

/// Third gear at 60 km/h and 20 % pedal: 3>2 lies at 27 km/h, 3>4 at 57. The answers of a signal hold something else
/// from 6000 ms on; then a command.
fn answered(signal: Signal, content: Content, direction: crate::signal::Direction, kmh: f64) -> Made {
    let mut made = Made::engaged();
    made.until(2000);
    made.speed = 45.0;
    made.until(4000);
    made.shift(Up);
    made.speed = kmh;
    made.until(6500);
    made.pulse(direction, 100);
    made.run(300);
    for d in made.recording.delivered.iter_mut().filter(|d| d.answer.signal == signal && d.arrived_ms >= 6000) {
        d.answer.content = content;
    }
    made
}

#[test]
fn a_code_is_no_speed() {
    // 34 km/h is no downshift either, within 5 km/h of the line at 27: 0x22 would be, had the line been at 29 or more.
    let broken = answered(Signal::Speed, Content::Negative(0x22), Down, 60.0);
    assert_eq!(broken.seen(INVALID, -1.0).at_ms, 6500);
    assert_eq!(broken.measure(INVALID).reached[..3], [1, 0, 0]);
    // The valid speed is 60 km/h, beyond the line 3>4: the code explains nothing that it doesn't.
    answered(Signal::Speed, Content::Negative(0x22), Up, 60.0).seen(INVALID, 1.0);
    for value in [300.0, -1.0, 256.0] {
        answered(Signal::Speed, Content::Value(value), Down, 60.0).seen(INVALID, -1.0);
    }
    for value in [100.5, -0.5] {
        answered(Signal::Pedal, Content::Value(value), Down, 60.0).seen(INVALID, -1.0);
    }
    // 5 km/h from its line is near enough for a box that filters: 32 km/h, not 33.
    answered(Signal::Pedal, Content::Negative(0x12), Down, 32.0).seen(INVALID, 1.0);
    answered(Signal::Pedal, Content::Negative(0x12), Down, 33.0).seen(INVALID, -1.0);
    // In range, nothing is asked.
    answered(Signal::Speed, Content::Value(255.0), Down, 60.0).nothing(INVALID);
}

/// Speed is refused from the start; the box shows itself engaged all the same.
#[test]
fn a_refused_speed_engages_no_one() {
    let refused = |engages: bool| {
        let mut made = Made::van();
        made.run(500);
        made.lever = Lever::Gate;
        made.run(300);
        if engages {
            made.say(crate::signal::Announcement::Engaged);
        }
        made.run(1000);
        for d in made.recording.delivered.iter_mut().filter(|d| d.answer.signal == Signal::Speed) {
            d.answer.content = Content::Negative(0x11);
        }
        made
    };
    assert_eq!(refused(true).seen(INVALID, -1.0).at_ms, 800);
    // One spell of refusals, which began in D: nothing is reached.
    refused(false).nothing(INVALID);
}

fn answer(signal: Signal, value: f64, sampled_ms: u32, arrived_ms: u32) -> Delivered {
    let answer = Answer { signal, content: Content::Value(value), arrival_ms: u64::from(arrived_ms) };
    Delivered { answer, sampled_ms, arrived_ms }
}

#[test]
fn extra_answers_are_told_apart() {
    let delivered = vec![
        answer(Signal::Speed, 50.0, 100, 120),
        answer(Signal::Speed, 50.0, 100, 127),
        answer(Signal::Speed, 53.0, 100, 130),
        answer(Signal::Pedal, 20.0, 110, 135),
        answer(Signal::Speed, 52.0, 300, 320),
        answer(Signal::Speed, 51.0, 200, 350),
        answer(Signal::Speed, 52.0, 400, 420),
    ];
    let recording = Recording { delivered, ..Recording::default() };
    let (twin, other, late) = (Some(Extra::Twin), Some(Extra::Other), Some(Extra::Late));
    assert_eq!(extras(&recording), [None, twin, other, None, None, late, None]);
}

/// What a box gives that closes a contact for 100 ms at each of these times, over 10 s.
pub(super) fn gives(commands: &[(u32, crate::signal::Direction)]) -> Fed {
    let closed = |ms: u32, direction| commands.iter().any(|&(at, d)| d == direction && (at..at + 100).contains(&ms));
    let output = |ms: u32| {
        let contacts = Contacts { up: closed(ms, Up), down: closed(ms, Down) };
        Output { action: Action::Contacts(contacts), ..Output::OPEN }
    };
    Fed { given: (0..1000).map(|tick| (tick * 10, output(tick * 10))).collect(), silent_ms: None }
}

/// 10 s in the gate with one answer twice and, from 5 s on, a leap if asked for.
pub(super) fn ten_seconds(leap: bool) -> Recording {
    let mut made = Made::van();
    made.until(5000);
    made.speed = if leap { 60.0 } else { 20.0 };
    made.until(10_000);
    let twin = made.recording.delivered[4];
    made.recording.delivered.insert(5, twin);
    made.recording
}

pub(super) fn margin(measure: &Measure) -> Option<(f64, u32)> {
    measure.seen.map(|m| (m.margin, m.at_ms))
}

/// One poll of 100 ms and two ticks either way are free.
#[test]
fn extra_answers_change_no_command() {
    let spec = spec("van.toml");
    let at = |ms: u32| gives(&[(ms, Up)]);
    let compare = |whole: &Fed, first: &Fed, second: Option<&Fed>| {
        margin(&order_immunity::compare(&spec, &ten_seconds(false), whole, first, second))
    };
    assert_eq!(compare(&at(3000), &at(3000), None), Some((1.0, 9990)));
    assert_eq!(compare(&at(3000), &at(3120), None), Some((1.0, 9990)));
    assert_eq!(compare(&at(3000), &at(3130), None), Some((-1.0, 3000)));
    assert_eq!(compare(&at(3130), &at(3000), None), Some((-1.0, 3000)));
    // One that is missing, one too many, one the other way.
    assert_eq!(compare(&gives(&[]), &at(3000), None), Some((-1.0, 3000)));
    assert_eq!(compare(&at(3000), &gives(&[]), None), Some((-1.0, 3000)));
    assert_eq!(compare(&at(3000), &gives(&[(3000, Down)]), None), Some((-1.0, 3000)));
    // Two responders: either one, and what lies between.
    assert_eq!(compare(&at(3000), &at(4000), Some(&at(3000))), Some((1.0, 9990)));
    assert_eq!(compare(&at(3500), &at(4000), Some(&at(3000))), Some((1.0, 9990)));
    assert_eq!(compare(&at(2800), &at(4000), Some(&at(3000))), Some((-1.0, 2800)));
    // By one responder alone it never comes, or another one does: what lies behind the other's time is between.
    let none = gives(&[]);
    assert_eq!(compare(&at(3500), &at(3000), Some(&none)), Some((1.0, 9990)));
    assert_eq!(compare(&at(3500), &none, Some(&at(3000))), Some((1.0, 9990)));
    assert_eq!(compare(&at(3500), &at(3000), Some(&gives(&[(5000, Down)]))), Some((1.0, 9990)));
    assert_eq!(compare(&at(2800), &at(3000), Some(&none)), Some((-1.0, 2800)));
    assert_eq!(compare(&at(3500), &none, Some(&none)), Some((-1.0, 3500)));
    // From a command on that either responder alone brings at another time, what that one would bring can't be known, and
    // the box may follow it.
    let two_up = |ms: u32| gives(&[(ms, Up), (6000, Up)]);
    assert_eq!(compare(&two_up(3500), &at(3000), Some(&at(4000))), Some((1.0, 9990)));
    assert_eq!(compare(&two_up(3000), &at(3000), Some(&at(4000))), Some((1.0, 9990)));
    assert_eq!(compare(&two_up(3000), &at(3000), Some(&at(3200))), Some((1.0, 9990)));
    assert_eq!(compare(&two_up(3000), &at(3000), Some(&at(3010))), Some((-1.0, 6000)));
    // Nor after a command that came a poll later.
    assert_eq!(compare(&two_up(3020), &at(3000), None), Some((-1.0, 6000)));
    assert_eq!(compare(&two_up(3030), &at(3000), None), Some((1.0, 9990)));
    assert_eq!(compare(&at(3030), &two_up(3000), None), Some((1.0, 9990)));
    // A speed that leaps at 5 s excuses a box that holds or lets go.
    let leapt =
        |whole: &Fed, first: &Fed| margin(&order_immunity::compare(&spec, &ten_seconds(true), whole, first, None));
    assert_eq!(leapt(&gives(&[]), &at(6000)), Some((1.0, 9990)));
    assert_eq!(leapt(&gives(&[]), &at(3000)), Some((-1.0, 3000)));
    // A box that doesn't even repeat itself is another rule's.
    let mut other = at(3000);
    other.given[7].1.engaged = Some(true);
    assert_eq!(compare(&other, &at(3000), None), None);
}

#[test]
fn a_clock_that_runs_over_changes_nothing() {
    let recording = ten_seconds(false);
    let plain = gives(&[(3000, Up), (6000, Down)]);
    let compare = |fed: Fed| clock_wrap::compare(&recording, &plain, &[(5000, fed)]);
    let kept = compare(plain.clone());
    assert_eq!(margin(&kept), Some((1.0, 5000)));
    // 5 s is 2 s and more after the command at 3 s: the second situation isn't there.
    assert_eq!(kept.reached[..2], [1, 0]);
    assert_eq!(margin(&compare(gives(&[(3000, Up), (6020, Down)]))), Some((1.0, 5000)));
    assert_eq!(margin(&compare(gives(&[(3000, Up), (6030, Down)]))), Some((-1.0, 6000)));
    assert_eq!(margin(&compare(gives(&[(3000, Up)]))), Some((-1.0, 6000)));
    assert_eq!(margin(&compare(gives(&[(3000, Up), (5000, Up), (6000, Down)]))), Some((-2.0, 6000)));
    let silent = Fed { silent_ms: Some(5010), ..plain.clone() };
    assert_eq!(margin(&compare(silent)), Some((-1.0, 5010)));
    // Without commands nothing is shown.
    assert_eq!(margin(&clock_wrap::compare(&recording, &gives(&[]), &[(5000, gives(&[]))])), None);
}

#[test]
fn an_hour_of_idling_changes_nothing() {
    let recording = ten_seconds(false);
    let short = gives(&[(3000, Up), (6000, Down)]);
    let compare = |long: Fed| idle_hour::compare(&recording, &short, &short, &long);
    let kept = compare(short.clone());
    assert_eq!((margin(&kept), kept.reached[0]), (Some((1.0, 9990)), 1));
    // Two ticks are free, a third is not.
    assert_eq!(margin(&compare(gives(&[(3000, Up), (6020, Down)]))), Some((1.0, 9990)));
    assert_eq!(margin(&compare(gives(&[(3000, Up), (6030, Down)]))), Some((-1.0, 6000)));
    assert_eq!(margin(&compare(gives(&[]))), Some((-2.0, 3000)));
    assert_eq!(margin(&compare(Fed { silent_ms: Some(0), given: Vec::new() })), Some((-3.0, 0)));
    // Without commands nothing is shown, nor by a box that doesn't repeat itself.
    assert_eq!(margin(&idle_hour::compare(&recording, &gives(&[]), &gives(&[]), &short)), None);
    assert_eq!(margin(&idle_hour::compare(&recording, &short, &gives(&[]), &short)), None);
}

#[test]
fn only_a_drive_that_begins_at_rest_may_follow_on_idling() {
    let begins = |kmh: f64, lever: Lever, engine_on: bool| {
        let mut recording = ten_seconds(false);
        let first = &mut recording.rows[0];
        (first.truth.speed_kmh, first.truth.engine_on, first.inputs.lever) = (kmh, engine_on, lever);
        idle_hour::may_follow(&recording)
    };
    assert!(begins(0.0, Lever::P, true) && begins(0.0, Lever::D, true));
    assert!(!begins(5.0, Lever::D, true) && !begins(0.0, Lever::Gate, true) && !begins(0.0, Lever::P, false));
    assert!(!idle_hour::may_follow(&Recording::default()));
}

#[test]
fn a_damaged_map_that_is_taken_counts() {
    assert_eq!(margin(&bad_map_refused(21, 0, 9000)), Some((1.0, 9000)));
    assert_eq!(margin(&bad_map_refused(21, 2, 1800)), Some((-2.0, 1800)));
    assert_eq!(margin(&bad_map_refused(0, 0, 0)), None);
    assert_eq!(bad_map_refused(21, 0, 9000).reached[0], 21);
    let mut own = spec("van.toml");
    own.facts.map_from = crate::spec::facts::MapFrom::Own;
    let mut told = spec("van.toml");
    told.facts.map_from = crate::spec::facts::MapFrom::Hello;
    let rule = &crate::rules::RULES[find("bad map refused").unwrap()];
    assert!((rule.does_not_apply)(&own).is_some() && (rule.does_not_apply)(&told).is_none());
}
