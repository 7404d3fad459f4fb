//! Any drive, driven in closed loop with the built-in reference and judged by all rules, ends in a whole recording of
//! finite numbers, and driven again it is the same to the last bit.
//!
//! An input is the text of a drive file, or else bytes that make a drive.

#![no_main]

use arbitrary::{Arbitrary, Unstructured};
use libfuzzer_sys::fuzz_target;
use sprag::campaign::rig::Rig;
use sprag::controller::named::named;
use sprag::drive::Drive;
use sprag::drive_file::DriveFile;
use sprag::outcome::Measure;
use sprag::recording::{Recording, Row};
use sprag::spec::Spec;
use sprag::vehicle::STEP_MS;
use std::cell::RefCell;

/// Longer drives hold nothing that a short one can't, ms.
const LONGEST_MS: u32 = 30_000;

fn spec() -> Spec {
    let mut open = |file: &str| match file.rsplit('/').next() {
        Some("van.toml") => Ok(include_str!("../../specs/vehicles/van.toml").to_owned()),
        Some("van.csv") => Ok(include_str!("../../specs/maps/van.csv").to_owned()),
        _ => Err(format!("{file}: no such file")),
    };
    sprag::spec::parse(include_str!("../../specs/van.toml"), "van.toml", &mut open).expect("the demo's spec")
}

/// One rig for all inputs: what a drive leaves behind must not reach the next one either.
fn rig() -> Rig<'static> {
    let spec: &Spec = Box::leak(Box::new(spec()));
    let source = Box::leak(named("builtin:reference", None).expect("the reference"));
    Rig::new(spec, source, STEP_MS).expect("it starts")
}

fn drive(bytes: &[u8]) -> Option<Drive> {
    let text = std::str::from_utf8(bytes).ok().and_then(|text| DriveFile::parse(text, "input").ok());
    text.map(|file| file.drive).or_else(|| Drive::arbitrary(&mut Unstructured::new(bytes)).ok())
}

/// All numbers of a row, bit for bit; equality of floats would let a NaN differ from itself.
fn bits(row: &Row) -> ([u64; 8], String) {
    let t = &row.truth;
    let numbers = [
        t.speed_kmh,
        t.accel_mps2,
        t.wheel_kmh,
        t.engine_rpm,
        t.load,
        t.pedal_pct,
        t.brake_mps2,
        t.grade_pct,
    ];
    (numbers.map(f64::to_bits), format!("{row:?}"))
}

fn assert_plain(drive: &Drive, recording: &Recording, measures: &[Measure]) {
    assert_eq!(recording.silence, None, "the reference answers each tick");
    let ticks = drive.length_ms().div_ceil(recording.tick_ms);
    assert_eq!(recording.rows.len(), ticks as usize, "one row a tick");
    for row in &recording.rows {
        assert!(bits(row).0.iter().all(|&number| f64::from_bits(number).is_finite()), "{row:?}");
        assert!((-400.0..=400.0).contains(&row.truth.speed_kmh) && (0.0..=1.0).contains(&row.truth.load), "{row:?}");
        assert!(row.truth.gear >= 1 && row.truth.target_gear >= 1, "{row:?}");
        assert!(!(row.contacts.up && row.contacts.down), "{row:?}");
    }
    for measure in measures {
        for mark in measure.seen.iter().chain(&measure.truth) {
            assert!(mark.margin.is_finite() && mark.tolerance >= 0.0 && mark.tolerance.is_finite(), "{mark:?}");
            assert!(mark.at_ms <= drive.length_ms(), "{mark:?}");
        }
    }
}

fuzz_target!(|bytes: &[u8]| {
    thread_local!(static RIG: RefCell<Rig<'static>> = RefCell::new(rig()));
    let Some(drive) = drive(bytes).filter(|drive| drive.length_ms() <= LONGEST_MS) else { return };
    RIG.with_borrow_mut(|rig| {
        let measures = rig.drive(&drive).to_vec();
        let first = rig.recording().clone();
        assert_plain(&drive, &first, &measures);
        assert_eq!(rig.drive(&drive), measures);
        let again = rig.recording();
        assert_eq!(again.rows.len(), first.rows.len());
        assert_eq!(again.delivered, first.delivered);
        for (row, other) in first.rows.iter().zip(&again.rows) {
            assert_eq!(bits(row), bits(other), "at {} ms", row.t_ms);
        }
    });
});
