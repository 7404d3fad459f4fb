//! The box engages on a movement of the lever (or the button), never because the lever stands in the gate.

use super::may_command::Why;
use super::releases::must_not;
use super::tally::{CAP_S, Tally};
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
    for _ in 0..view.story.edgeless {
        tally.reached(0);
        tally.seen(CAP_S, 0);
    }
    let wrong = |state| must_not(state, |why| why == Why::NoEdge);
    for e in view.story.engagings.iter().filter(|e| wrong(e.state)) {
        tally.seen(-CAP_S, e.at_ms);
    }
    for command in view.story.commands.iter().filter(|c| wrong(c.state)) {
        tally.seen(-CAP_S, command.at_ms);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    if view.story.engagings.iter().any(|e| e.at_ms == at_ms) {
        return format!("the box engages at {} with no take-over since power-up", say::time(at_ms));
    }
    format!("{} at {} with no take-over since power-up", say::command_at(view, basis, at_ms), say::time(at_ms))
}
