//! The build shifts where its map says. Recordings of drives can't tell to the count; `shift_points` measures it on a
//! rolling road, and 'sprag shiftpoints' judges it there. Here stands its card.

use super::tally::Tally;
use super::{Rule, View, all, always};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "map as specified",
    sentence: "On a slow ramp of the speed at a constant pedal each shift comes at the first count read that its line \
               calls for, or at the next.",
    hazard: "A map that was checked on paper is not the one in the box: bogging, over-revving or hunting where nobody \
             looked.",
    severity: Severity::Major,
    unit: "km/h",
    near: 0.5,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "line at a pedal position, by 'sprag shiftpoints'", least: 1 }],
    limits: &["rpm-floor", "redline-guard"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks: all, judge, says };

fn cant_judge(_: &Spec) -> Option<String> {
    Some("'sprag shiftpoints' measures it".into())
}

fn judge(_: &View<'_>, _: &mut Tally) {}

fn says(_: &View<'_>, _: Basis, _: u32) -> String {
    "measured by 'sprag shiftpoints'".into()
}
