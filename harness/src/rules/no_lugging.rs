//! A loaded engine isn't left below the speed at which it lugs while a lower gear is at hand.
//!
//! What was seen is the load that the pedal asks for; a load that the pedal doesn't show, as under cruise control, is a
//! limit of the signals.

use super::story::Lug;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};

const CARD: RuleCard = RuleCard {
    name: "no lugging under load",
    sentence: "With the engine loaded beyond the stated share, it doesn't stay below the lugging speed for longer than stated while a lower gear is allowed.",
    hazard: "The engine lugs: no answer to the pedal when pulling out, heat and vibration uphill.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[Situation { name: "loaded for 1 s near the lugging speed or below", least: 3 }],
    limits: &["lugging-rpm", "lugging-load", "lugging-for"],
    map_can_break: true,
    leans_on: &[VehicleData::Ratios, VehicleData::Engine, VehicleData::RoadLoad],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// Tolerance on the true view, s (our choice).
const TOLERANCE_S: f64 = 0.1;

fn judge(view: &View<'_>, tally: &mut Tally) {
    let story = view.story;
    let most = view.spec.limits.lugging_for.get();
    let margin = |lug: &Lug| s(most - f64::from(lug.to_ms - lug.from_ms)).max(-CAP_S);
    for _ in 0..story.near_lugging {
        tally.reached(0);
        tally.truth(s(most), TOLERANCE_S, 0);
    }
    for lug in &story.lugs_seen {
        tally.seen(margin(lug), lug.from_ms);
    }
    for lug in &story.lugs_true {
        let shown = |seen: &&Lug| seen.from_ms < lug.to_ms && seen.to_ms > lug.from_ms && margin(seen) < 0.0;
        let known = story.lugs_seen.iter().find(shown).is_some();
        tally.truth_if_known(margin(lug), TOLERANCE_S, lug.from_ms, known);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let lugs = if basis == Basis::Seen { &view.story.lugs_seen } else { &view.story.lugs_true };
    let Some(lug) = lugs.iter().find(|l| l.from_ms == at_ms) else { return say::command_at(view, basis, at_ms) };
    let limits = &view.spec.limits;
    format!(
        "from {} on the loaded engine stays in gear {} at {:.0} rpm and below {:.0} rpm for {:.2} s; {:.1} s allowed",
        say::time(at_ms),
        lug.gear,
        lug.rpm,
        limits.lugging_rpm.0,
        f64::from(lug.to_ms - lug.from_ms) / 1000.0,
        limits.lugging_for.get() / 1000.0
    )
}
