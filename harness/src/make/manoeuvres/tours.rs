//! Tours: drives of one kind of driving each, gear pair after gear pair, so that what rules ask about comes early.
//!
//! Each tour is driven with an ordinary disturbance before each of its parts, once of the link and once of the wheels: the
//! pedal isn't read for a moment, or the speed leaps and comes back; and some with each answer coming twice. None gives
//! the box a cause to let go.

use super::keyed;
use super::ties::due_together;
use crate::drive::{Drive, Happening, Which};
use crate::make::draft::{Draft, gain_ms, held_grade_pct, lowest_gear, tenths, top_gear};
use crate::signal::Signal;
use crate::spec::Spec;

/// What comes before each part of a tour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Before {
    /// Pedal answers are missing for a moment, and come again when the part begins.
    Gap,
    /// The driven wheels slip for a moment.
    Slip,
    /// Nothing: each answer comes twice all the while.
    Twins,
}

/// So long, ms: past what is fresh, and far from lost.
fn gap_ms(spec: &Spec) -> u32 {
    let (fresh, lost) = (spec.limits.data_fresh.ms(), spec.limits.data_lost.ms());
    (fresh + lost.saturating_sub(fresh) / 4) / 10 * 10
}

impl Before {
    /// The disturbance, over as the next step begins.
    fn of<'a>(self, spec: &Spec, draft: Draft<'a>) -> Draft<'a> {
        let (what, ms) = match self {
            Self::Gap => (Happening::Lost(Which::One(Signal::Pedal), gap_ms(spec)), gap_ms(spec)),
            Self::Slip => (Happening::WheelSpin(tenths(40.0), 400), 400),
            Self::Twins => return draft,
        };
        let now_ms = draft.now_ms();
        draft.at(now_ms.saturating_sub(ms), what)
    }
}

/// A tour needn't be faster for what it is about, km/h.
const FAST_KMH: f64 = 130.0;

type Tour = for<'a> fn(&'a Spec, Draft<'a>, Before) -> Draft<'a>;

const TOURS: [Tour; 10] = [flat_out, kicks, rests, rows, labours, descents, dithers, hunts, twitches, ice];

pub(super) fn tours(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    // Each once with the one by turns, then each with the other.
    for turn in 0..2 {
        for (at, tour) in (0..).zip(TOURS) {
            let before = if (at + turn) % 2 == 0 { Before::Gap } else { Before::Slip };
            drafts.push(tour(spec, Draft::engaged(spec, at + turn), before));
        }
    }
    for (turn, tour) in (0..).zip([rows as Tour, rests]) {
        let draft = Draft::engaged(spec, turn).now(Happening::Duplicated(Which::All, 90_000));
        drafts.push(tour(spec, draft, Before::Twins));
    }
    keyed("tours", drafts)
}

/// The lower gears of all pairs.
fn pairs(spec: &Spec) -> impl DoubleEndedIterator<Item = u8> {
    lowest_gear(spec)..top_gear(spec)
}

/// Foot off and next to no brake, until about so fast: a little above rather than below.
fn ease<'a>(draft: Draft<'a>, from_kmh: f64, to_kmh: f64) -> Draft<'a> {
    // A brake of 6 % takes off 2 km/h a second, rolling and the engine half as much.
    let ms = ((from_kmh - to_kmh).max(0.0) / 3.4 * 100.0) as u32 * 10;
    draft.brake(ms, 6.0).slowed_to(to_kmh)
}

/// A light foot takes it over the up line of a pair, and a little further.
fn over<'a>(spec: &Spec, draft: Draft<'a>, gear: u8, ms: u32) -> Draft<'a> {
    let kmh = spec.map.up_kmh(gear, 20.0).unwrap_or(60.0) + 3.0;
    draft.reach(kmh).hold(ms, kmh)
}

