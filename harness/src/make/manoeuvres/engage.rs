//! Handing over to the box.

use super::keyed;
use crate::drive::{Condition, Drive, Happening, Which};
use crate::make::draft::{Draft, ceiling_kmh, tenths};
use crate::signal::{Direction, Lever, Range, Signal};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

pub(super) fn creep(spec: &Spec) -> Vec<Drive> {
    let ceiling = ceiling_kmh(spec);
    let mut drafts = Vec::new();
    let speeds = [0.0, 5.0, ceiling - 2.0, ceiling - 1.0, ceiling, ceiling + 1.0, ceiling + 2.0, ceiling + 20.0, 100.0];
    for speed_kmh in speeds {
        // Too fast at the edge, the box must wait or give up; slower later, still without a new edge.
        let draft = Draft::rolling(spec, speed_kmh);
        let draft = if speed_kmh > 0.0 { draft.hold(5000, speed_kmh) } else { draft.stand(5000) };
        let draft = draft.gate_at(1800).crossing();
        drafts.push(if speed_kmh > ceiling { draft.again() } else { draft });
    }
    for off_kmh in [-1.0, 0.0, 1.0, 3.0] {
        // The speed crosses the ceiling around the edge.
        let edge = Condition::SpeedAbove(tenths(ceiling + off_kmh));
        let rising = Draft::rolling(spec, (ceiling - 15.0).max(0.0)).hold(2000, (ceiling - 15.0).max(0.0));
        drafts.push(rising.gate_after(edge, 0).pedal(7000, 40.0).crossing().again());
        let edge = Condition::SpeedBelow(tenths(ceiling + off_kmh));
        let falling = Draft::rolling(spec, ceiling + 20.0).hold(2000, ceiling + 20.0);
        drafts.push(falling.gate_after(edge, 0).brake(3000, 15.0).hold(4000, ceiling * 0.75).crossing());
    }
    // In motion all the time: through walking pace upwards, and down from a motorway.
    let edge = Condition::SpeedAbove(50);
    drafts.push(Draft::at_rest(spec).stand(2500).gate_after(edge, 0).pedal(6000, 25.0).crossing());
    let edge = Condition::SpeedBelow(1000);
    let fast = Draft::rolling(spec, 110.0).hold(2500, 110.0).gate_after(edge, 0);
    drafts.push(fast.brake(2500, 20.0).hold(2000, 90.0).crossing().again());
    // The other way round: through walking pace down, and through 100 km/h upwards.
    let walking = Draft::rolling(spec, 12.0).hold(2500, 12.0).gate_after(Condition::SpeedBelow(50), 0);
    drafts.push(walking.brake(2500, 12.0).hold(3000, 10.0).crossing());
    let faster = Draft::rolling(spec, 95.0).hold(2500, 95.0).gate_after(Condition::SpeedAbove(1000), 0);
    drafts.push(faster.pedal(4000, 60.0).hold(2000, 105.0).crossing().again());
    // As fast as allowed and with the foot nearly off: the map's gear is not the one on entering.
    for (turn, pct) in (0..).zip([5.0, 12.0, 25.0]) {
        let draft = Draft::rolling(spec, ceiling).hold(2600, ceiling).gate_at(2200 + turn * 130);
        drafts.push(draft.pedal(4000, pct).again());
    }
    // Down a steep ramp through the ceiling: the first shift falls due just after engaging.
    for below_kmh in [2.0, 2.5, 3.0, 3.5, 4.0] {
        let edge = Condition::SpeedAbove(tenths(ceiling - below_kmh));
        let ramp = Draft::rolling(spec, (ceiling - 8.0).max(0.0)).hold(2500, (ceiling - 8.0).max(0.0));
        drafts.push(ramp.gate_after(edge, 0).pedal(3000, 20.0).grade(-35.0).crossing().again());
    }
    // The same at the second engagement.
    for below_kmh in [2.0, 2.5, 3.0, 3.5] {
        let edge = Condition::SpeedAbove(tenths(ceiling - below_kmh));
        let slow = (ceiling - 8.0).max(0.0);
        let ramp = Draft::rolling(spec, slow).hold(4500, slow).gate_at(1000).at(3000, Happening::Lever(Lever::D));
        drafts.push(ramp.gate_after(edge, 0).pedal(3000, 20.0).grade(-35.0).crossing().again());
    }
    // In the gate from far above the ceiling down to far below: an old edge is not a new one.
    let waiting = Draft::rolling(spec, 100.0).hold(3000, 100.0).gate_at(2000);
    drafts.push(waiting.reach((ceiling * 0.5).floor()).hold(5000, ceiling * 0.5).crossing().again());
    keyed("engage-and-creep", drafts)
}

