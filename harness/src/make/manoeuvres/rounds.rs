//! Rounds: several take-overs in one drive, each ended by another cause at another instant, or begun with another
//! condition missing.

use super::keyed;
use super::ties::due_together;
use super::tours::two_down_kmh;
use crate::drive::{Beyond, Condition, Drive, Happening, Which};
use crate::make::draft::{Draft, ceiling_kmh, gain_ms, lowest_gear};
use crate::signal::{Direction, Lever, Range, Signal};
use crate::spec::Spec;

/// What ends an engagement, and what puts it right again.
fn causes(spec: &Spec) -> Vec<(Happening, Option<Happening>)> {
    let mut causes = vec![
        (Happening::Tap(Direction::Up, 50), None),
        (Happening::Lever(Lever::N), None),
        (Happening::Reset, None),
        (Happening::Lever(Lever::D), None),
        (Happening::Ignition(false), Some(Happening::Ignition(true))),
        (Happening::Tap(Direction::Down, 120), None),
        (Happening::Supply(3000, 60), None),
        (Happening::Lever(Lever::R), None),
    ];
    if spec.facts.signals.range {
        let high = Some(Happening::Range(Range::High));
        causes.insert(1, (Happening::Range(Range::Transit), high));
        causes.insert(5, (Happening::Range(Range::Low), high));
    }
    causes
}

