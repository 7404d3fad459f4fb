//! The gear that a box could know, shown by the rule that leans on it.

use super::commands::rpm;
use super::made::{Made, spec};
use crate::rules::Judge;
use crate::signal::Direction::{Down, Up};
use crate::signal::Lever;
use crate::spec::vehicle::{EntryGear, GateMeans};

const FIRST: &str = "never commands first";
const FLOOR: &str = "rpm floor after upshift";
const OVER: &str = "over-rev after downshift";

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

/// The gear that a box could know at the command that ends the recording.
fn known(mut made: Made) -> Option<u8> {
    made.pulse(Down, 100);
    let mut judge = Judge::default();
    judge.judge(&made.spec, &made.recorded(), &mut Vec::new());
    judge.story().commands.last().expect("a command").gear_seen
}

/// As `Made::engaged`, with a gear signal that tells this; a gate that holds a gear or limits it.
pub(super) fn told(means: GateMeans, gear: u8) -> Made {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    made.spec.vehicle.gearbox.gate.means = means;
    (made.gear, made.gear_read) = (gear, Some(f64::from(gear)));
    made.take_over();
    made
}

/// Down at 2 s: an answer that comes 1 s after or later tells what became of it, one before says nothing yet.
#[test]
fn a_gear_read_is_believed_a_second_after_a_tap() {
    let refused = |ms: u32| {
        let mut made = told(GateMeans::HeldGear, 4);
        made.until(2000);
        made.pulse(Down, 100);
        made.until(ms);
        known(made)
    };
    assert_eq!(refused(2900), Some(3), "what the tap should have led to");
    assert_eq!(refused(2990), Some(3));
    assert_eq!(refused(3000), Some(4), "the answer that arrives at 3 s");
}

/// Down from fourth at 2 s, and the gear is told for the last time more than a second later. A shift has 1.5 s to be
/// confirmed: told before that, and silent for longer than 500 ms, it leaves open whether the shift has come since.
#[test]
fn a_gear_told_for_the_last_time_before_a_shift_must_have_come() {
    let after = |gear: f64, told_until_ms: u32, ms: u32| {
        let mut made = told(GateMeans::HeldGear, 4);
        made.until(2000);
        made.pulse(Down, 100);
        made.gear_read = Some(gear);
        made.until(told_until_ms);
        made.gear_read = None;
        made.until(ms);
        known(made)
    };
    // The last answers arrive at 3,400 and at 3,500 ms.
    assert_eq!(after(4.0, 3450, 3900), Some(4), "fresh");
    assert_eq!(after(4.0, 3450, 3910), None);
    assert_eq!(after(4.0, 3550, 4500), Some(4), "the shift had its time");
    assert_eq!(after(3.0, 3450, 4500), Some(3), "it has come");
}

/// Under a limit the gearbox may stay below it: a gear above it tells a limit that is higher, one at it the limit, and one
/// below it nothing.
#[test]
fn a_gear_read_tells_a_limit_where_it_is_above_or_at_it() {
    let reads = |gear: f64, ms: u32| {
        let mut made = told(GateMeans::RangeLimit, 4);
        made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(3);
        made.gear_read = Some(gear);
        made.until(ms);
        known(made)
    };
    // The lever came at 500 ms.
    assert_eq!(reads(4.0, 1490), Some(3), "not yet settled");
    assert_eq!(reads(4.0, 1500), Some(4));
    assert_eq!(reads(3.0, 1500), Some(3));
    assert_eq!(reads(2.0, 1490), Some(3));
    assert_eq!(reads(2.0, 1500), None);
    // Read again at the limit, after the driver has tapped, it may be below another one.
    let mut made = told(GateMeans::RangeLimit, 3);
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(3);
    made.until(2000);
    made.taps.up = true;
    made.run(20);
    made.taps.up = false;
    made.until(4000);
    assert_eq!(known(made), None);
}

