//! The box takes its time after engaging: no command at once, and the steps towards the map's gear one by one.
//!
//! Where only an announcement shows the engagement, it may have come as much earlier as announcing may take, but no
//! sooner than the monitor allows.

use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "no shift right after engaging",
    sentence: "No command comes right after engaging; then the steps towards the map's gear keep their time.",
    hazard: "The driver moves the lever and the gear jumps under the hand, perhaps by several steps.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "first command after engaging", least: 5 },
        Situation { name: "within 2 s of engaging", least: 2 },
        Situation { name: "second step after engaging", least: 0 },
    ],
    limits: &["quiet-after-engaging", "entry-step"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks: super::all, judge, says };

/// Why rules on what the box shows of engaging can't be judged on one that shows nothing.
pub(super) fn cant_judge(spec: &Spec) -> Option<String> {
    (!spec.facts.announces).then(|| "the box announces nothing, so when it engages and lets go isn't known".into())
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (hand, limits, tick) = (&view.story.hand, &view.spec.limits, view.spec.facts.tick.get());
    for first in &hand.firsts {
        let after = f64::from(first.at_ms - first.engaged_ms);
        let margin = s(after + tick - limits.quiet_after_engaging.get());
        if first.shown {
            tally.reached(0);
            if after <= 2000.0 {
                tally.reached(1);
            }
            tally.seen(margin.min(CAP_S), first.at_ms);
        } else if margin < 0.0 {
            // When it engaged isn't known; that it was less than this ago is.
            tally.seen(margin, first.at_ms);
        }
    }
    for &(at_ms, before_ms) in &hand.entry_steps {
        tally.reached(2);
        tally.seen(s(f64::from(at_ms - before_ms) + tick - limits.entry_step.get()).min(CAP_S), at_ms);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let what = say::command_at(view, basis, at_ms);
    let (hand, limits) = (&view.story.hand, &view.spec.limits);
    let after = |from_ms: u32| f64::from(at_ms - from_ms) / 1000.0;
    if let Some(first) = hand.firsts.iter().find(|f| f.at_ms == at_ms) {
        let most = if first.shown { "" } else { "at most " };
        let limit = limits.quiet_after_engaging.get() / 1000.0;
        return format!("{what}, {most}{:.2} s after engaging; the limit is {limit:.2} s", after(first.engaged_ms));
    }
    let step = hand.entry_steps.iter().find(|(at, _)| *at == at_ms);
    let since = step.map_or(0.0, |&(_, before_ms)| after(before_ms));
    let limit = limits.entry_step.get() / 1000.0;
    format!("{what}, {since:.2} s after the step before, on the way from engaging; the limit is {limit:.2} s")
}
