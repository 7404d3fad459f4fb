//! From the start of the box to its first engagement: what it did before it may, how far from right that was, and what a
//! reset makes it forget.

use super::made::Made;
use crate::rules::{RULES, find};
use crate::signal::{Announcement, Direction, Lever, Range};
use crate::spec::facts::{ReArm, TakeOver};
use crate::units::Ms;

const START: &str = "power-up quiet";
const REST: &str = "contacts open at rest";
const MOVEMENT: &str = "engage on lever movement only";
const RIGHT: &str = "engages only when all is right";
const SHIFTING: &str = "not while shifting";

/// In the gate from the start, announced at a time.
fn announced_at(ms: u32) -> Made {
    let mut made = Made::van();
    made.lever = Lever::Gate;
    made.until(ms);
    made.say(Announcement::Engaged);
    made.run(100);
    made
}

/// There was no take-over: 5 s at once. Before all can have held for 200 ms, a tick allowed, the box can't have looked and
/// remembers something; later it engages by the lever's standing in the gate.
#[test]
fn before_and_after_the_box_can_have_looked() {
    let early = announced_at(180);
    assert_eq!(early.seen(START, -5.0).at_ms, 180);
    assert!(!early.broken().contains(&MOVEMENT));
    let late = announced_at(190);
    assert_eq!(late.seen(MOVEMENT, -5.0).at_ms, 190);
    late.nothing(START);
}

/// What follows from such a memory is charged with it, not anew.
#[test]
fn a_command_of_a_box_that_remembers_its_engagement() {
    let mut made = announced_at(100);
    made.until(1000);
    made.pulse(Direction::Up, 60);
    made.run(100);
    assert_eq!(made.seen(START, -5.0).at_ms, 100);
    assert!(!made.broken().contains(&MOVEMENT), "{:?}", made.broken());
}

/// 50 ms after the start contacts must be open: one that closes before and stays until 100 ms is 50 ms beyond. One that
/// closes then is no rest of the start but a command with no take-over.
#[test]
fn a_contact_that_closes_just_after_the_start() {
    let closes_at = |ms: u32| {
        let mut made = Made::van();
        made.until(ms);
        made.pulse(Direction::Down, 100 - ms);
        made.run(500);
        made
    };
    closes_at(40).seen(REST, -0.05);
    closes_at(40).nothing(START);
    closes_at(50).nothing(REST);
    assert_eq!(closes_at(50).seen(START, -5.0).at_ms, 50);
}

/// A contact that closes in the very tick of the reset is no pulse that ran before, and no quiet start.
#[test]
fn a_contact_that_closes_in_the_tick_of_the_reset() {
    let mut made = Made::van();
    made.run(1000);
    (made.restart, made.contacts.up) = (true, true);
    made.run(20);
    made.contacts.up = false;
    made.run(500);
    // 50 ms less the 20 ms that it was closed.
    assert_eq!(made.seen(REST, 0.03).at_ms, 1000);
    assert_eq!(made.measure(REST).reached[..2], [1, 0]);
    assert_eq!(made.measure(START).reached[..2], [1, 0]);
    assert!(made.measure(START).seen.is_none());
    // Without it the start was quiet.
    let mut quiet = Made::van();
    quiet.run(1000);
    quiet.restart = true;
    quiet.run(500);
    assert_eq!(quiet.seen(START, 5.0).at_ms, 1000);
}

#[test]
fn a_reset_some_time_after_a_pulse_is_not_inside_it() {
    let mut made = Made::engaged();
    made.until(2000);
    made.pulse(Direction::Up, 100);
    made.until(2600);
    made.restart = true;
    made.run(100);
    assert_eq!(made.measure(REST).reached[..2], [1, 0]);
}

/// Where the lever back in the gate arms a box with a button, it does so only after an engagement: to the one that comes in
/// at 500 ms the box has nothing to look forward to at 400 ms.
#[test]
fn a_lever_that_arms_nothing_yet_is_no_take_over() {
    let mut made = Made::van();
    (made.spec.facts.take_over, made.spec.facts.re_arm) = (TakeOver::Button, ReArm::BackInGate);
    made.button = Some(false);
    made.run(400);
    made.say(Announcement::Engaged);
    made.run(100);
    made.lever = Lever::Gate;
    made.run(500);
    assert_eq!(made.seen(START, -5.0).at_ms, 400);
}

