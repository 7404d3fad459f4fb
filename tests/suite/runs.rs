//! Whole runs for tests: shipped specs, drives written step by step, built-in boxes.

use sprag::closed_loop::ClosedLoop;
use sprag::controller::Source;
use sprag::controller::in_process::Builtin;
use sprag::drive::{Demand, Drive, Happening, Start, Step};
use sprag::outcome::Measure;
use sprag::recording::{Recording, Row};
use sprag::rules::{self, Judge};
use sprag::signal::{Direction, Lever};
use sprag::spec::Spec;
use sprag::vehicle::STEP_MS;
pub use sprag_tests::recorded::{at, step};
use std::path::{Path, PathBuf};

/// A file below `specs/`.
pub fn shipped(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../specs").join(file)
}

/// A shipped spec.
pub fn spec(name: &str) -> Spec {
    sprag::spec::load(&shipped(&format!("{name}.toml"))).unwrap_or_else(|e| panic!("{e}"))
}

/// At rest on the brake for 3 s, with the lever into the gate after half of it.
pub fn engaged_at_rest(then: &[Step]) -> Drive {
    let mut steps = vec![Step { brake: 150, ..step(3000, Demand::Pedal(0)) }];
    steps.extend_from_slice(then);
    Drive { start: Start::default(), steps, events: vec![at(1500, Happening::Lever(Lever::Gate))] }
}

/// Runs a built-in box at the usual vehicle step.
pub fn run(spec: &Spec, name: &str, drive: &Drive) -> Recording {
    run_at(spec, name, drive, STEP_MS)
}

/// Runs a built-in box at a vehicle step.
pub fn run_at(spec: &Spec, name: &str, drive: &Drive, step_ms: f64) -> Recording {
    let mut port = Builtin::named(name).unwrap().start(spec).unwrap();
    let recording = ClosedLoop::new(spec, step_ms).run(drive, port.as_mut()).clone();
    assert_eq!(recording.silence, None);
    recording
}

/// What a rule measured.
pub fn measure(spec: &Spec, recording: &Recording, rule: &str) -> Measure {
    let mut measures = Vec::new();
    Judge::default().judge(spec, recording, &mut measures);
    measures[rules::find(rule).unwrap_or_else(|| panic!("there is no rule \"{rule}\""))]
}

/// The first row at or after a time.
pub fn row(recording: &Recording, t_ms: u32) -> &Row {
    recording.rows.iter().find(|row| row.t_ms >= t_ms).unwrap()
}

/// Contact closings: when, which way.
pub fn closings(recording: &Recording) -> Vec<(u32, Direction)> {
    let mut found = Vec::new();
    for pair in recording.rows.windows(2) {
        for (was, is, direction) in [
            (pair[0].contacts.up, pair[1].contacts.up, Direction::Up),
            (pair[0].contacts.down, pair[1].contacts.down, Direction::Down),
        ] {
            if is && !was {
                found.push((pair[1].t_ms, direction));
            }
        }
    }
    found
}
