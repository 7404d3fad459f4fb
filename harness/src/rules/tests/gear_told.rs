//! What tells a box its gear, and what takes that away again: gear signals, bounces of the lever, standing still, a
//! start.

use super::known_gear::told;
use super::made::Made;
use crate::rules::Judge;
use crate::rules::story::Command;
use crate::signal::Direction::{Down, Up};
use crate::signal::Lever;
use crate::spec::vehicle::{EntryGear, GateMeans};

/// The command that ends the recording, a down pulse.
fn last(mut made: Made) -> Command {
    made.pulse(Down, 100);
    let mut judge = Judge::default();
    judge.judge(&made.spec, &made.recorded(), &mut Vec::new());
    *judge.story().commands.last().expect("a command")
}

fn known(made: Made) -> Option<u8> {
    last(made).gear_seen
}

/// The van has six gears: 0, as neutral is told, 7 and 255 are none, and what was told before stands.
#[test]
fn a_gear_that_the_gearbox_does_not_have_tells_nothing() {
    for (reads, expected) in [(0.0, 4), (7.0, 4), (255.0, 4), (1.0, 1), (6.0, 6)] {
        let mut made = told(GateMeans::HeldGear, 4);
        made.until(3000);
        made.gear_read = Some(reads);
        made.until(5000);
        assert_eq!(known(made), Some(expected), "{reads}");
    }
}

/// A gear that has arrived since the last command and is the one that it should have led to confirms that command.
/// Second gear; the command comes at 2 s, and the next at 3 s.
#[test]
fn a_gear_read_since_a_command_confirms_it() {
    let confirmed = |pulse_ms: u32, reads: Option<f64>| {
        let mut made = told(GateMeans::HeldGear, 2);
        made.until(2000);
        made.contacts.up = true;
        made.run(10);
        made.gear_read = reads;
        made.run(pulse_ms - 10);
        made.contacts.up = false;
        made.until(2990);
        last(made).gear_confirmed
    };
    assert!(confirmed(100, Some(3.0)));
    assert!(!confirmed(100, Some(2.0)), "it tells the gear of before");
    // 20 ms are no tap: the gear stays second, and is told once more or, last, in the very tick of the command.
    assert!(confirmed(20, Some(2.0)));
    assert!(!confirmed(20, None), "nothing has arrived since");
}

/// Under a limit a gear below it hides it; read at the limit again, it tells it again.
#[test]
fn a_limit_is_known_again_once_it_is_read() {
    let last_reads = |gear: f64| {
        let mut made = told(GateMeans::RangeLimit, 3);
        made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(3);
        made.until(2000);
        made.gear_read = Some(2.0);
        made.until(3000);
        made.gear_read = Some(gear);
        known(made)
    };
    assert_eq!(last_reads(2.0), None);
    assert_eq!(last_reads(3.0), Some(3));
}

/// Engaged in second and up into third, then the lever is out for so long. Shorter than 30 ms is bounce, and the gear
/// stays. Up to 100 ms a box may not have seen it, and nobody can know what it counts. Beyond that the gate takes
/// second again.
#[test]
fn what_a_lever_that_is_out_for_a_moment_leaves_of_the_gear() {
    let after_out_for = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.shift(Up);
        made.until(4000);
        made.lever = Lever::D;
        made.run(ms);
        made.lever = Lever::Gate;
        made.until(6000);
        known(made)
    };
    for (ms, expected) in [(0, Some(3)), (10, Some(3)), (20, Some(3)), (30, None), (100, None), (110, Some(2))] {
        assert_eq!(after_out_for(ms), expected, "{ms}");
    }
}

/// A box that starts afresh has forgotten what it counted, and so has one that was without supply: the lever stands in
/// the gate, and no entry tells the gear.
#[test]
fn a_start_forgets_the_gear() {
    let after = |restart: bool, off_ms: u32| {
        let mut made = Made::engaged();
        made.until(3000);
        made.powered = false;
        made.run(off_ms);
        (made.powered, made.restart) = (true, restart);
        made.until(5000);
        known(made)
    };
    assert_eq!(after(false, 0), Some(2));
    assert_eq!(after(true, 0), None);
    assert_eq!(after(true, 500), None);
}

