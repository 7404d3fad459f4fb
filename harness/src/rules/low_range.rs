//! In low range, and on the way to it, the contacts are open.

use super::may_command::Cause;
use super::tally::Tally;
use super::{Rule, View, all, always, releases};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "low range disengages",
    sentence: "When the range is not high, in between counts as low, contacts are open within the release time and stay open.",
    hazard: "The map is wrong by the low range's ratio: over-speed at the first downshift.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "range left high while engaged", least: 3 },
        Situation { name: "inside a shift", least: 1 },
        Situation { name: "inside an own pulse", least: 1 },
    ],
    limits: &["range-release"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: no_range, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    releases::judge(view, tally, Cause::Range, limits.range_release.get(), view.spec.facts.tick.get());
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    releases::says(view, Cause::Range, "the range leaves high", at_ms, view.spec.limits.range_release.get())
}

fn no_range(spec: &crate::spec::Spec) -> Option<String> {
    if spec.vehicle.gearbox.low_range.is_none() {
        return Some("the vehicle has no low range".into());
    }
    (!spec.facts.signals.range).then(|| "the range is not wired to the box".into())
}
