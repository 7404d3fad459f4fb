//! The diagnostic link fails.

use super::keyed;
use crate::drive::{Beyond, Condition, Drive, Happening, Which};
use crate::make::DAMAGES;
use crate::make::draft::{Draft, ceiling_kmh, lowest_gear, tenths};
use crate::signal::{Direction, Signal};
use crate::spec::Spec;

/// The polled signals, one by one.
fn polled(spec: &Spec) -> Vec<Which> {
    let mut signals = vec![Which::One(Signal::Speed), Which::One(Signal::Pedal)];
    if spec.facts.signals.engine_speed {
        signals.push(Which::One(Signal::EngineSpeed));
    }
    if spec.facts.signals.gear {
        signals.push(Which::One(Signal::Gear));
    }
    signals
}

pub(super) fn loss(spec: &Spec) -> Vec<Drive> {
    let mut signals = polled(spec);
    signals.push(Which::All);
    let mut drafts = Vec::new();
    let mut turn = 0;
    for &which in &signals {
        for long_ms in [300, 900, 1500, 3000] {
            let lost = Happening::Lost(which, long_ms);
            // While cruising, with the map crossed as soon as the data have gone.
            let cruising = Draft::engaged(spec, turn).reach(60.0);
            let from_ms = cruising.now_ms() - 200;
            let cruising = cruising.at(from_ms, lost).crossing();
            drafts.push(if long_ms == 1500 { cruising.again() } else { cruising });
            // During a shift.
            if long_ms != 900 {
                let shifting = Draft::engaged(spec, turn + 1).after(Condition::Closes(Direction::Up), 20, lost);
                drafts.push(shifting.pedal(8000, 50.0).crossing());
            }
            turn += 1;
        }
        // Before engaging.
        let slow = (ceiling_kmh(spec) * 0.75).floor();
        for from_ms in [900, 1950] {
            let draft = Draft::rolling(spec, slow).hold(5500, slow).gate_at(2000);
            drafts.push(draft.at(from_ms, Happening::Lost(which, 2500)).crossing());
        }
    }
    // A shift that is still running when the data are lost, also for a box that lets go early.
    for which in signals {
        let slow = Draft::engaged(spec, turn).at(1000, Happening::SlowShifts(900));
        let slow = slow.after(Condition::Closes(Direction::Up), 20, Happening::Lost(which, 3000));
        drafts.push(slow.pedal(8000, 50.0).crossing());
        turn += 1;
    }
    // Nothing has been read yet: a value that stands for nothing must not pass for one.
    let unread = Draft::rolling(spec, 100.0).hold(4000, 100.0).gate_at(230).at(0, Happening::Lost(Which::All, 2500));
    drafts.push(unread.crossing());
    // No longer fresh but not yet lost, and just then a shift falls due: by the pedal, and by the speed.
    for (kmh, from_pct, to_pct) in [(55.0, 15.0, 100.0), (75.0, 80.0, 0.0)] {
        for early_ms in [550, 700] {
            let draft = Draft::engaged(spec, turn).reach(kmh).pedal(1500, from_pct);
            let from_ms = draft.now_ms() - early_ms;
            let lost = Happening::Lost(Which::One(Signal::Speed), 980);
            drafts.push(draft.at(from_ms, lost).pedal(2500, to_pct).crossing());
            turn += 1;
        }
    }
    for pct in [40.0, 100.0] {
        let Some(line_kmh) = spec.map.up_kmh(lowest_gear(spec), pct) else { continue };
        for early_kmh in [4.0, 6.0, 8.0] {
            let near = Condition::SpeedAbove(tenths((line_kmh - early_kmh).max(1.0)));
            let lost = Happening::Lost(Which::One(Signal::Pedal), 980);
            drafts.push(Draft::engaged(spec, turn).after(near, 0, lost).pedal(9000, pct).crossing());
            turn += 1;
        }
    }
    // The foot goes down while the pedal isn't read, and the line of the pedal before is crossed a second after.
    for early_kmh in [6.0, 8.0, 10.0, 12.0] {
        let Some(line_kmh) = spec.map.up_kmh(lowest_gear(spec), 12.0) else { continue };
        let kmh = (line_kmh - early_kmh).max(5.0);
        let steady = Draft::engaged(spec, turn).reach(kmh).hold(5000, kmh);
        let unread = steady.now(Happening::Lost(Which::One(Signal::Pedal), 600));
        drafts.push(unread.pedal(4000, 70.0).crossing());
        turn += 1;
    }
    keyed("link-loss", drafts)
}

