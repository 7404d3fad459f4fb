//! The gear that the box counts is the gear, wherever it could know.
//!
//! It could know where the gear signal tells the actual gear, or, without one, where entry, taps and standstill lead to
//! it. A refusal or a shift of the gearbox's own that nothing told is none of the box's.

use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "counted gear agrees",
    sentence: "The gear the box shows is the actual gear wherever it could know it, but for the stated time after a change.",
    hazard: "A count that is off by one makes each later command the wrong one.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::True],
    situations: &[Situation { name: "gear change, settled", least: 50 }],
    limits: &["count-settles"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks: all, judge, says };

fn cant_judge(spec: &Spec) -> Option<String> {
    let below = || "the box reads no gear, and the gearbox may stay below the limit that it counts".to_owned();
    gear::cant_be_known(spec).or_else(|| gear::unread_below_limit(spec).then(below))
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let story = view.story;
    for _ in 0..story.settled_counts {
        tally.reached(0);
    }
    if !story.counts {
        return;
    }
    let settles = view.spec.limits.count_settles.get();
    let tick = view.spec.facts.tick.get();
    tally.truth(s(settles).min(CAP_S), s(tick), 0);
    for off in &story.miscounts {
        let margin = s(settles - f64::from(off.to_ms - off.from_ms));
        tally.truth(margin.max(-CAP_S), s(tick), off.from_ms);
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let Some(off) = view.story.miscounts.iter().find(|m| m.from_ms == at_ms) else {
        return format!("at {} the count agrees", say::time(at_ms));
    };
    format!(
        "from {} on it counts gear {} in gear {} for {:.2} s; {:.1} s allowed",
        say::time(at_ms),
        off.counted,
        off.gear,
        f64::from(off.to_ms - off.from_ms) / 1000.0,
        view.spec.limits.count_settles.get() / 1000.0
    )
}
