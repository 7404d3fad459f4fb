//! The driver taps and moves the lever.

use super::keyed;
use crate::drive::{Condition, Drive, Happening};
use crate::make::draft::{Draft, ceiling_kmh, lowest_gear, tenths, top_gear};
use crate::signal::{Direction, Lever};
use crate::spec::Spec;

const BOTH: [Direction; 2] = [Direction::Up, Direction::Down];

/// Pulls up and slows down again, so that the box taps both ways.
fn up_and_down(draft: Draft<'_>) -> Draft<'_> {
    draft.pedal(9000, 55.0).brake(3500, 20.0)
}

pub(super) fn tap(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut turn = 0;
    for tapped in BOTH {
        for own in BOTH {
            // With the pulse's first edge, inside, with its last, after it, and while the gearbox still shifts.
            for (condition, delay_ms) in [
                (Condition::Closes(own), 0),
                (Condition::Closes(own), 50),
                // Over before the pulse is.
                (Condition::Closes(own), 20),
                (Condition::Opens(own), 0),
                (Condition::Opens(own), 60),
                (Condition::Opens(own), 400),
            ] {
                let tap_ms = if delay_ms == 20 { 50 } else { 120 };
                let draft = Draft::engaged(spec, turn).after(condition, delay_ms, Happening::Tap(tapped, tap_ms));
                drafts.push(up_and_down(draft).crossing());
                turn += 1;
            }
        }
        // Just before the box would tap itself.
        if let Some(kmh) = spec.map.up_kmh(lowest_gear(spec), 55.0) {
            for early_kmh in [1.5, 0.5] {
                let due = Condition::SpeedAbove(tenths(kmh - early_kmh));
                let draft = Draft::engaged(spec, turn).after(due, 0, Happening::Tap(tapped, 150));
                drafts.push(up_and_down(draft).crossing().again());
                turn += 1;
            }
        }
        // In each gear while nothing else goes on; short, long, and within one tick.
        for (gear, tap_ms) in (lowest_gear(spec)..=top_gear(spec)).zip([120, 60, 300, 5, 600, 20, 120, 120, 120]) {
            let kmh = spec.map.up_kmh(gear, 20.0).map_or(110.0, |line| line - 5.0).max(15.0);
            let draft = Draft::engaged(spec, turn).reach(kmh).hold(3000, kmh);
            let draft = draft.now(Happening::Tap(tapped, tap_ms));
            drafts.push(if turn % 2 == 0 { draft.crossing().again() } else { draft.crossing() });
            turn += 1;
        }
    }
    // After a tap the lever goes out for a bounce, for a while, and for good: only then is it a new take-over.
    for (turn, out_ms) in (1..).zip([20, 100, 250, 500, 1500]) {
        let slow = (ceiling_kmh(spec) * 0.6).floor();
        let draft = Draft::engaged(spec, turn).reach(slow).now(Happening::Tap(Direction::Up, 120));
        let ms = draft.now_ms() + 1500;
        let draft = draft.at(ms, Happening::Lever(Lever::D)).gate_at(ms + out_ms);
        drafts.push(draft.hold(ms + out_ms + 2000 - (ms - 1500), slow).crossing());
    }
    keyed("driver-override", drafts)
}

pub(super) fn lever_fidget(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut turn = 0;
    for exit in [Lever::D, Lever::N, Lever::R] {
        let leave = Happening::Lever(exit);
        let still = Draft::engaged(spec, turn).reach(55.0).now(leave);
        drafts.push(still.hold(1500, 55.0).crossing().again());
        for (condition, delay_ms) in [
            (Condition::Closes(Direction::Up), 0),
            (Condition::Closes(Direction::Up), 40),
            (Condition::Closes(Direction::Down), 40),
            (Condition::ShiftBegins, 200),
        ] {
            let draft = Draft::engaged(spec, turn).after(condition, delay_ms, leave);
            drafts.push(up_and_down(draft).crossing());
            turn += 1;
        }
        // A shift falls due right after the lever has gone: by the pedal to the floor, and by lifting off.
        for (kmh, from_pct, to_pct) in [(55.0, 15.0, 100.0), (70.0, 80.0, 0.0), (50.0, 90.0, 0.0)] {
            let draft = Draft::engaged(spec, turn).reach(kmh).pedal(1500, from_pct);
            let ms = draft.now_ms();
            drafts.push(draft.at(ms - 100, leave).pedal(2000, to_pct).crossing());
            turn += 1;
        }
        // Out and at once in again, above the ceiling.
        let fast = Draft::engaged(spec, turn).reach(80.0);
        let ms = fast.now_ms();
        drafts.push(fast.at(ms - 500, leave).at(ms, Happening::Lever(Lever::Gate)).hold(2000, 80.0).crossing());
    }
    // A bounce of the contact, still and inside a pulse.
    for (bounce_ms, out) in [(10, Lever::D), (20, Lever::D), (20, Lever::N), (60, Lever::D), (150, Lever::D)] {
        let still = Draft::engaged(spec, turn).reach(50.0);
        let ms = still.now_ms();
        let still = still.at(ms, Happening::Lever(out)).at(ms + bounce_ms, Happening::Lever(Lever::Gate));
        drafts.push(still.hold(1000, 50.0).crossing());
        let pulse = Condition::Closes(Direction::Up);
        let draft = Draft::engaged(spec, turn).after(pulse, 30, Happening::Lever(out));
        drafts.push(up_and_down(draft.after(pulse, 30 + bounce_ms, Happening::Lever(Lever::Gate))).crossing());
        turn += 1;
    }
    // To and fro for ten seconds and more, slowly to fast: by D, by neutral, and standing still.
    for (half_ms, out) in
        [(1000, Lever::D), (500, Lever::D), (250, Lever::D), (100, Lever::D), (50, Lever::D), (600, Lever::N)]
    {
        let steady = Draft::at_rest(spec).stand(2500);
        let mut draft = if half_ms >= 600 { steady.stand(12_000) } else { steady.pedal(11_000, 20.0) }.crossing();
        for round in 0..(5000 / half_ms).max(6) {
            draft = draft.gate_at(2500 + round * 2 * half_ms);
            draft = draft.at(2500 + (round * 2 + 1) * half_ms, Happening::Lever(out));
        }
        drafts.push(draft.again());
    }
    keyed("lever-fidget", drafts)
}
