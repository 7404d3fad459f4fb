//! Rows in which nothing happens are passed over; what is told of a recording must not hang on that.

use crate::closed_loop::ClosedLoop;
use crate::controller::Source;
use crate::controller::in_process::Builtin;
use crate::controller::reference::FAULTS;
use crate::make::random_drive;
use crate::rules::story::Story;
use crate::selftest::spec_for;
use crate::spec::{Spec, load};
use crate::vehicle::STEP_MS;
use std::path::Path;

/// Drives of each spec.
const DRIVES: u32 = 150;

fn spec(name: &str) -> Spec {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("specs/{name}.toml"));
    load(&path).unwrap_or_else(|errors| panic!("{errors}"))
}

/// Boxes with each seeded fault and the reference itself, on three vehicles and boxes: from a box that a lever engages to
/// one with a button, shared wires, or no flag.
#[test]
fn the_story_is_the_same_where_each_row_is_looked_at_in_full() {
    let (mut passing, mut whole) = (Story::default(), Story::default());
    for name in ["van", "hatch", "hauler"] {
        let plain = spec(name);
        for number in 0..DRIVES {
            let card = FAULTS.get(number as usize % (FAULTS.len() + 1));
            let spec = card.map_or_else(|| plain.clone(), |card| spec_for(&plain, card));
            let source = Builtin { fault: card.map(|card| card.fault) };
            let mut port = source.start(&spec).unwrap_or_else(|why| panic!("{why}"));
            let mut looped = ClosedLoop::new(&spec, STEP_MS);
            let recording = looped.run(&random_drive(&spec, 7, number, 60_000), port.as_mut());
            // With no flag and no announcement told, the story has to go by what the box does.
            let mut mute = recording.clone();
            mute.rows.iter_mut().for_each(|row| (row.engaged, row.announcement) = (None, None));
            for recording in [recording, &mute] {
                passing.tell(&spec, recording);
                whole.tell_rows(&spec, recording, false);
                assert_eq!(format!("{passing:?}"), format!("{whole:?}"), "{name}, drive {number}, {}", source.name());
            }
        }
    }
}