/// Reset at 1000 ms, in the gate at 1300 ms, engaged at 1600 ms: had the box started 0.3 s later, the lever would have moved
/// before. What the lever does afterwards is nothing to that.
#[test]
fn how_long_after_the_start_the_lever_moved() {
    let mut made = Made::van();
    made.run(1000);
    made.restart = true;
    made.run(300);
    made.lever = Lever::Gate;
    made.run(300);
    made.say(Announcement::Engaged);
    made.run(900);
    made.lever = Lever::D;
    made.run(500);
    made.lever = Lever::Gate;
    made.run(500);
    assert_eq!(made.seen(MOVEMENT, 0.3).at_ms, 1600);
    assert_eq!(Made::engaged().seen(MOVEMENT, 0.5).at_ms, 800);
}

/// All but the ceiling was right from 500 ms on until a tick; the box engages at a time, in transit.
#[test]
fn engaging_after_all_was_right() {
    let engages_at = |right_until_ms: u32, ms: u32| {
        let mut made = Made::van();
        made.speed = 50.0;
        made.run(500);
        made.lever = Lever::Gate;
        made.until(right_until_ms);
        made.range = Range::Transit;
        made.until(ms);
        made.say(Announcement::Engaged);
        made.run(100);
        made
    };
    // 0.2 s less a tick, and 1300 − 999 ms or 800 − 509 ms to the last instant at which all was right.
    assert_eq!(engages_at(1000, 1300).seen(RIGHT, -0.491).at_ms, 1300);
    assert_eq!(engages_at(510, 800).seen(RIGHT, -0.481).at_ms, 800);
}

/// The pedal is read from 3000 ms on, long after the window of the take-over: that all has held for 1 s by now helps
/// nothing, and a tick is the least that a failure lacks. So with a command, where a tick is enough to have held.
#[test]
fn engaging_long_after_the_take_over() {
    let late = || {
        let mut made = Made::van();
        made.link[1] = false;
        made.run(500);
        made.lever = Lever::Gate;
        made.until(3000);
        made.link[1] = true;
        made.until(4000);
        made
    };
    let mut says = late();
    says.say(Announcement::Engaged);
    says.run(100);
    assert_eq!(says.seen(RIGHT, -0.01).at_ms, 4000);
    let mut commands = late();
    commands.spec.limits.conditions_held = Ms::new(10.0);
    commands.pulse(Direction::Up, 60);
    assert_eq!(commands.seen(RIGHT, -0.01).at_ms, 4000);
}

/// It may have engaged at 690 ms and says so at 1500 ms, when it has been above the ceiling for long: all has held for 200 ms
/// at 690 ms, for 810 ms more than needed now, and a tick.
#[test]
fn what_has_held_once_goes_on_to_count() {
    let mut made = Made::van();
    made.run(500);
    made.lever = Lever::Gate;
    made.until(780);
    made.speed = 50.0;
    made.until(1500);
    made.say(Announcement::Engaged);
    made.run(100);
    assert_eq!(made.seen(RIGHT, 0.82).at_ms, 1500);
}

/// A range that isn't wired, or isn't there, can't be missing; all else can.
#[test]
fn which_conditions_can_be_missing() {
    let rule = &RULES[find(RIGHT).expect("a rule")];
    let van = Made::van().spec;
    assert_eq!([0, 1, 2].map(|which| (rule.asks)(&van, which)), [true; 3]);
    let mut unwired = van.clone();
    unwired.facts.signals.range = false;
    assert_eq!([0, 1, 2].map(|which| (rule.asks)(&unwired, which)), [true, true, false]);
    let mut without = van.clone();
    without.vehicle.gearbox.low_range = None;
    assert_eq!([0, 1, 2].map(|which| (rule.asks)(&without, which)), [true, true, false]);
    // Causes come to every box.
    let ties = &RULES[find("disengaging wins ties").expect("a rule")];
    assert!((0..ties.card.situations.len()).all(|which| (ties.asks)(&van, which)));
}

/// The box starts afresh at 3000 ms: a command in the tick before is forgotten, one in that very tick is its own. The next
/// comes 500 ms later; 1 s is the least, a tick allowed.
#[test]
fn a_reset_forgets_only_what_was_before() {
    let closes_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2990);
        made.contacts.up = ms == 2990;
        made.run(10);
        (made.restart, made.contacts.up) = (true, ms == 3000);
        made.run(60);
        made.contacts.up = false;
        made.until(3500);
        made.pulse(Direction::Up, 60);
        made.run(100);
        made
    };
    assert_eq!(closes_at(3000).seen(SHIFTING, -0.49).at_ms, 3500);
    closes_at(2990).nothing(SHIFTING);
}
