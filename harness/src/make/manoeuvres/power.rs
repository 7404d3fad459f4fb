//! Power-up, supply and clock.

use super::keyed;
use crate::drive::{Condition, Drive, Happening, When, Which};
use crate::make::draft::{Draft, ceiling_kmh};
use crate::signal::{Direction, Lever};
use crate::spec::Spec;

pub(super) fn ignition_on(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for speed_kmh in [0.0, (ceiling_kmh(spec) * 0.75).floor(), 100.0] {
        let mut rolling = Draft::rolling(spec, speed_kmh);
        rolling.drive.start.lever = Lever::Gate;
        let rolling = if speed_kmh > 0.0 { rolling.hold(4000, speed_kmh) } else { rolling.stand(4000) };
        // A box that wakes in the gate stays quiet until the lever has been out and in again.
        drafts.push(rolling.clone().reach(speed_kmh.max(60.0)).crossing().again());
        // The ignition goes off and on with the lever in the gate.
        let off_on = |at_ms: u32, draft: Draft<'_>| {
            draft.at(at_ms, Happening::Ignition(false)).at(at_ms + 1500, Happening::Ignition(true)).drive
        };
        let mut engaged = rolling;
        engaged.drive = off_on(1000, engaged.clone());
        drafts.push(engaged.reach(speed_kmh.max(50.0)).crossing());
    }
    let engaged = Draft::engaged(spec, 0).reach(45.0);
    let ms = engaged.now_ms();
    drafts.push(
        engaged.at(ms - 1000, Happening::Ignition(false)).at(ms, Happening::Ignition(true)).hold(2000, 45.0).crossing(),
    );
    keyed("ignition-on", drafts)
}

pub(super) fn ignition_off(spec: &Spec) -> Vec<Drive> {
    let off = Happening::Ignition(false);
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([0.0, 20.0, 60.0]) {
        let draft = Draft::engaged(spec, turn);
        let draft = if kmh > 0.0 { draft.reach(kmh) } else { draft.stand(1000) };
        let ms = draft.now_ms();
        // For two seconds with the lever in the gate all the while, then a new take-over.
        let draft = draft.at(ms, off).at(ms + 2000, Happening::Ignition(true));
        drafts.push(draft.hold(4000, kmh.max(10.0)).crossing().again());
    }
    for condition in [Condition::Closes(Direction::Up), Condition::ShiftBegins] {
        drafts.push(Draft::engaged(spec, 1).after(condition, 40, off).pedal(6000, 50.0).brake(4000, 20.0));
    }
    // Left in the gate for half a minute.
    drafts.push(Draft::engaged(spec, 1).reach(45.0).brake(8000, 25.0).now(off).stand(30_000));
    keyed("ignition-off", drafts)
}

/// A whole drive, and the ignition off for five minutes, or for longer than the box may stay awake.
pub(super) fn bus_watch(spec: &Spec) -> Vec<Drive> {
    let off = Happening::Ignition(false);
    let asleep_ms = (spec.limits.sleeps_within.ms() + 30_000).max(300_000) / 1000 * 1000;
    let lost = Happening::Lost(Which::All, 20_000);
    let mut drafts = Vec::new();
    // Left as it is; in P before the ignition goes and after it; no answers on the port any more; still rolling.
    for turn in 0..4 {
        let driven = Draft::engaged(spec, turn).pedal(12_000, 45.0).pedal(3000, 100.0).pedal(4000, 0.0);
        let driven = driven.brake(6000, 25.0).stand(2000).hold(10_000, 40.0).again();
        let parked = if turn == 3 { driven.pedal(3000, 0.0) } else { driven.brake(8000, 25.0).stand(2000) };
        let off_ms = parked.now_ms();
        let parked = parked.now(off);
        let parked = match turn {
            0 => parked.at(off_ms - 1000, Happening::Lever(Lever::P)),
            1 => parked.at(off_ms + 3000, Happening::Lever(Lever::P)),
            2 => parked.at(off_ms + 500, lost),
            _ => parked,
        };
        drafts.push(parked.stand(asleep_ms));
    }
    keyed("bus-watch", drafts)
}

pub(super) fn supply_dip(spec: &Spec) -> Vec<Drive> {
    let dips = [
        Happening::Supply(6000, 100),
        Happening::Supply(0, 20),
        Happening::Supply(8500, 300),
        Happening::Supply(3000, 1000),
        Happening::Reset,
    ];
    let mut drafts = Vec::new();
    for (turn, dip) in (0..).zip(dips) {
        // While it holds still, inside a pulse, and while the gearbox shifts; the lever stays in the gate.
        let still = Draft::engaged(spec, turn).reach(60.0);
        drafts.push(still.now(dip).hold(2000, 60.0).crossing().again());
        for (condition, delay_ms) in [(Condition::Closes(Direction::Up), 30), (Condition::ShiftBegins, 150)] {
            let shifting = Draft::engaged(spec, turn + 1).after(condition, delay_ms, dip);
            drafts.push(shifting.pedal(9000, 50.0).crossing());
        }
    }
    // Tick after tick of a pulse.
    for delay_ms in [0, 10, 20, 40, 60, 80, 100] {
        for dip in [Happening::Reset, Happening::Supply(0, 10)] {
            let pulse = Condition::Closes(Direction::Up);
            drafts.push(Draft::engaged(spec, delay_ms / 10).after(pulse, delay_ms, dip).pedal(7000, 50.0));
        }
    }
    // Before the edge, so that the box wakes into the gate.
    for (turn, dip) in (0..).zip(dips) {
        let waking = Draft::engaged(spec, turn);
        let edge_ms = waking.drive.events.first().map_or(1500, |event| match event.when {
            When::At(ms) => ms,
            When::After(..) => 1500,
        });
        drafts.push(waking.at(edge_ms - 10, dip).pedal(9000, 50.0).crossing());
    }
    keyed("supply-dip", drafts)
}

pub(super) fn clock_wrap(spec: &Spec) -> Vec<Drive> {
    // 16 bits of ms, 31 and 32 bits of ms, 32 bits of µs, 32 bits of ticks at 10 ms.
    let wraps_ms = [1 << 16, 1 << 31, 1 << 32, (1_u64 << 32) / 1000, 10 << 32];
    let mut drafts = Vec::new();
    for (turn, wrap_ms) in (0..).zip(wraps_ms) {
        // The clock runs over while it waits to engage, and while it shifts.
        for before_ms in [2000, 6500] {
            let mut draft = Draft::engaged(spec, turn);
            draft.drive.start.clock_ms = wrap_ms - before_ms;
            drafts.push(draft.pedal(10_000, 60.0).crossing());
        }
    }
    keyed("clock-wrap", drafts)
}
