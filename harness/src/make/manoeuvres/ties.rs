//! Two causes fall together: before, in and after one tick; at rest, inside a pulse and inside a shift; and around the
//! ticks in which the box would engage or shift.

use super::keyed;
use crate::drive::{Condition, Drive, Happening, Which};
use crate::make::draft::{Draft, PRESSED_MS, ceiling_kmh, lowest_gear, top_gear};
use crate::signal::{Direction, Lever, Range};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// Lost data count as lost this long after the loss begins, ms, with the last answer's age.
const LOSS_MS: u32 = 1000;

/// The causes to disengage that come from outside, each with its lead: how long before its effect it has to begin.
fn causes(spec: &Spec) -> Vec<(Happening, u32)> {
    let mut causes = vec![
        (Happening::Supply(3000, 200), 0),
        (Happening::Lost(Which::All, 4000), LOSS_MS),
        (Happening::Lever(Lever::D), 0),
        (Happening::Tap(Direction::Down, 120), 0),
        (Happening::Ignition(false), 0),
    ];
    if spec.facts.signals.range {
        causes.push((Happening::Range(Range::Low), 0));
    }
    causes
}

pub(super) fn matrix(spec: &Spec) -> Vec<Drive> {
    let mut drafts = pairs(spec);
    drafts.extend(with_shift(spec));
    keyed("tie-matrix", drafts)
}

/// Each pair of causes from outside in each order, while nothing goes on, inside a pulse and inside a shift.
fn pairs(spec: &Spec) -> Vec<Draft<'_>> {
    let causes = causes(spec);
    let mut drafts = Vec::new();
    let mut turn = 0;
    for (at, &(first, first_ms)) in causes.iter().enumerate() {
        for &(second, second_ms) in causes.iter().skip(at + 1) {
            let lead_ms = first_ms.max(second_ms);
            for (one_ms, two_ms) in [(0, 20), (0, 0), (20, 0)] {
                let (one_ms, two_ms) = (one_ms + lead_ms - first_ms, two_ms + lead_ms - second_ms);
                let still = Draft::engaged(spec, turn).reach(45.0).hold(500, 45.0);
                let ms = still.now_ms();
                let still = still.at(ms + one_ms, first).at(ms + two_ms, second);
                drafts.push(still.pedal(4000, 60.0));
                for (condition, delay_ms) in [(Condition::Closes(Direction::Up), 30), (Condition::ShiftBegins, 150)] {
                    let draft = Draft::engaged(spec, turn + 1);
                    let draft = draft.after(condition, delay_ms + one_ms, first);
                    drafts.push(draft.after(condition, delay_ms + two_ms, second).pedal(8500, 55.0));
                }
                turn += 1;
            }
        }
    }
    drafts
}

/// Each cause tick by tick about the time at which the box engages, one hand-over after the other: with the lever all must
/// have held since the edge, which may bounce; a press of the button finds what has held already.
pub(super) fn engaging(spec: &Spec) -> Vec<Drive> {
    let tick_ms = spec.facts.tick.ms().max(1);
    let ready_ms = match spec.facts.take_over {
        TakeOver::Lever => spec.limits.conditions_held.ms() + spec.limits.lever_bounce.ms(),
        TakeOver::Button => PRESSED_MS,
    };
    let slow_kmh = (ceiling_kmh(spec) * 0.5).floor();
    let hand_overs = |(cause, lead_ms): (Happening, u32)| {
        let mut draft = Draft::rolling(spec, slow_kmh).hold(2600, slow_kmh);
        for ticks in 0..6 {
            if ticks > 0 {
                draft = draft.now(Happening::Lever(Lever::D));
                if let Some(mended) = mended(cause) {
                    draft = draft.now(mended);
                }
                // Until lost data are back and the range has been high for long enough.
                draft = draft.slowed_to(slow_kmh + 40.0).reach(slow_kmh).hold(2000, slow_kmh);
            }
            let gate_ms = draft.now_ms();
            let due_ms = (gate_ms + ready_ms + tick_ms * ticks).saturating_sub(tick_ms * 4 + lead_ms);
            draft = draft.gate_at(gate_ms).at(due_ms, cause).hold(600, slow_kmh).pedal(2400, 60.0);
        }
        draft
    };
    keyed("tie-engaging", causes(spec).into_iter().map(hand_overs).collect())
}

/// What puts a cause right again that doesn't end by itself.
fn mended(cause: Happening) -> Option<Happening> {
    match cause {
        Happening::Ignition(false) => Some(Happening::Ignition(true)),
        Happening::Range(_) => Some(Happening::Range(Range::High)),
        _ => None,
    }
}

/// Each cause tick by tick about the second of two upshifts that fall due together on lifting off: it has to wait for
/// the first, so its time is known.
fn with_shift(spec: &Spec) -> Vec<Draft<'_>> {
    let Some((gear, kmh)) = due_together(spec) else { return Vec::new() };
    let tick_ms = spec.facts.tick.ms().max(1);
    // Full pedal up to the speed takes this gear there; then the foot comes nearly off. Out of the lowest gear the first
    // contact that closes is the first of the two; out of a higher one its shift tells, which takes some of the wait.
    let (first, taken_ms) = if gear == lowest_gear(spec) {
        (Condition::Closes(Direction::Up), 0)
    } else {
        let shift = &spec.vehicle.gearbox.shift;
        let shift_ms = shift.recognition.get() + shift.fill.get() + shift.ratio_change.get();
        (Condition::Gear(gear + 1), shift_ms.max(0.0) as u32)
    };
    let mut drafts = Vec::new();
    for (cause, lead_ms) in causes(spec) {
        for ticks in 0..5 {
            let wait_ms =
                (spec.limits.shift_blind.ms() + tick_ms * ticks).saturating_sub(tick_ms * 3 + taken_ms + lead_ms);
            let draft = Draft::engaged(spec, 0).pedal(full_pedal_ms(spec, kmh), 100.0);
            drafts.push(draft.after(first, wait_ms, cause).pedal(3500, 12.0));
        }
    }
    drafts
}

/// The lowest gear, and a speed, that a full pedal reaches before its upshift, with the upshifts out of it and out of
/// the next both due on lifting off, and some km/h to spare. Where the foot comes off a little late, the first of the
/// two has just been commanded, and the second is due all the same.
pub(super) fn due_together(spec: &Spec) -> Option<(u8, f64)> {
    (lowest_gear(spec)..top_gear(spec)).find_map(|gear| {
        let light_kmh = spec.map.up_kmh(gear + 1, 15.0)?;
        let floored_kmh = spec.map.up_kmh(gear, 100.0)?;
        let kmh = (light_kmh + 7.0).min((light_kmh + floored_kmh) / 2.0);
        (floored_kmh > light_kmh + 9.0).then_some((gear, kmh))
    })
}

/// Time to reach a speed from rest with half the rated power on average, ms.
fn full_pedal_ms(spec: &Spec, kmh: f64) -> u32 {
    crate::make::draft::gain_ms(spec, kmh, 0.52)
}