pub(super) fn one_missing(spec: &Spec) -> Vec<Drive> {
    let low = (ceiling_kmh(spec) * 0.75).floor();
    let mut drafts = Vec::new();
    // Each comes at 1.5 s, before the edge at 2 s, and ends 0.6 s or 5 s after the edge.
    for end_ms in [2600, 7000] {
        let long_ms = end_ms - 500;
        let mut missing: Vec<(Happening, Option<Happening>)> = vec![
            (Happening::Lost(Which::One(Signal::Speed), long_ms + 1000), None),
            (Happening::Lost(Which::One(Signal::Pedal), long_ms + 1000), None),
            (Happening::Lost(Which::All, long_ms + 1000), None),
            (Happening::Negative(Which::One(Signal::Speed), long_ms + 1000), None),
            (Happening::Ignition(false), Some(Happening::Ignition(true))),
            (Happening::Engine(false), Some(Happening::Engine(true))),
        ];
        if spec.facts.signals.range {
            missing.push((Happening::Range(Range::Low), Some(Happening::Range(Range::High))));
            missing.push((Happening::Range(Range::Transit), Some(Happening::Range(Range::High))));
        }
        for (cause, cure) in missing {
            // Data have to be missing long enough to be old at the edge.
            let from_ms = if cure.is_none() { 500 } else { 1500 };
            let mut draft = Draft::rolling(spec, low).at(from_ms, cause);
            if let Some(cure) = cure {
                draft = draft.at(end_ms, cure);
            }
            drafts.push(draft.hold(end_ms + 1500, low).gate_at(2000).crossing().again());
        }
    }
    // No data at all since power-up: nothing read is not zero read.
    for speed_kmh in [0.0, 100.0] {
        let draft = Draft::rolling(spec, speed_kmh).at(0, Happening::Lost(Which::All, 6000));
        drafts.push(draft.hold(7000, speed_kmh).gate_at(2000).crossing());
    }
    // Into the gate by way of neutral, and out before anything could engage.
    let draft = Draft::rolling(spec, low).hold(6000, low).at(1500, Happening::Lever(Lever::N)).gate_at(2000);
    drafts.push(draft.crossing());
    let draft = Draft::rolling(spec, low).hold(6000, low).gate_at(2000).at(2150, Happening::Lever(Lever::D));
    drafts.push(draft.crossing());
    keyed("one-condition-missing", drafts)
}

/// Only where the box takes over by a button.
pub(super) fn button(spec: &Spec) -> Vec<Drive> {
    if spec.facts.take_over != TakeOver::Button {
        return Vec::new();
    }
    let ceiling = ceiling_kmh(spec);
    let slow = (ceiling * 0.75).floor();
    let press = Happening::Button;
    let gate = Happening::Lever(Lever::Gate);
    let rolling = |kmh: f64| Draft::rolling(spec, kmh).hold(5000, kmh);
    let mut drafts = vec![
        // In D; in D and then the lever; in the gate but too fast; in the gate without a press.
        rolling(slow).at(2000, press(300)).crossing().again(),
        rolling(slow).at(2000, press(300)).at(2600, gate).crossing().again(),
        rolling(ceiling + 1.0).at(1500, gate).at(2000, press(300)).crossing().again(),
        rolling(ceiling + 40.0).at(1500, gate).at(2000, press(300)).reach(slow).hold(3000, slow).crossing(),
        rolling(slow).at(1500, gate).crossing().again(),
        // Pressed for a bounce, held before the lever moves, held throughout.
        rolling(slow).at(1500, gate).at(2000, press(20)).crossing(),
        rolling(slow).at(1500, press(1500)).at(2000, gate).crossing(),
        rolling(slow).at(1500, gate).at(2000, press(10_000)).crossing().again(),
        // Again and again.
        (0..8).fold(rolling(slow).at(1500, gate), |draft, n| draft.at(2000 + n * 400, press(200))).crossing(),
    ];
    // While engaged: still, and inside a pulse.
    let engaged = Draft::engaged(spec, 0).reach(55.0).now(press(300));
    drafts.push(engaged.hold(1500, 55.0).crossing().again());
    let pulse = Condition::Closes(Direction::Up);
    drafts.push(Draft::engaged(spec, 1).after(pulse, 40, press(300)).pedal(9000, 50.0).crossing());
    // Out of the gate and back while engaged, and after a tap, with no press: where the box declares so, that arms it.
    for (turn, out_ms) in (2..).zip([20, 250, 500, 1500]) {
        let slowed = || Draft::engaged(spec, turn).reach(slow);
        let tapped = slowed().now(Happening::Tap(Direction::Up, 120)).hold(1500, slow);
        for draft in [slowed(), tapped] {
            let ms = draft.now_ms();
            let draft = draft.at(ms, Happening::Lever(Lever::D)).at(ms + out_ms, gate);
            drafts.push(draft.hold(out_ms + 2000, slow).crossing());
        }
    }
    keyed("button", drafts)
}
