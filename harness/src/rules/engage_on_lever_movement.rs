//! The box engages on a movement of the lever (or the button), never because the lever stands in the gate.
//!
//! Claims before the box can have looked at all belong to 'power-up quiet', contacts that are closed as it starts to
//! 'contacts open at rest'.

use super::may_command::{State, Why};
use super::releases::must_not;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "engage on lever movement only",
    sentence: "The box engages only on a take-over edge after power-up; a lever that stands in the gate is not enough.",
    hazard: "After a reset or a dip of the supply the box takes over in mid-drive, unannounced.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "power-up in the gate with all else right", least: 2 }],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (story, tick) = (view.story, view.spec.facts.tick.get());
    for _ in 0..story.edgeless {
        tally.reached(0);
        tally.seen(CAP_S, 0);
    }
    let wrong = |state| must_not(state, |why| why == Why::NoEdge);
    let engagings = story.engagings.iter().map(|e| (e.at_ms, e.state));
    for (at_ms, state) in engagings.chain(story.commands.iter().map(|c| (c.at_ms, c.state))) {
        let up_ms = story.hand.power_up_before_ms(at_ms);
        if wrong(state) && !story.hand.unready.contains(&at_ms) && !story.hand.at_start.contains(&at_ms) {
            // How much later the take-over, or earlier the power-up, would have had to be; -5 s if there was none.
            let away_ms = f64::from(story.hand.to_take_over_ms(at_ms, up_ms));
            tally.seen(-s(away_ms.max(tick)), at_ms);
        }
    }
    // The power-up so much later, and the take-over would have come before it.
    for e in story.engagings.iter().filter(|e| !matches!(e.state, State::MustNot(_))) {
        let up_ms = story.hand.power_up_before_ms(e.at_ms);
        let last = story.hand.take_overs.iter().rev().find(|&&t| t <= e.at_ms && t >= up_ms);
        if let Some(&take_over) = last {
            tally.seen(s(f64::from(take_over - up_ms).max(tick)).min(CAP_S), e.at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    if view.story.engagings.iter().any(|e| e.at_ms == at_ms) {
        return format!("the box engages at {} with no take-over since power-up", say::time(at_ms));
    }
    format!("{} at {} with no take-over since power-up", say::command_at(view, basis, at_ms), say::time(at_ms))
}
