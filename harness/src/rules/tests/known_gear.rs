//! The gear that a box could know, shown by the rule that leans on it.

use super::made::{Made, spec};
use crate::signal::Direction::Down;
use crate::signal::Lever;
use crate::spec::vehicle::EntryGear;

const FIRST: &str = "never commands first";

/// The van's gate begins in second. A tap held in D until this time, ms; the lever comes at 500 ms and the box goes down
/// at 2 s.
fn tapped_until(ms: u32) -> Made {
    let mut made = Made::van();
    made.until(400);
    made.taps.down = true;
    made.until(ms.min(500));
    if ms > 500 {
        made.lever = Lever::Gate;
        made.until(ms);
    }
    made.taps.down = false;
    made.until(500.max(ms));
    made.lever = Lever::Gate;
    made.until(2000);
    made.pulse(Down, 100);
    made.run(500);
    made
}

/// Open again before the lever comes, it has said nothing, and the gear is second. Closed as the lever comes, nobody can
/// know whether the gearbox took it: nothing is held against the box, though in truth it commands first.
#[test]
fn a_tap_held_as_the_lever_comes() {
    tapped_until(490).seen(FIRST, -1.0);
    tapped_until(500).seen(FIRST, -1.0);
    for ms in [510, 700] {
        assert!(tapped_until(ms).measure(FIRST).seen.is_none(), "{ms}");
        tapped_until(ms).truth(FIRST, -1.0, 0.0);
    }
}

/// A gear that is read tells it again a second after the tap: in third, to go down is right.
#[test]
fn a_tap_held_as_the_lever_comes_and_a_gear_that_is_read() {
    let down_at = |ms: u32| {
        let mut made = Made::van();
        made.spec.facts.signals.gear = true;
        (made.gear, made.gear_read, made.taps.down) = (3, Some(3.0), true);
        made.until(500);
        made.lever = Lever::Gate;
        made.run(100);
        made.taps.down = false;
        made.until(ms);
        made.pulse(Down, 100);
        made.run(500);
        made
    };
    assert!(down_at(1400).measure(FIRST).seen.is_none());
    down_at(1700).seen(FIRST, 0.0);
}

/// The gate keeps the gear. A shift from third to fourth ends as the lever comes, and the box reads fourth 10 ms later:
/// 4>3 and 3>2, each within a second of what came before, are right; counted from third they would be 3>2 and 2>1.
#[test]
fn a_shift_that_ends_as_the_lever_comes() {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Current;
    (made.gear, made.gear_read) = (3, Some(3.0));
    made.until(490);
    (made.gear, made.gear_read) = (4, Some(4.0));
    made.lever = Lever::Gate;
    made.until(1300);
    made.pulse(Down, 100);
    made.until(2000);
    (made.gear, made.gear_read) = (3, Some(3.0));
    made.until(2250);
    made.pulse(Down, 100);
    made.run(500);
    made.seen(FIRST, 0.0);
}

/// The hatch's gate limits the gear; its box lowers the limit from fourth to third at 3 s and from there to second at
/// 4.4 s. From 4.3 s to 4.9 s the gearbox shifts.
fn shifts_under_a_limit(from: u8, to: u8) -> Made {
    let mut made = Made::of(spec("hatch.toml"));
    (made.gear, made.gear_read) = (4, Some(4.0));
    made.take_over();
    made.until(3000);
    made.pulse(Down, 100);
    made.gear = from;
    made.until(4300);
    made.shifts_to = Some(to);
    made.until(4400);
    made.pulse(Down, 100);
    made.until(4900);
    (made.gear, made.shifts_to) = (to, None);
    made.run(1000);
    made
}

/// Down to the new limit, the shift is the box's own, and 500 ms and 100 ms to settle were left. Further down the gearbox
/// goes by itself.
#[test]
fn only_a_shift_to_the_new_limit_comes_from_moving_it() {
    shifts_under_a_limit(4, 3).truth("not while shifting", -0.6, 0.01);
    assert!(shifts_under_a_limit(3, 2).measure("not while shifting").truth.is_none());
}
