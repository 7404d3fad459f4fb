//! Readings that stand still: until when the box counts as engaged, and what is no freeze at all.

use super::made::Made;
use super::port::notices;
use crate::signal::{Announcement, Lever};

const STUCK: &str = "stuck signals noticed";

/// From the answer at 2000 ms on nothing changes any more.
fn freeze(made: &mut Made) {
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
}

fn let_go(made: &mut Made) {
    made.say(Announcement::Fault);
    made.flag = Some(false);
}

/// Let go in time, 3.11 s after the freeze. The link lives again, and the driver hands over anew at 7 s: that the box is
/// engaged then is no lateness.
#[test]
fn a_new_hand_over_ends_what_is_looked_at() {
    let mut made = notices();
    freeze(&mut made);
    made.until(5110);
    let_go(&mut made);
    made.until(6000);
    made.engine_lives = true;
    made.until(6500);
    made.lever = Lever::D;
    made.until(7000);
    made.lever = Lever::Gate;
    made.until(7300);
    made.say(Announcement::Engaged);
    made.flag = Some(true);
    made.until(12_000);
    assert_eq!(made.seen(STUCK, 0.0).at_ms, 5000);
}

/// The lever is back from 20 ms of bouncing in the very tick in which the 3 s are over: the box, engaged until 5300 ms, is
/// as late as without it.
#[test]
fn a_lever_that_comes_in_as_the_time_is_over_is_no_excuse() {
    let mut made = notices();
    freeze(&mut made);
    made.until(4980);
    made.lever = Lever::D;
    made.until(5000);
    made.lever = Lever::Gate;
    made.until(5300);
    let_go(&mut made);
    made.until(12_000);
    assert_eq!(made.seen(STUCK, -0.19).at_ms, 5000);
}

/// Without a flag 3.61 s are allowed. Something else that the box says in between doesn't tell that it has let go.
#[test]
fn only_saying_that_it_lets_go_tells_so() {
    let mut made = Made::van();
    made.spec.facts.signals.engine_speed = true;
    made.spec.facts.notices_stuck = true;
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.0), true);
    made.take_over();
    made.until(2010);
    freeze(&mut made);
    made.until(2500);
    made.say(Announcement::Ready);
    made.until(5700);
    made.say(Announcement::Fault);
    made.until(12_000);
    made.seen(STUCK, -0.09);
}

/// The driver takes the lever out of the gate at 4 s, with speed and pedal steady: a cause of its own, and no freeze.
#[test]
fn a_lever_that_leaves_is_no_freeze_and_no_false_alarm() {
    let mut made = notices();
    made.until(4000);
    made.lever = Lever::D;
    made.run(50);
    made.say(Announcement::Disengaged);
    made.flag = Some(false);
    made.until(6000);
    made.nothing(STUCK);
}

/// The speed read changes with each update: a box that lets go all the same has no cause, but it hasn't taken a steady
/// drive for a freeze.
#[test]
fn letting_go_in_lively_driving_is_another_rules() {
    let mut made = notices();
    for at in 0..20 {
        made.speed = if at % 2 == 0 { 21.0 } else { 20.0 };
        made.run(100);
    }
    let_go(&mut made);
    made.run(1000);
    made.nothing(STUCK);
    assert!(made.broken().contains(&"own tap is not a driver tap"), "{:?}", made.broken());
}
