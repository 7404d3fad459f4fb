//! After the driver's tap no command begins, and an own pulse ends at once.

use super::may_command::Cause;
use super::tally::Tally;
use super::{Rule, View, all, always, releases};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "driver's tap wins",
    sentence: "After the driver's tap no command begins and an own pulse ends within the release time.",
    hazard: "The box fights the driver's own hand: a shift that the driver has just taken back.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "driver's tap while engaged", least: 3 },
        Situation { name: "inside a shift", least: 1 },
        Situation { name: "inside an own pulse", least: 1 },
        Situation { name: "a tap up", least: 1 },
        Situation { name: "a tap down", least: 1 },
    ],
    limits: &["tap-release"],
    map_can_break: false,
    leans_on: &[],
    version: 4,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    releases::judge(view, tally, Cause::Tap, limits.tap_release.get(), view.spec.facts.tick.get());
    for closing in view.story.releases.iter().map(|r| r.closing).filter(|c| c.sure && c.cause == Cause::Tap) {
        for row in view.recording.rows_within(closing.at_ms, closing.at_ms + 1) {
            for (situation, edges) in [(3, row.inputs.tap_up_edges), (4, row.inputs.tap_down_edges)] {
                if edges > 0 {
                    tally.reached(situation);
                }
            }
        }
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    releases::says(view, Cause::Tap, "the driver taps", at_ms, view.spec.limits.tap_release.get())
}