fn mend(draft: Draft<'_>, mended: Option<Happening>) -> Draft<'_> {
    match mended {
        Some(mended) => draft.now(mended),
        None => draft,
    }
}

/// Each cause about the first of two upshifts that fall due together, about the first of two downshifts, and just before
/// a kick: what is due next falls into the second after the cause, in which a box that didn't let go is seen.
pub(super) fn rounds(spec: &Spec) -> Vec<Drive> {
    let causes = causes(spec);
    let of = |at: usize| causes.get(at % causes.len()).copied().unwrap_or((Happening::Reset, None));
    let tick_ms = spec.facts.tick.ms().max(1);
    let third = causes.len() / 3;
    let mut drafts = Vec::new();
    for at in 0..causes.len() {
        let ((in_up, up_mended), (in_down, down_mended), (still, still_mended)) =
            (of(at), of(at + third), of(at + 2 * third));
        // Inside the pulse; and by turns on each tick about that on which the second may come at the soonest.
        let off = at as u32 / 2 * tick_ms;
        let delay_ms = if at % 2 == 0 { 20 + off } else { spec.limits.shift_blind.ms() + off - 3 * tick_ms };
        let mut draft = Draft::engaged(spec, 0).after(Condition::Closes(Direction::Up), delay_ms, in_up);
        draft = match due_together(spec) {
            Some((gear, kmh)) if gear == lowest_gear(spec) => {
                draft.pedal(gain_ms(spec, kmh, 0.52), 100.0).slowed_to(kmh).pedal(3500, 8.0)
            }
            _ => draft.pedal(6000, 60.0).slowed_to(40.0).pedal(2500, 8.0),
        };
        draft = mend(draft.slowed_to(45.0), up_mended).again().slowed_to(40.0);
        if let Some(kmh) = two_down_kmh(spec) {
            draft = draft.reach(kmh).hold(2000, kmh).after(Condition::Closes(Direction::Down), delay_ms, in_down);
            draft = draft.pedal(3000, 100.0).pedal(500, 0.0).slowed_to(kmh);
        }
        draft = mend(draft, down_mended).again().slowed_to(45.0);
        draft = draft.hold(1500, 55.0);
        let ms = draft.now_ms();
        draft = draft.at(ms - 150, still).pedal(2000, 100.0).pedal(1500, 0.0).slowed_to(45.0);
        drafts.push(mend(draft, still_mended).again());
    }
    keyed("rounds", drafts)
}

/// Supplies at which a box may still work, mV: as a cranking engine and an old battery leave (ISO 16750-2 has such
/// starts; the numbers from memory).
const SAGS_MV: [u16; 2] = [6500, 8500];

/// Each cause while the supply sags, with a kick due right after: two sags of each depth by turns in each drive.
pub(super) fn sags(spec: &Spec) -> Vec<Drive> {
    let causes = causes(spec);
    let kmh = spec.map.down_kmh(lowest_gear(spec) + 1, 100.0).map_or(50.0, |line| line - 4.0);
    let drafts = causes.chunks(2).zip(0..).map(|(two, turn)| {
        let mut draft = Draft::engaged(spec, turn);
        for sag_mv in SAGS_MV {
            for &(cause, mended) in two {
                draft = draft.reach(kmh).hold(1500, kmh);
                let ms = draft.now_ms();
                draft = draft.at(ms - 500, Happening::Supply(sag_mv, 2500)).at(ms - 200, cause);
                draft = draft.pedal(1500, 100.0).pedal(1000, 0.0).slowed_to(kmh - 15.0);
                draft = mend(draft, mended).again().slowed_to(45.0);
            }
        }
        draft
    });
    keyed("supply-sag", drafts.collect())
}

/// The lever goes out and in, more often than the rules let the box engage; each time for longer than a bounce.
pub(super) fn often(spec: &Spec) -> Vec<Drive> {
    let slow_kmh = (ceiling_kmh(spec) * 0.5).floor();
    let most = u32::from(spec.limits.most_engagements);
    let held_ms = spec.limits.conditions_held.ms() + spec.limits.lever_bounce.ms();
    let drafts = (0..).zip([300, 400, 500, 700]).map(|(turn, out_ms): (u32, u32)| {
        let mut draft = Draft::rolling(spec, slow_kmh).hold(2000, slow_kmh);
        let round_ms = (10_000 / (most + 2)).max(out_ms + held_ms + 200) / 10 * 10;
        for round in 0..most + 3 {
            let ms = draft.now_ms();
            draft = draft.gate_at(ms).at(ms + round_ms - out_ms, Happening::Lever(Lever::D));
            draft = draft.pedal(round_ms, if (round + turn) % 2 == 0 { 25.0 } else { 0.0 });
        }
        draft.slowed_to(slow_kmh + 10.0).again().crossing()
    });
    keyed("hand-over-often", drafts.collect())
}

/// Handing over while rolling down a ramp towards the first up line, so that a shift falls due as the box engages: with
/// all right, and with one condition met only just before.
pub(super) fn eager(spec: &Spec) -> Vec<Drive> {
    let line_kmh = spec.map.up_kmh(lowest_gear(spec), 10.0).unwrap_or(0.0);
    let kmh = (line_kmh.min(ceiling_kmh(spec) + 3.0) - 9.0).max(3.0);
    let lost = |which| Some((Happening::Lost(which, 1500), None));
    let mut late = vec![None, lost(Which::One(Signal::Speed)), lost(Which::One(Signal::Pedal))];
    if spec.facts.signals.range {
        let high = Some(Happening::Range(Range::High));
        late.extend([Range::Transit, Range::Low].map(|range| Some((Happening::Range(range), high))));
    }
    let drafts = late.into_iter().map(|late| {
        let mut draft = Draft::rolling(spec, kmh).hold(2500, kmh);
        for later_ms in [200, 280, 360, 440, 120, 520] {
            // On the ramp; the speed rises by a km/h in a tenth of a second.
            let gate_ms = draft.now_ms() + later_ms;
            let right_ms = gate_ms + 60;
            match late {
                None => {}
                Some((lost @ Happening::Lost(_, ms), _)) => draft = draft.at(right_ms.saturating_sub(ms), lost),
                Some((missing, cure)) => draft = mend_at(draft.at(gate_ms - 800, missing), cure, right_ms),
            }
            draft = draft.gate_at(gate_ms).pedal(2000, 5.0).grade(-35.0);
            draft = draft.now(Happening::Lever(Lever::D)).slowed_to(kmh + 20.0).reach(kmh).hold(1500, kmh);
        }
        draft.again()
    });
    keyed("hand-over-eager", drafts.collect())
}

fn mend_at(draft: Draft<'_>, cure: Option<Happening>, ms: u32) -> Draft<'_> {
    match cure {
        Some(cure) => draft.at(ms, cure),
        None => draft,
    }
}

/// Answers stop or say nothing of use, of one signal after the other in another way: too short to count as lost, and for
/// longer, with a kick due meanwhile; and before anything has been read.
pub(super) fn answers(spec: &Spec) -> Vec<Drive> {
    let fault = |kind: usize, which, ms| match kind % 4 {
        0 => Happening::Lost(which, ms),
        1 => Happening::Garbled(which, Beyond::Above, ms),
        2 => Happening::Negative(which, ms),
        _ => Happening::Garbled(which, Beyond::Below, ms),
    };
    let signals = [Which::One(Signal::Speed), Which::One(Signal::Pedal), Which::All];
    let (fresh_ms, lost_ms) = (spec.limits.data_fresh.ms(), spec.limits.data_lost.ms());
    let kmh = spec.map.down_kmh(lowest_gear(spec) + 1, 100.0).map_or(50.0, |line| line - 4.0);
    let mut drafts = Vec::new();
    for (kind, turn) in (0..4).zip(0..) {
        let mut draft = Draft::engaged(spec, turn);
        for (at, which) in signals.into_iter().enumerate() {
            for ms in [(fresh_ms + lost_ms) / 2 + 200, lost_ms + 2000] {
                draft = draft.reach(kmh).hold(1500, kmh);
                let from_ms = draft.now_ms() - fresh_ms;
                draft = draft.at(from_ms, fault(kind + at, which, ms));
                draft = draft.pedal(1800, 100.0).pedal(700, 0.0).slowed_to(kmh + 8.0);
            }
            draft = draft.again().slowed_to(45.0);
        }
        drafts.push(draft);
    }
    let slow_kmh = (ceiling_kmh(spec) * 0.75).floor();
    for start_kmh in [slow_kmh, ceiling_kmh(spec) + 30.0] {
        let mut draft = Draft::rolling(spec, start_kmh).hold(500, start_kmh);
        for which in signals {
            // The box starts afresh out of the gate, and nothing is answered.
            draft = draft.now(Happening::Lever(Lever::D)).now(Happening::Reset).now(Happening::Lost(which, 3000));
            let ms = draft.now_ms();
            draft = draft.hold(2800, start_kmh).gate_at(ms + 1000).pedal(1200, 100.0).pedal(1200, 0.0);
            draft = draft.slowed_to(start_kmh + 8.0).reach(start_kmh).hold(1000, start_kmh);
        }
        drafts.push(draft.again());
    }
    keyed("answers", drafts)
}
