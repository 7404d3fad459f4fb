//! Hills.

use super::keyed;
use crate::drive::{Drive, Happening, Which};
use crate::make::draft::{Draft, held_grade_pct, lowest_gear, top_gear};
use crate::signal::Signal;
use crate::spec::Spec;

pub(super) fn crest_and_dip(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([50.0, 70.0, 90.0, 110.0]) {
        let mut draft = Draft::engaged(spec, turn).reach(kmh);
        // About 300 m each.
        let leg_ms = (300.0 * 3.6 / kmh * 10.0) as u32 * 100;
        for _ in 0..2 {
            for grade_pct in [6.0, 0.0, -6.0] {
                draft =
                    if turn % 2 == 0 { draft.hold(leg_ms, kmh) } else { draft.cruise(leg_ms, kmh) }.grade(grade_pct);
            }
        }
        drafts.push(draft);
    }
    keyed("crest-and-dip", drafts)
}

pub(super) fn long_descent(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for gear in lowest_gear(spec)..=top_gear(spec) {
        // Into the descent from just below the gear's light up line.
        let Some(kmh) = spec.map.up_kmh(gear, 0.0).map(|line| line - 3.0).or(Some(80.0)) else { continue };
        let draft = Draft::engaged(spec, gear.into()).reach(kmh.max(20.0));
        drafts.push(draft.pedal(120_000, 0.0).grade(-8.0).brake(5000, 20.0).grade(-8.0).pedal(8000, 40.0));
    }
    // Braking now and then, as one does.
    let braked = (0..5).fold(Draft::engaged(spec, 0).reach(60.0), |draft, _| {
        draft.pedal(12_000, 0.0).grade(-7.0).brake(3000, 20.0).grade(-7.0)
    });
    drafts.push(braked.pedal(6000, 30.0));
    keyed("long-descent", drafts)
}

pub(super) fn roll_back(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, grade_pct) in (0..).zip([12.0, 20.0, 30.0]) {
        let held = Draft::engaged(spec, turn).reach(15.0).stand(4000).grade(grade_pct);
        // Off the brake it rolls back, until the pedal catches it.
        drafts.push(held.clone().pedal(4000, 0.0).grade(grade_pct).pedal(8000, 70.0).grade(grade_pct).crossing());
        // The engine stalls on the hill: it rolls back fast, with the lever in the gate.
        let stalled = held.now(Happening::Engine(false)).pedal(6000, 0.0).grade(grade_pct).stand(3000);
        drafts.push(stalled.now(Happening::Engine(true)).stand(1500).pedal(8000, 50.0));
    }
    // A launch on 12 %, the grade of towing tests (SAE J2807): back to 8 km/h and caught, running and stalled.
    for (turn, stalls) in (0..).zip([false, true]) {
        let mut draft = Draft::engaged(spec, turn).reach(15.0).stand(4000).grade(12.0);
        if stalls {
            draft = draft.now(Happening::Engine(false));
        }
        let draft = draft.pedal(2300, 0.0).grade(12.0).stand(2500).grade(12.0);
        let draft = if stalls { draft.now(Happening::Engine(true)).stand(1500).grade(12.0) } else { draft };
        drafts.push(draft.pedal(9000, 100.0).grade(12.0));
    }
    // Stalls while driving.
    for (turn, kmh) in (0..).zip([25.0, 70.0]) {
        let draft = Draft::engaged(spec, turn).reach(kmh).now(Happening::Engine(false));
        drafts.push(draft.pedal(6000, 0.0).brake(3000, 10.0).now(Happening::Engine(true)).crossing());
    }
    // Stalled at rest while the speed read stands still: what is due by it finds the engine off.
    for (turn, kmh) in (0..).zip([50.0, 70.0]) {
        let frozen = Draft::engaged(spec, turn).reach(kmh).now(Happening::Frozen(Which::One(Signal::Speed), 14_000));
        let stalled = frozen.brake(6000, 40.0).now(Happening::Engine(false)).stand(2000);
        drafts.push(stalled.pedal(4000, 100.0).pedal(3000, 0.0).now(Happening::Engine(true)).stand(3000));
    }
    keyed("roll-back", drafts)
}

pub(super) fn uphill(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut turn = 0;
    for gear in lowest_gear(spec) + 1..=top_gear(spec) {
        // Slow for the gear: as low as the map lets it roll with the foot off.
        let Some(kmh) = spec.map.down_kmh(gear, 0.0) else { continue };
        // The last one loads the engine whatever the vehicle.
        let loads_pct = held_grade_pct(spec, gear, kmh + 4.0, 85.0).clamp(1.0, 14.0);
        for grade_pct in [4.0, 5.0, 6.0, loads_pct] {
            let draft = Draft::engaged(spec, turn).reach(kmh + 14.0).pedal(2000, 5.0).hold(2500, kmh + 4.0);
            // Cruise control shows no pedal; the driver's foot does.
            drafts.push(draft.clone().cruise(12_000, kmh + 4.0).grade(grade_pct).crossing());
            drafts.push(draft.hold(12_000, kmh + 3.0).grade(grade_pct).pedal(6000, 65.0).grade(grade_pct));
            turn += 1;
        }
        // Wheels slip first, and then it goes uphill.
        let spin = Happening::WheelSpin(400, 700);
        let draft = Draft::engaged(spec, turn).reach(kmh + 10.0).now(spin).hold(3000, kmh + 8.0);
        drafts.push(draft.brake(1000, 15.0).pedal(9000, 75.0).grade(9.0));
    }
    keyed("uphill", drafts)
}
