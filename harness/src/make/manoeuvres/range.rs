//! The transfer case.

use super::keyed;
use crate::drive::{Condition, Drive, Happening};
use crate::make::draft::{Draft, ceiling_kmh, lowest_gear};
use crate::signal::{Direction, Range};
use crate::spec::Spec;

pub(super) fn low_range(spec: &Spec) -> Vec<Drive> {
    let to = Happening::Range;
    let mut drafts = Vec::new();
    // At rest and moving: by way of transit to low, later back to high; then a new take-over.
    for (turn, kmh) in (0..).zip([0.0, 20.0, 55.0]) {
        let draft = Draft::engaged(spec, turn);
        let draft = if kmh > 0.0 { draft.reach(kmh) } else { draft.stand(1000) };
        let ms = draft.now_ms();
        let draft = draft.at(ms, to(Range::Transit)).at(ms + 700, to(Range::Low));
        let draft = draft.pedal(5000, 45.0).brake(2000, 10.0);
        drafts.push(draft.now(to(Range::High)).crossing().again());
    }
    for (first, out_ms) in [(Range::Low, 50), (Range::Transit, 50), (Range::Low, 300), (Range::Transit, 2000)] {
        // A glitch, still and inside a pulse.
        let draft = Draft::engaged(spec, out_ms).reach(45.0);
        let ms = draft.now_ms();
        drafts.push(draft.at(ms, to(first)).at(ms + out_ms, to(Range::High)).hold(2500, 45.0).crossing());
        let pulse = Condition::Closes(Direction::Up);
        let draft = Draft::engaged(spec, out_ms + 1).after(pulse, 40, to(first));
        drafts.push(draft.after(pulse, 40 + out_ms, to(Range::High)).pedal(9000, 50.0).crossing());
    }
    for condition in [Condition::Closes(Direction::Down), Condition::ShiftBegins, Condition::Opens(Direction::Up)] {
        let draft = Draft::engaged(spec, 1).after(condition, 30, to(Range::Low));
        drafts.push(draft.pedal(8000, 50.0).brake(3500, 20.0).crossing());
    }
    // In low from the start; low in the very tick of the edge, and just before the box would engage.
    let slow = (ceiling_kmh(spec) * 0.4).floor();
    let mut low = Draft::rolling(spec, slow).hold(4000, slow).gate_at(1800);
    low.drive.start.range = Range::Low;
    drafts.push(low.crossing());
    for at_ms in [1800, 1900, 2010, 2100] {
        let draft = Draft::rolling(spec, slow).hold(4000, slow).gate_at(1800).at(at_ms, to(Range::Low));
        drafts.push(draft.crossing());
    }
    // The driver hands over while the range is still in between, rolling down a steep hill towards the first up line: high
    // again soon after, still below the ceiling when the box could engage at once, and a shift due within a second.
    let line_kmh = spec.map.up_kmh(lowest_gear(spec), 0.0).unwrap_or(0.0);
    for (high_ms, below_kmh) in [(200, 3.5), (250, 4.0), (300, 4.5), (350, 5.0)] {
        let kmh = (line_kmh.min(ceiling_kmh(spec)) - below_kmh).max(0.0);
        let draft = Draft::rolling(spec, kmh).hold(1800, kmh).pedal(5000, 0.0).grade(-30.0).gate_at(1800);
        let mut draft = draft.at(1800 + high_ms, to(Range::High));
        draft.drive.start.range = Range::Transit;
        drafts.push(draft.crossing());
    }
    keyed("low-range", drafts)
}
