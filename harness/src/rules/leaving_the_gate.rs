//! When the lever leaves the gate the contacts open.

use super::may_command::Cause;
use super::tally::Tally;
use super::{Rule, View, all, always, releases};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "leaving the gate disengages",
    sentence: "After the lever has left the gate contacts are open within the release time and stay open.",
    hazard: "A tap in another lever position: a chime, a mode change, a gear the driver doesn't expect.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "lever out of the gate while engaged", least: 3 },
        Situation { name: "inside a shift", least: 1 },
        Situation { name: "inside an own pulse", least: 1 },
    ],
    limits: &["lever-release"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    releases::judge(view, tally, Cause::Lever, limits.lever_release.get(), view.spec.facts.tick.get());
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    releases::says(view, Cause::Lever, "the lever leaves the gate", at_ms, view.spec.limits.lever_release.get())
}
