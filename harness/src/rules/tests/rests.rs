//! Rows in which nothing happens are passed over; what is told of a recording must not hang on that.

use crate::closed_loop::ClosedLoop;
use crate::controller::Source;
use crate::controller::in_process::Builtin;
use crate::controller::reference::FAULTS;
use crate::make::random_drive;
use crate::rules::story::Story;
use crate::rules::tests::made::is_still;
use crate::selftest::spec_for;
use crate::spec::facts::{AfterEdge, OnCause, TakeOver};
use crate::spec::vehicle::{EntryGear, GateMeans};
use crate::spec::{Spec, load};
use crate::vehicle::STEP_MS;
use std::path::Path;

/// Drives of each spec.
const DRIVES: u32 = 240;

fn spec(name: &str) -> Spec {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("specs/{name}.toml"));
    load(&path).unwrap_or_else(|errors| panic!("{errors}"))
}

/// Box facts and gate of a spec, others with each number.
fn mixed(mut spec: Spec, number: u32) -> Spec {
    let bit = |at: u32| number >> at & 1 == 1;
    let (facts, gate) = (&mut spec.facts, &mut spec.vehicle.gearbox.gate);
    gate.means = if bit(0) { GateMeans::HeldGear } else { GateMeans::RangeLimit };
    (facts.signals.gear, facts.signals.engine_speed) = (bit(1), bit(2));
    facts.take_over = if bit(3) { TakeOver::Button } else { TakeOver::Lever };
    facts.lost_data = if bit(4) { OnCause::PausesMs(1000) } else { OnCause::Disengages };
    facts.driver_tap = if bit(5) { OnCause::PausesMs(1500) } else { OnCause::Disengages };
    facts.after_edge = if bit(6) { AfterEdge::WithinMs(1500) } else { AfterEdge::AnyTime };
    gate.entry = [EntryGear::Fixed(2), EntryGear::Current, EntryGear::OneBelow][number as usize % 3];
    spec
}

/// Boxes with each seeded fault and the reference itself, on three vehicles and boxes: from a box that a lever engages to
/// one with a button, shared wires, or no flag; and with facts mixed as no spec has them.
#[test]
fn the_story_is_the_same_where_each_row_is_looked_at_in_full() {
    let (mut passing, mut whole) = (Story::default(), Story::default());
    let (mut still, mut of) = (0, 0);
    for name in ["van", "hatch", "hauler"] {
        let plain = spec(name);
        for number in 0..DRIVES {
            let card = FAULTS.get(number as usize % (FAULTS.len() + 1));
            let spec = card.map_or_else(|| plain.clone(), |card| spec_for(&plain, card));
            let spec = if number < DRIVES / 3 { spec } else { mixed(spec, number) };
            let source = Builtin { fault: card.map(|card| card.fault) };
            let mut port = source.start(&spec).unwrap_or_else(|why| panic!("{why}"));
            let mut looped = ClosedLoop::new(&spec, STEP_MS);
            let recording = looped.run(&random_drive(&spec, 7, number, 60_000), port.as_mut());
            let told = recording.rows.windows(2).filter(|pair| pair[1].still);
            assert!(told.clone().all(|pair| is_still(&pair[0], &pair[1])), "{name}, drive {number}, {}", source.name());
            still += told.count();
            of += recording.rows.windows(2).filter(|pair| is_still(&pair[0], &pair[1])).count();
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
    assert!(still * 10 > of * 9, "{still} of {of} rows are known to stand still");
}
