//! The gearbox doesn't do what it is told.

use super::keyed;
use crate::drive::{Condition, Drive, Happening};
use crate::make::draft::{Draft, lowest_gear, top_gear};
use crate::signal::Direction;
use crate::spec::Spec;

pub(super) fn misbehaves(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let (lowest, top) = (lowest_gear(spec), top_gear(spec));
    for (turn, taps) in (0..).zip([1, 2, 3, 20]) {
        // From the first tap on, and later: on the way up, on the way down, and for a kick.
        let refuse = Happening::Refuse(taps);
        drafts.push(Draft::engaged(spec, turn).now(refuse).pedal(15_000, 45.0).brake(5000, 20.0).crossing());
        let fast = Draft::engaged(spec, turn + 1).reach(85.0).now(refuse);
        drafts.push(fast.clone().brake(8000, 25.0).stand(2000).pedal(6000, 50.0));
        drafts.push(fast.crossing());
    }
    for (turn, slow_ms) in (0..).zip([300, 700, 1500, 3000]) {
        let draft = Draft::engaged(spec, turn).now(Happening::SlowShifts(slow_ms));
        drafts.push(draft.pedal(15_000, 60.0).brake(4000, 30.0).crossing());
    }
    let mut turn = 0;
    for gear in lowest..=top {
        for to in [gear.saturating_sub(1).max(1), (gear + 1).min(top)] {
            if to != gear {
                // While nothing goes on.
                let kmh = spec.map.up_kmh(gear, 20.0).map_or(100.0, |line| line - 4.0).max(15.0);
                let draft = Draft::engaged(spec, turn).reach(kmh).hold(2500, kmh).now(Happening::SelfShift(to));
                drafts.push(draft.hold(4000, kmh).crossing());
                turn += 1;
            }
        }
    }
    // While the box taps.
    let pulse = Condition::Closes(Direction::Up);
    for to in [lowest, (lowest + 2).min(top)] {
        let draft = Draft::engaged(spec, turn).after(pulse, 50, Happening::SelfShift(to));
        drafts.push(draft.pedal(10_000, 50.0).crossing());
    }
    keyed("gearbox-misbehaves", drafts)
}
