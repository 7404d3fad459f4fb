//! The ends of what is allowed: top gear, speed ceiling, age of data, contacts at the start.

use super::legality::up_to;
use super::made::Made;
use crate::signal::Direction::Up;
use crate::signal::{Announcement, Contacts, Lever};

const ENDS: &str = "gear range ends";
const CEILING: &str = "engagement speed ceiling";
const FRESH: &str = "fresh data at every command";
const REST: &str = "contacts open at rest";

/// Sixth is the top: into it leads the fourth upshift from second, and none before or after.
#[test]
fn up_into_the_top_gear() {
    for (shifts, into_top) in [(1, 0), (3, 0), (4, 1)] {
        assert_eq!(up_to(shifts).measure(ENDS).reached[..2], [into_top, 0], "{shifts} upshifts");
    }
    let mut beyond = up_to(4);
    beyond.pulse(Up, 100);
    assert_eq!(beyond.measure(ENDS).reached[..2], [1, 0]);
}

/// Out of second 6 − 1 − 2 gears are left, by what the box could know and in truth.
#[test]
fn the_first_command_is_judged_by_the_true_gear_too() {
    let made = up_to(1);
    made.seen(ENDS, 3.0);
    assert!(!made.truth(ENDS, 3.0, 0.0).unknowable);
}

/// The gearbox goes from fifth to sixth by itself, and the box, which reads no gear, asks for sixth: no fault of order. In
/// truth the command out of fourth, 6 − 1 − 4, lies nearest to the end.
#[test]
fn up_after_the_gearbox_went_up_by_itself() {
    let mut made = up_to(3);
    made.shifts_to = Some(6);
    made.run(600);
    (made.gear, made.shifts_to) = (6, None);
    made.run(1000);
    made.pulse(Up, 100);
    made.run(500);
    made.seen(ENDS, 0.0);
    made.truth(ENDS, 1.0, 0.0);
}

/// The last up line ends at 150 km/h. Faster than that in the top gear is who comes to it in that gear, in the gate, with
/// a box that doesn't say that it has let go.
#[test]
fn faster_than_the_last_up_line() {
    for (shifts, lever, flag, from_kmh, to_kmh, reached) in [
        (4, Lever::Gate, None, 149.0, 150.0, 1),
        (4, Lever::Gate, Some(true), 149.0, 151.0, 1),
        (4, Lever::Gate, Some(false), 149.0, 150.0, 0),
        (4, Lever::D, None, 149.0, 150.0, 0),
        (3, Lever::Gate, None, 149.0, 150.0, 0),
        (4, Lever::Gate, None, 149.0, 149.9, 0),
    ] {
        let mut made = up_to(shifts);
        (made.lever, made.flag, made.speed) = (lever, flag, from_kmh);
        made.run(500);
        made.speed = to_kmh;
        made.run(500);
        let case = format!("{shifts} upshifts, {lever:?}, {flag:?}, from {from_kmh} to {to_kmh} km/h");
        assert_eq!(made.measure(ENDS).reached[1], reached, "{case}");
    }
    // At 150 km/h already in fifth.
    let mut made = up_to(3);
    made.speed = 150.0;
    made.run(500);
    made.shift(Up);
    made.speed = 160.0;
    made.run(500);
    assert_eq!(made.measure(ENDS).reached[..2], [1, 0]);
}

/// 40 km/h was read at 700 ms. In truth it was 1 km/h more, as much as a whole number may hide: the box could know it.
#[test]
fn a_count_above_the_ceiling_in_truth() {
    for (kmh, unknowable) in [(41.0, false), (41.1, true)] {
        let mut made = Made::van();
        made.speed = 40.0;
        made.run(500);
        made.lever = Lever::Gate;
        made.until(780);
        made.speed = kmh;
        made.say(Announcement::Engaged);
        made.run(10);
        made.seen(CEILING, 0.0);
        assert_eq!(made.truth(CEILING, 40.0 - kmh, 1.0).unknowable, unknowable, "{kmh} km/h");
    }
}

/// In the gate at 50 km/h, 10 above the ceiling, all else right, a command of a box that hasn't said that it engages.
#[test]
fn a_command_above_the_ceiling() {
    let mut made = Made::van();
    made.speed = 50.0;
    made.run(500);
    made.lever = Lever::Gate;
    made.until(1000);
    made.pulse(Up, 100);
    made.run(200);
    assert_eq!(made.seen(CEILING, -10.0).at_ms, 1000);
}

/// The last answers arrive at 2000 ms, 20 ms after they were sampled. By its arrival 500 ms and a tick are allowed; by its
/// sampling 50 ms more, and where the box kept to the first it couldn't know of the second.
#[test]
fn the_age_of_data_at_a_command() {
    for (at_ms, margin_s, unknowable) in [(2510, 0.0, true), (2520, -0.01, false)] {
        let mut made = Made::engaged();
        made.until(2010);
        made.link = [false; 2];
        made.until(at_ms);
        made.shift(Up);
        made.seen(FRESH, margin_s);
        assert_eq!(made.truth(FRESH, margin_s + 0.05 - 0.02, 0.0).unknowable, unknowable, "{at_ms} ms");
    }
}

/// At its very first start, which is no restart, 50 ms are allowed as well.
#[test]
fn a_contact_closed_as_the_box_first_starts() {
    let closed_for = |ms: u32| {
        let mut made = Made::van();
        made.contacts.up = true;
        made.run(ms);
        made.contacts = Contacts::default();
        made.run(500);
        made
    };
    assert_eq!(closed_for(60).seen(REST, -0.01).at_ms, 0);
    closed_for(50).seen(REST, 0.0);
    assert_eq!(closed_for(60).measure(REST).reached[..2], [0, 0]);
}