/// From fourth the van comes to 3 km/h: from 9 km/h within 100 ms, 6 km/h less, brakes can do that, 40 km/h/s and two
/// counts; from 10 km/h they can't, and the wheels may be locked.
#[test]
fn wheels_lock_where_the_speed_falls_faster_than_brakes_can() {
    let rests = |from_kmh: f64, for_ms: u32| {
        let mut made = Made::van();
        made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(4);
        made.speed = from_kmh;
        made.take_over();
        made.until(2000);
        made.speed = 3.0;
        made.run(for_ms);
        known(made)
    };
    assert_eq!(rests(9.0, 2990), None);
    assert_eq!(rests(9.0, 3000), Some(2));
    assert_eq!(rests(10.0, 3000), None);
    assert_eq!(rests(10.0, 9990), None);
    assert_eq!(rests(10.0, 10_000), Some(2));
}

/// Where no gear is read, nothing tells what became of a driver's tap that was held as the lever came, not even
/// standing still for long.
#[test]
fn standing_does_not_tell_what_became_of_a_tap_on_entry() {
    let stands = |tap: bool| {
        let mut made = Made::van();
        made.speed = 3.0;
        made.until(400);
        made.taps.down = tap;
        made.until(500);
        made.lever = Lever::Gate;
        made.run(50);
        made.taps.down = false;
        made.until(15_000);
        known(made)
    };
    assert_eq!(stands(false), Some(2));
    assert_eq!(stands(true), None);
}

/// A gate that keeps the gear, entered at 500 ms in third: until the first tap a reading of another gear tells the end of
/// a shift. Where the gate limits the gear, only a higher one tells the limit: below it the gearbox may have gone down by
/// itself, or it was there as the lever came.
#[test]
fn a_reading_after_the_lever_tells_what_the_gate_kept() {
    let reads = |means: GateMeans, entry: EntryGear, gear: f64| {
        let mut made = told(means, 3);
        made.spec.vehicle.gearbox.gate.entry = entry;
        made.gear_read = Some(gear);
        made.until(1200);
        known(made)
    };
    let current = EntryGear::Current;
    assert_eq!(reads(GateMeans::HeldGear, current, 4.0), Some(4));
    assert_eq!(reads(GateMeans::HeldGear, current, 2.0), Some(2));
    assert_eq!(reads(GateMeans::HeldGear, current, 3.0), Some(3));
    assert_eq!(reads(GateMeans::RangeLimit, current, 4.0), Some(4));
    assert_eq!(reads(GateMeans::RangeLimit, current, 2.0), None);
    assert_eq!(reads(GateMeans::HeldGear, EntryGear::Fixed(3), 4.0), Some(3), "fixed is fixed");
    assert_eq!(reads(GateMeans::RangeLimit, EntryGear::Fixed(3), 2.0), Some(3), "below a fixed limit");
    assert_eq!(reads(GateMeans::HeldGear, EntryGear::OneBelow, 3.0), Some(2));
    // One below fourth is third: nobody knows which of the two readings was the gear of then.
    assert_eq!(reads(GateMeans::RangeLimit, EntryGear::OneBelow, 3.0), Some(2));
    assert_eq!(reads(GateMeans::RangeLimit, EntryGear::OneBelow, 4.0), None);
    for means in [GateMeans::HeldGear, GateMeans::RangeLimit] {
        assert_eq!(reads(means, EntryGear::OneBelow, 2.0), Some(2));
        assert_eq!(reads(means, EntryGear::OneBelow, 1.0), None, "second would be one below third");
    }
    // After a tap it may be the tap's own shift that is read.
    let mut made = told(GateMeans::HeldGear, 3);
    made.spec.vehicle.gearbox.gate.entry = current;
    made.until(1200);
    made.pulse(Up, 100);
    made.gear_read = Some(2.0);
    made.until(1700);
    assert_eq!(known(made), Some(4));
}