/// At rest a gearbox shifts down by itself: from fourth, some time or other; in 3 s every box takes it to be in second,
/// and after wheels that have locked, in 10 s.
#[test]
fn at_rest_the_gear_is_the_lowest_after_three_seconds() {
    let rests = |gear: u8, from_kmh: f64, for_ms: u32| {
        let mut made = Made::van();
        made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(gear);
        made.speed = from_kmh;
        made.take_over();
        made.until(2000);
        made.speed = 3.0;
        made.run(for_ms);
        known(made)
    };
    // 4 km/h to 3 is no fall that brakes can't explain.
    assert_eq!(rests(4, 4.0, 0), None);
    assert_eq!(rests(4, 4.0, 2990), None);
    assert_eq!(rests(4, 4.0, 3000), Some(2));
    assert_eq!(rests(2, 4.0, 2990), Some(2));
    // From 60 km/h within 100 ms it is.
    assert_eq!(rests(4, 60.0, 3000), None);
    assert_eq!(rests(4, 60.0, 9990), None);
    assert_eq!(rests(4, 60.0, 10_000), Some(2));
    // A gearbox that doesn't, stays.
    let mut made = Made::van();
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(4);
    made.spec.vehicle.gearbox.protection.down_below = None;
    made.take_over();
    made.speed = 0.0;
    made.run(5000);
    assert_eq!(known(made), Some(4));
}

/// Standing still counts from the last time that it stood: rolling for a moment begins it anew.
#[test]
fn rolling_begins_the_standstill_anew() {
    let mut made = Made::van();
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(4);
    made.speed = 4.0;
    made.take_over();
    made.speed = 3.0;
    made.until(3000);
    made.speed = 4.0;
    made.until(3100);
    made.speed = 3.0;
    made.until(6000);
    assert_eq!(known(made), None);
}

/// The gearbox takes a contact that stays closed for 40 ms, once. Where it was shorter, or only just so long, nobody knows.
#[test]
fn a_tap_counts_once_and_only_when_it_is_long_enough() {
    let closed_for = |ms: u32| {
        let mut made = Made::engaged();
        made.until(1500);
        made.pulse(Up, ms);
        made.until(3000);
        known(made)
    };
    assert_eq!((closed_for(10), closed_for(30)), (None, None));
    // Sampled in ticks of 10 ms, a pulse of 40 ms is closed in four of them: the last begins 30 ms after the first.
    assert_eq!(closed_for(40), None);
    assert_eq!(closed_for(50), Some(3));
    assert_eq!(closed_for(400), Some(3));
}

/// Cut short by a cause, a pulse may have been a tap or not. A held gear is read a second later; that below a limit leaves
/// open which limit it is, until the lever comes anew.
#[test]
fn a_pulse_cut_short_and_a_gear_that_is_read() {
    let after = |means: GateMeans, ms: u32| {
        let mut made = told(means, 2);
        made.until(2000);
        made.pulse(Up, 30);
        made.until(ms);
        made
    };
    assert_eq!(known(after(GateMeans::HeldGear, 3100)), Some(2));
    assert_eq!((known(after(GateMeans::RangeLimit, 2100)), known(after(GateMeans::RangeLimit, 3100))), (None, None));
    let mut made = after(GateMeans::RangeLimit, 5000);
    made.lever = Lever::D;
    made.run(500);
    made.lever = Lever::Gate;
    made.until(7000);
    assert_eq!(known(made), Some(2));
}

/// The wheels read 0 km/h before the lever comes. If they turn at 90 km/h in the next reading, second gear would have
/// turned 5,206 r/min, beyond the redline of 4,400: the gate may have taken third, and then the down tap is right.
#[test]
fn a_gear_that_hangs_on_the_next_reading_at_the_entry_is_not_known() {
    let down_after = |then_kmh: f64| {
        let mut made = Made::van();
        made.speed = 0.0;
        made.run(550);
        made.lever = Lever::Gate;
        made.run(20);
        made.speed = then_kmh;
        made.until(1000);
        made.speed = 10.0;
        made.until(4000);
        made.pulse(Down, 100);
        made
    };
    assert!(rpm(2.21, 90.0) > 4400.0 && rpm(1.46, 90.0) < 4400.0);
    assert!(down_after(90.0).measure(FIRST).seen.is_none());
    // From 0 to 10 km/h either reading tells second.
    down_after(10.0).seen(FIRST, -1.0);
}