pub(super) fn disorder(spec: &Spec) -> Vec<Drive> {
    let mut faults = vec![
        Happening::SecondSpeed(-200, 4000),
        Happening::SecondSpeed(250, 4000),
        Happening::SecondSpeed(-20, 4000),
        Happening::Delayed(Which::All, 300, 5000),
        Happening::Delayed(Which::All, 1500, 5000),
        Happening::Duplicated(Which::All, 6000),
        Happening::SecondSpeed(30, 8000),
        Happening::Negative(Which::All, 3000),
    ];
    for which in polled(spec) {
        faults.extend([
            Happening::Delayed(which, 150, 6000),
            Happening::Delayed(which, 800, 4000),
            Happening::Negative(which, 400),
            Happening::Negative(which, 2500),
            Happening::Garbled(which, Beyond::Above, 950),
            Happening::Garbled(which, Beyond::Below, 950),
            Happening::Garbled(which, Beyond::Above, 3000),
            Happening::Duplicated(which, 6000),
        ]);
    }
    let mut drafts = Vec::new();
    for (turn, fault) in (0..).zip(faults) {
        let pulling = Draft::engaged(spec, turn).now(fault);
        drafts.push(pulling.pedal(8000, 45.0).crossing());
        let cruising = Draft::engaged(spec, turn + 1).reach(75.0).now(fault);
        drafts.push(cruising.hold(1500, 75.0).crossing());
    }
    // Before engaging: what the answers say is no number.
    let fast = Draft::rolling(spec, 100.0).hold(5000, 100.0).gate_at(2000);
    let slow = (ceiling_kmh(spec) * 0.75).floor();
    let slow = Draft::rolling(spec, slow).hold(5000, slow).gate_at(2000);
    for which in [Which::One(Signal::Speed), Which::One(Signal::Pedal), Which::All] {
        for what in [Happening::Negative(which, 4900), Happening::Garbled(which, Beyond::Below, 4900)] {
            drafts.push(fast.clone().at(0, what).crossing());
            drafts.push(slow.clone().at(0, what).crossing().again());
        }
    }
    keyed("link-disorder", drafts)
}

/// One drive for each damage; the campaign starts the box with the damaged map for it.
pub(super) fn map_corruption(spec: &Spec) -> Vec<Drive> {
    let drafts = (0..DAMAGES.len()).map(|turn| {
        let gate_ms = 1500 + turn as u32 * 10;
        Draft::at_rest(spec).stand(3500).gate_at(gate_ms).pedal(5000, 60.0)
    });
    keyed("map-corruption", drafts.collect())
}

pub(super) fn freeze(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut signals = polled(spec);
    signals.push(Which::All);
    for (turn, which) in (0..).zip(signals) {
        let frozen = Happening::Frozen(which, 12_000);
        let cruising = Draft::engaged(spec, turn).reach(70.0).now(frozen);
        drafts.push(cruising.clone().hold(8000, 70.0).crossing());
        drafts.push(cruising.clone().brake(8000, 20.0).stand(3000).pedal(5000, 40.0));
        drafts.push(cruising.pedal(8000, 100.0).brake(5000, 20.0));
        // From the start of pulling away.
        let early = Draft::engaged(spec, turn).now(frozen);
        drafts.push(early.pedal(10_000, 60.0).brake(4000, 15.0));
        // At a low speed before the edge: the box reads a speed below the ceiling while driving fast.
        let slow = (ceiling_kmh(spec) * 0.5).floor();
        let hidden = Draft::rolling(spec, slow).hold(1500, slow).at(1400, frozen).pedal(8000, 70.0).gate_at(8500);
        drafts.push(hidden.crossing());
    }
    // A steady speed is no fault.
    drafts.push(Draft::engaged(spec, 0).reach(60.0).hold(120_000, 60.0).crossing());
    drafts.push(Draft::engaged(spec, 1).reach(90.0).cruise(60_000, 90.0).crossing());
    keyed("freeze", drafts)
}
