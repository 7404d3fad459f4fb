//! Any drive, driven in closed loop with the built-in reference and judged by all rules, ends in a whole recording of
//! finite numbers and finite margins, and driven again it is the same to the last bit.

#![no_main]

use arbitrary::{Arbitrary, Unstructured};
use libfuzzer_sys::{fuzz_crossover, fuzz_mutator, fuzz_target};
use sprag::campaign::rig::Rig;
use sprag::controller::in_process::Builtin;
use sprag::drive::Drive;
use sprag::fuzz::Fuzz;
use sprag::make::Dice;
use sprag::outcome::Measure;
use sprag::recording::{Recording, Row};
use sprag::selftest::demo_spec;

thread_local! {
    // One rig for all inputs: what a drive leaves behind must not reach the next one either.
    static FUZZ: Fuzz = Fuzz::of(demo_spec().expect("it ships inside"), Builtin { fault: None }).expect("it starts");
}

/// One change in so many makes a drive that no campaign would: any numbers within bounds.
const WILD_EVERY: u32 = 8;

/// Bytes that a wild drive is made of.
const WILD_BYTES: usize = 400;

fn wild(number: u32) -> Option<Drive> {
    let mut dice = Dice::new("wild", 0, number);
    let bytes: Vec<u8> = (0..WILD_BYTES / 8).flat_map(|_| dice.bits().to_le_bytes()).collect();
    Drive::arbitrary(&mut Unstructured::new(&bytes)).ok()
}

/// The numbers of a row, bit for bit: -0 is not 0.
fn bits(row: &Row) -> [u64; 8] {
    let t = &row.truth;
    let numbers =
        [t.speed_kmh, t.accel_mps2, t.wheel_kmh, t.engine_rpm, t.load, t.pedal_pct, t.brake_mps2, t.grade_pct];
    numbers.map(f64::to_bits)
}

fn assert_plain(drive: &Drive, recording: &Recording, measures: &[Measure]) {
    assert_eq!(recording.silence, None, "the reference answers each tick");
    let ticks = drive.length_ms().div_ceil(recording.tick_ms);
    assert_eq!(recording.rows.len(), ticks as usize, "one row a tick");
    for row in &recording.rows {
        assert!(bits(row).iter().all(|&number| f64::from_bits(number).is_finite()), "{row:?}");
        assert!((-400.0..=400.0).contains(&row.truth.speed_kmh) && (0.0..=1.0).contains(&row.truth.load), "{row:?}");
        assert!(row.truth.gear >= 1 && row.truth.target_gear >= 1, "{row:?}");
        assert!(!(row.contacts.up && row.contacts.down), "{row:?}");
    }
    for measure in measures {
        for mark in measure.seen.iter().chain(&measure.truth) {
            assert!(mark.margin.is_finite() && mark.tolerance >= 0.0 && mark.tolerance.is_finite(), "{mark:?}");
            // The last tick may reach beyond a drive that doesn't end on the grid.
            assert!(mark.at_ms <= drive.length_ms().next_multiple_of(recording.tick_ms), "{mark:?}");
        }
    }
}

fn twice_the_same(rig: &mut Rig<'static>, drive: &Drive) {
    let measures = rig.drive(drive).to_vec();
    let first = rig.recording().clone();
    assert_plain(drive, &first, &measures);
    assert_eq!(rig.drive(drive), measures);
    let again = rig.recording();
    assert_eq!(again.rows.len(), first.rows.len());
    assert_eq!(again.delivered, first.delivered);
    for (row, other) in first.rows.iter().zip(&again.rows) {
        assert!(bits(row) == bits(other) && row == other, "at {} ms: {row:?} and {other:?}", row.t_ms);
    }
}

fuzz_target!(|input: &[u8]| FUZZ.with(|fuzz| fuzz.with_rig(input, twice_the_same)));

fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, number: u32| {
    FUZZ.with(|fuzz| {
        let wild = wild(number).filter(|_| number.is_multiple_of(WILD_EVERY));
        let put = wild.and_then(|drive| fuzz.put(drive, data, most));
        put.unwrap_or_else(|| fuzz.change(data, size, most, number))
    })
});

fuzz_crossover!(|first: &[u8], second: &[u8], into: &mut [u8], number: u32| {
    FUZZ.with(|fuzz| fuzz.cross(first, second, into, number))
});