/// The lever bounces for 20 ms in an own pulse: whether it was a tap can't be known, and no gear is assumed.
#[test]
fn a_bounce_in_a_pulse_leaves_the_gear_unknown() {
    let down_after = |bounces: bool| {
        let mut made = Made::engaged();
        made.speed = 60.0;
        made.until(2000);
        made.contacts.up = true;
        made.run(30);
        if bounces {
            made.lever = Lever::D;
        }
        made.run(20);
        made.lever = Lever::Gate;
        made.run(50);
        made.contacts.up = false;
        made.until(5000);
        made.pulse(Down, 100);
        made
    };
    assert!(down_after(true).measure(OVER).seen.is_none());
    down_after(false).seen(OVER, 4100.0 - rpm(2.21, 60.0));
}

/// On entering the gate the van takes second gear, or third where second turns faster than 4,400 rpm: 57.84 rpm per km/h
/// times 76.07 km/h. At 76 km/h read either may be; at 72 it is second, from which 3 at 30 km/h turns 1,146 rpm.
#[test]
fn a_gear_that_hangs_on_one_count_at_the_entry_is_not_known() {
    let up_after_entering_at = |kmh: f64| {
        let mut made = Made::van();
        made.speed = kmh;
        made.take_over();
        made.until(2000);
        made.speed = 30.0;
        made.until(4000);
        made.pulse(Up, 100);
        made
    };
    up_after_entering_at(72.0).seen(FLOOR, rpm(1.46, 30.0) - 1500.0);
    for kmh in [76.0, 76.5, 77.0] {
        assert_eq!(up_after_entering_at(kmh).measure(FLOOR).seen, None, "{kmh}");
    }
    // Third, for certain.
    up_after_entering_at(80.0).seen(FLOOR, rpm(1.08, 30.0) - 1500.0);
    // To the count: both neighbours of the speed read must tell the same gear.
    for (kmh, gear) in [(75.0, Some(2)), (76.0, None), (77.0, None), (78.0, Some(3))] {
        let mut made = Made::van();
        made.speed = kmh;
        made.take_over();
        assert_eq!(known(made), gear, "{kmh}");
    }
}

/// The speed read fell by 4 km/h with the last update: the next may show 73 km/h, or the gearbox may have taken 81.
#[test]
fn nor_one_that_hangs_on_one_update() {
    let mut made = Made::van();
    made.speed = 82.0;
    made.run(1000);
    made.speed = 78.0;
    made.run(50);
    made.lever = Lever::Gate;
    made.until(2000);
    made.speed = 30.0;
    made.until(4000);
    made.pulse(Up, 100);
    assert_eq!(made.measure(FLOOR).seen, None);
    // Rising by 3 km/h from one reading to the next, 73 km/h may be 76 by now, or 77 with the count beside it.
    let mut made = Made::van();
    made.speed = 70.0;
    made.until(400);
    made.speed = 73.0;
    made.until(450);
    made.lever = Lever::Gate;
    made.run(40);
    assert_eq!(known(made), None);
}

/// Engine speed over road speed of a gear is the spec's own, gear by gear; above the top gear there is none.
#[test]
fn engine_speed_over_road_speed_is_the_specs() {
    let spec = spec("van.toml");
    let seen = crate::rules::gear::GearSeen::new(&spec);
    for (gear, ratio) in (1..).zip([3.80, 2.21, 1.46, 1.08, 0.83, 0.72]) {
        assert!((seen.rpm_per_kmh(gear) - rpm(ratio, 1.0)).abs() < 1e-9, "gear {gear}");
    }
    assert_eq!(seen.rpm_per_kmh(7), 0.0);
}

/// On a shared wire a driver's tap within 30 ms of the box's own pulse may be that pulse's bounce: the gear is not known
/// then. A box with wires of its own sees it, and so does one on a shared wire 100 ms later; where no gear is read, what
/// became of it can't be known either.
#[test]
fn a_drivers_tap_in_the_bounce_of_an_own_pulse_leaves_the_gear_unknown() {
    let known_after = |tap: bool, wait_ms: u32| {
        let mut made = Made::engaged();
        made.spec.facts.tap_wiring = crate::spec::facts::TapWiring::Shared;
        made.until(2000);
        made.pulse(Up, 100);
        made.run(wait_ms);
        made.taps.up = tap;
        made.run(60);
        made.taps.up = false;
        made.until(4000);
        known(made)
    };
    assert_eq!(known_after(false, 10), Some(3));
    assert_eq!(known_after(true, 10), None);
    assert_eq!(known_after(true, 100), None);
}
