//! Pulling away and kicking down.

use super::keyed;
use crate::drive::Drive;
use crate::make::draft::{Draft, highest_line_kmh, lowest_gear, top_gear};
use crate::spec::Spec;

pub(super) fn light_pedal(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, pedal_pct) in (0..).zip([10.0, 15.0, 20.0, 25.0, 35.0]) {
        drafts.push(Draft::engaged(spec, turn).pedal(45_000, pedal_pct).brake(6000, 15.0));
        // Foot off just before a line: the line of the lifted pedal is passed at once.
        drafts.push(Draft::engaged(spec, turn).pedal(7000, pedal_pct + 20.0).pedal(8000, 0.0).pedal(15_000, pedal_pct));
    }
    // Uphill just below each line of the closed pedal, and the foot comes off.
    for gear in lowest_gear(spec)..top_gear(spec) {
        let Some(kmh) = spec.map.up_kmh(gear, 0.0).map(|line| line - 2.0) else { continue };
        let draft = Draft::engaged(spec, gear.into()).reach(kmh).hold(5000, kmh).grade(4.0);
        drafts.push(draft.pedal(2000, 0.0).grade(-2.0).pedal(3000, 40.0).pedal(3000, 0.0).grade(4.0));
    }
    drafts.push(Draft::engaged(spec, 2).pedal(45_000, 25.0).grade(3.0));
    drafts.push(Draft::engaged(spec, 0).pedal_to(30_000, 60.0).pedal_to(10_000, 0.0));
    keyed("light-pedal", drafts)
}

pub(super) fn full_pedal(spec: &Spec) -> Vec<Drive> {
    let top = highest_line_kmh(spec) + 10.0;
    let drafts = vec![
        Draft::engaged(spec, 0).reach(top).pedal(20_000, 100.0).pedal(10_000, 0.0),
        Draft::engaged(spec, 1).pedal(60_000, 100.0).brake(8000, 60.0),
        Draft::engaged(spec, 2).pedal(60_000, 80.0).brake(8000, 30.0),
        Draft::engaged(spec, 0).pedal(60_000, 100.0).grade(-6.0).brake(10_000, 40.0),
        Draft::engaged(spec, 1).pedal(60_000, 100.0).grade(6.0).pedal(10_000, 0.0),
    ];
    keyed("full-pedal", drafts)
}

/// Speeds in steps of 10 km/h from 30 up to the highest line, or to 140 km/h.
fn ladder_kmh(spec: &Spec) -> impl Iterator<Item = (u32, f64)> {
    let highest = highest_line_kmh(spec);
    (0..).zip((3..).map(|tens: u32| f64::from(tens) * 10.0).take_while(move |&kmh| kmh <= highest.min(140.0)))
}

pub(super) fn kickdown_ladder(spec: &Spec) -> Vec<Drive> {
    let rung = |(turn, kmh): (u32, f64)| {
        let draft = Draft::engaged(spec, turn).reach(kmh).hold(4000, kmh);
        let stab_pct = [88.0, 90.0, 92.0, 100.0][turn as usize % 4];
        draft.pedal(3000, stab_pct).hold(5000, kmh).pedal(2500, 100.0).pedal(4000, 0.0)
    };
    keyed("kickdown-ladder", ladder_kmh(spec).map(rung).collect())
}

pub(super) fn two_step_kick(spec: &Spec) -> Vec<Drive> {
    // The first step down by a braked, released pedal; the second by a kick before the first is over.
    let mut drafts = Vec::new();
    for (turn, kmh) in ladder_kmh(spec).step_by(2) {
        for gap_ms in [300, 900] {
            let draft = Draft::engaged(spec, turn).reach(kmh).pedal(1500, 0.0).brake(1500, 15.0);
            drafts.push(draft.pedal(gap_ms, 55.0).pedal(3500, 100.0).pedal(3000, 10.0));
        }
    }
    keyed("two-step-kick", drafts)
}

pub(super) fn stab_and_lift(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([40.0, 60.0, 80.0, 110.0]) {
        for half_ms in [500, 1000] {
            let start = Draft::engaged(spec, turn).reach(kmh);
            let stabs = (0..10).fold(start, |draft, _| draft.pedal(half_ms, 100.0).pedal(half_ms, 0.0));
            // Brake and pedal together: the only way to meet a line twice within a second or two.
            drafts.push(stabs.brake(1500, 30.0).pedal(1500, 100.0).brake(1500, 30.0).pedal(3000, 60.0));
        }
    }
    keyed("stab-and-lift", drafts)
}

/// The foot twitches, speed after speed, too little to ask for another gear.
pub(super) fn unsteady_foot(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([60.0, 75.0, 90.0, 105.0]) {
        let start = Draft::engaged(spec, turn).reach(kmh).hold(4000, kmh);
        let twitches = (0..12).fold(start, |draft, _| draft.pedal(2500, 12.0).pedal(2500, 20.0));
        drafts.push(twitches.brake(3000, 20.0));
    }
    keyed("unsteady-foot", drafts)
}