/// Flat out to the top gear downhill and on; off the pedal; slowly braked through all gears to a stop; away with a
/// third of the pedal, which is then squeezed to the floor; a stab nearly to the floor, and to it; and with a third of the
/// pedal through the lines again.
fn flat_out<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let top_kmh = spec.map.up_kmh(top_gear(spec).saturating_sub(1), 100.0).unwrap_or(100.0) + 5.0;
    let ms = gain_ms(spec, top_kmh, 0.75).min(60_000);
    let draft = before.of(spec, draft.pedal(ms, 100.0).grade(-5.0)).pedal(4000, 100.0).grade(-5.0);
    let draft = before.of(spec, draft.pedal(3000, 0.0));
    let draft = draft.brake((top_kmh / 5.0) as u32 * 1000, 11.0).stand(1500);
    let draft = draft.pedal(12_000, 33.0).grade(-3.0).pedal_to(7500, 100.0).pedal(1200, 5.0);
    let draft = draft.pedal(2500, below_kick_pct(spec)).pedal(1000, 5.0).pedal(1500, 100.0);
    draft.brake(4700, 25.0).pedal(10_000, 33.0).grade(-4.0)
}

/// A pedal that is no kickdown yet, %.
fn below_kick_pct(spec: &Spec) -> f64 {
    (spec.limits.kickdown_pedal.0 - 8.0).max(50.0)
}

/// A speed at which the floored pedal asks for the lower gear of a pair, and less pedal doesn't yet.
fn kick_kmh(spec: &Spec, gear: u8) -> Option<f64> {
    let at = |pct: f64| spec.map.down_kmh(gear + 1, pct);
    let middle_kmh = f64::midpoint(at(below_kick_pct(spec))?, at(100.0)?);
    let light_kmh = spec.map.up_kmh(gear, 20.0).unwrap_or(0.0);
    Some(middle_kmh.max(light_kmh + 2.0).min(FAST_KMH))
}

/// From the highest gear down, a kick above the line of the floored pedal, where nothing may come; and below it, where a
/// gear less is asked for, and less pedal doesn't ask for it yet.
fn kicks<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft;
    let mut from_kmh = None;
    for gear in pairs(spec).rev() {
        let (Some(kmh), Some(floored_kmh)) = (kick_kmh(spec, gear), spec.map.down_kmh(gear + 1, 100.0)) else {
            continue;
        };
        let light_kmh = spec.map.up_kmh(gear, 20.0).unwrap_or(0.0);
        let above_kmh = (floored_kmh.max(light_kmh) + 6.0).min(FAST_KMH + 8.0);
        draft = match from_kmh {
            None => {
                let flat_out = draft.pedal(gain_ms(spec, kmh, 0.65).min(40_000), 100.0).grade(-4.0);
                flat_out.slowed_to(above_kmh).hold(2000, above_kmh)
            }
            // The air takes off as much again.
            Some(from_kmh) => ease(draft, from_kmh, above_kmh + 4.0).hold(2000, above_kmh),
        };
        draft = draft.pedal(1000, 100.0).pedal(500, 0.0);
        draft = before.of(spec, ease(draft, above_kmh + 2.0, kmh + 4.0));
        draft = draft.pedal(1000, below_kick_pct(spec)).pedal(1200, 5.0).pedal(1800, 100.0);
        from_kmh = Some(kmh);
        draft = draft.pedal(1200, 5.0).slowed_to(kmh + 5.0);
    }
    draft.brake(6000, 30.0)
}

/// Up through the gears with a light foot, resting above each line; and down again, resting below each.
fn rests<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let (mut draft, mut from_kmh) = (draft, 0.0);
    for gear in pairs(spec) {
        draft = before.of(spec, over(spec, draft, gear, 3000));
        from_kmh = spec.map.up_kmh(gear, 20.0).unwrap_or(60.0) + 3.0;
    }
    for gear in pairs(spec).rev() {
        let kmh = (spec.map.down_kmh(gear + 1, 10.0).unwrap_or(30.0) - 4.0).max(8.0);
        draft = before.of(spec, ease(draft, from_kmh, kmh + 1.5));
        from_kmh = kmh;
        // By turns with the foot, and with cruise control, which shows no pedal.
        draft = if before == Before::Gap { draft.cruise(8000, kmh) } else { draft.hold(8000, kmh) };
    }
    draft.pedal(1500, 0.0).stand(3000)
}

/// Shifts in a row, three times: off the floor where two upshifts fall due at once, onto it where two downshifts do.
fn rows<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft;
    for _ in 0..3 {
        if let Some((_, kmh)) = due_together(spec) {
            draft = draft.pedal(gain_ms(spec, kmh, 0.52), 100.0).slowed_to(kmh);
            draft = before.of(spec, draft).pedal(3500, 6.0);
        }
        if let Some(kmh) = two_down_kmh(spec) {
            draft = draft.reach(kmh).hold(2500, kmh);
            draft = before.of(spec, draft).pedal(3000, 100.0).pedal(1500, 0.0).slowed_to(kmh + 15.0);
        }
        draft = draft.brake(7000, 30.0).stand(1500);
    }
    draft
}

