//! Long drives of everything: town, country, motorway and hills by turns, with light faults that no box may mind.

use super::keyed;
use crate::drive::{Drive, Happening, Which};
use crate::make::draft::{Draft, small_hash};
use crate::signal::{Lever, Signal};
use crate::spec::Spec;

/// A drive ends a little before its length, on the brake.
const STOPPING_MS: u32 = 12_000;

/// The clock at power-up lies this long before the counter runs over.
pub(super) const BEFORE_WRAP_MS: u64 = 5000;

/// 16 bits of ms, 31 and 32 bits of ms, 32 bits of µs, 32 bits of ticks at 10 ms.
pub(super) const WRAPS_MS: [u64; 5] = [1 << 16, 1 << 31, 1 << 32, (1 << 32) / 1000, 10 << 32];

/// The legs of one round: town, country, motorway, hills, four of each.
const ROUND: u32 = 16;

/// A day of this length, made from a seed. Once a round the driver hands over anew, whatever has become of the box.
fn mixed(spec: &Spec, seed: u32, length_ms: u32) -> Draft<'_> {
    let mut draft = Draft::engaged(spec, seed);
    let mut now_ms = draft.now_ms();
    for leg in 0..u32::MAX {
        if now_ms + STOPPING_MS > length_ms {
            break;
        }
        let hash = small_hash("mixed-day", (seed << 16) + leg);
        // Small remainders of a hash: they fit.
        let pick = |shift: u32, bound: u64| (hash >> shift) % bound;
        let kmh = |low: u64, span: u64| (low + pick(8, span)) as f64;
        let grade_pct = pick(16, 9) as f64 - 4.0;
        let ms = 6000 + pick(24, 12) as u32 * 1000;
        let steps = draft.drive.steps.len();
        draft = match leg % ROUND / 4 {
            0 if leg % ROUND == 0 && leg > 0 => draft.again(),
            0 if pick(40, 3) == 0 => draft.brake(4000, 20.0).stand(2500).pedal(5000, 35.0),
            0 => draft.hold(ms, kmh(25, 30)),
            1 => draft.hold(ms, kmh(55, 35)).grade(grade_pct),
            2 => draft.cruise(ms, kmh(90, 25)),
            _ => draft.hold(ms, kmh(45, 40)).grade(2.0 * grade_pct),
        };
        let leg_ms: u32 = draft.drive.steps.iter().skip(steps).map(|step| step.ms).sum();
        // In one leg of four something goes lightly wrong, and not while the driver hands over.
        if pick(44, 4) == 0 && leg % ROUND > 0 {
            draft = light_fault(draft, now_ms + 500 + pick(48, 4) as u32 * 1000, pick(52, 8));
        }
        now_ms += leg_ms;
    }
    draft.brake(8000, 25.0)
}

/// What happens on any day, over before the box has to let go.
fn light_fault(draft: Draft<'_>, ms: u32, which: u64) -> Draft<'_> {
    let one = |what: Happening| draft.clone().at(ms, what);
    match which {
        0 => one(Happening::Lost(Which::All, 300)),
        1 => one(Happening::Lost(Which::One(Signal::Speed), 250)),
        2 => one(Happening::Delayed(Which::All, 120, 3000)),
        3 => one(Happening::Duplicated(Which::All, 3000)),
        4 => one(Happening::Supply(9500, 300)),
        5 => one(Happening::Negative(Which::One(Signal::Pedal), 250)),
        6 => one(Happening::Refuse(1)),
        // The lever's contact bounces.
        _ => draft.at(ms, Happening::Lever(Lever::D)).at(ms + 20, Happening::Lever(Lever::Gate)),
    }
}

const MINUTE_MS: u32 = 60_000;

fn days(spec: &Spec, name: &str, count: u32, length_ms: u32) -> Vec<Drive> {
    keyed(name, (0..count).map(|seed| mixed(spec, seed, length_ms)).collect())
}

/// Days that begin shortly before each counter of the clock runs over.
fn soaked(spec: &Spec, name: &str, length_ms: u32) -> Vec<Drive> {
    let drafts = (0..).zip(WRAPS_MS).map(|(turn, wrap_ms)| {
        let mut draft = mixed(spec, 100 + turn, length_ms);
        draft.drive.start.clock_ms = wrap_ms - BEFORE_WRAP_MS;
        draft
    });
    keyed(name, drafts.collect())
}

pub(super) fn mixed_day(spec: &Spec) -> Vec<Drive> {
    days(spec, "mixed-day", 4, 10 * MINUTE_MS)
}

pub(super) fn mixed_days(spec: &Spec) -> Vec<Drive> {
    days(spec, "mixed-days", 20, 45 * MINUTE_MS)
}

pub(super) fn soak(spec: &Spec) -> Vec<Drive> {
    soaked(spec, "soak-and-wrap", 6 * MINUTE_MS)
}

pub(super) fn long_soak(spec: &Spec) -> Vec<Drive> {
    soaked(spec, "long-soak", 8 * 60 * MINUTE_MS)
}