/// A speed, driven with a light foot, at which the floor asks for two gears less: the lowest there is.
pub(super) fn two_down_kmh(spec: &Spec) -> Option<f64> {
    (lowest_gear(spec) + 1..top_gear(spec)).find_map(|gear| {
        let light_kmh = spec.map.up_kmh(gear, 20.0)? + 3.0;
        spec.map.down_kmh(gear, 100.0).is_some_and(|line| line > light_kmh + 4.0).then_some(light_kmh)
    })
}

/// Slowly in each high gear, and uphill with more and more pedal.
fn labours<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft;
    for gear in pairs(spec) {
        let low_kmh = spec.map.down_kmh(gear + 1, 15.0).unwrap_or(40.0);
        let over_kmh = spec.map.up_kmh(gear, 20.0).unwrap_or(60.0) + 3.0;
        draft = ease(over(spec, draft, gear, 2500), over_kmh, low_kmh + 3.0);
        draft = before.of(spec, draft).pedal(2000, 42.0).grade(9.0).pedal(8000, 70.0).grade(9.0);
        draft = draft.slowed_to(low_kmh);
    }
    draft.brake(4000, 25.0)
}

/// Downhill with the foot off and with a light one, through all up lines.
fn descents<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft.pedal(3000, 30.0);
    for (pct, grade_pct) in [(0.0, -8.0), (12.0, -5.0)] {
        for _ in 0..7 {
            draft = before.of(spec, draft.pedal(4000, pct).grade(grade_pct));
        }
        draft = draft.brake(6000, 30.0).slowed_to(15.0);
    }
    draft.pedal(4000, 40.0)
}

/// Cruise control holds a speed about each up line of the released pedal.
fn dithers<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft;
    for gear in pairs(spec) {
        let Some(kmh) = spec.map.up_kmh(gear, 0.0) else { continue };
        draft = before.of(spec, draft.reach(kmh - 4.0).cruise(3000, kmh - 0.6));
        for _ in 0..4 {
            draft = draft.cruise(3000, kmh + 0.6).cruise(3000, kmh - 0.6);
        }
    }
    draft.brake(5000, 25.0)
}

/// Uphill at the speed of an up line, on the grade that this pedal holds in the lower gear: of two pairs.
fn hunts<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft;
    let outer = before == Before::Gap;
    let count = pairs(spec).count();
    for (at, gear) in pairs(spec).enumerate() {
        // The lowest pair and the highest, or two between.
        if (at == 0 || at + 1 == count) != outer || at > 2 && !outer {
            continue;
        }
        let Some(line_kmh) = spec.map.up_kmh(gear, 50.0) else { continue };
        let grade_pct = held_grade_pct(spec, gear, line_kmh, 50.0).clamp(1.0, 14.0);
        let kmh = line_kmh + 1.0;
        draft = before.of(spec, draft.reach(kmh)).hold(50_000, kmh).grade(grade_pct);
    }
    draft.brake(5000, 25.0)
}

/// In the two highest pairs the foot twitches by less than asks for another gear.
fn twitches<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft;
    for gear in pairs(spec).rev().take(2).collect::<Vec<_>>().into_iter().rev() {
        draft = before.of(spec, over(spec, draft, gear, 3000));
        for _ in 0..9 {
            draft = draft.pedal(1400, 12.0).pedal(1400, 20.0);
        }
    }
    draft.brake(5000, 25.0)
}

/// On ice: gently up, and down again with the foot off and on with next to no brake.
fn ice<'a>(spec: &'a Spec, draft: Draft<'a>, before: Before) -> Draft<'a> {
    let mut draft = draft.grip(20);
    for (kmh, brake_pct) in [(45.0, 0.0), (62.0, 4.0)] {
        // Half a metre a second each second, with a slope to help.
        let ms = (kmh / 3.6 / 0.7) as u32 * 1000;
        draft = before.of(spec, draft.hold(ms, kmh).grade(-3.0).hold(1500, kmh));
        draft = draft.brake(if brake_pct > 0.0 { 25_000 } else { 14_000 }, brake_pct).slowed_to(15.0);
    }
    draft.pedal(3000, 30.0)
}
