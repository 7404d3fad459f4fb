//! Each command rests on data that arrived not long ago.

use super::may_command::State;
use super::tally::{Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "fresh data at every command",
    sentence: "At each command the newest speed and the newest pedal are no older than the limit for fresh data.",
    hazard: "A shift on data that stopped arriving: half a second of full pedal in second is 5 km/h and 300 rpm.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "command", least: 20 },
        Situation { name: "data between fresh and lost while engaged", least: 3 },
    ],
    limits: &["data-fresh"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    let fresh = limits.data_fresh.get();
    // One tick: the box may have taken its decision by the clock of the tick before.
    let tick = view.spec.facts.tick.get();
    for command in view.story.commands.iter().filter(|c| !matches!(c.state, State::MustNot(_))) {
        if let Some(age) = command.age_seen_ms {
            tally.reached(0);
            tally.seen(s(fresh + tick - f64::from(age)), command.at_ms);
        }
        if let Some(age) = command.age_true_ms {
            // From sampling to arrival may take the link's longest time. Where it takes longer, nothing in the answer
            // tells: the box knows only when it came.
            let known = command.age_seen_ms.is_none_or(|seen| f64::from(seen) > fresh + tick);
            let margin = s(fresh + tick + view.spec.link.answer_most.get() - f64::from(age));
            tally.truth_if_known(margin, 0.0, command.at_ms, known);
        }
    }
    for _ in 0..view.story.stale_spells {
        tally.reached(1);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let age = view.story.commands.iter().find(|c| c.at_ms == at_ms).and_then(|c| match basis {
        Basis::Seen => c.age_seen_ms,
        Basis::True => c.age_true_ms,
    });
    let age = age.map_or(String::new(), |ms| format!(" on data {:.2} s old", f64::from(ms) / 1000.0));
    format!(
        "{}{age}; the limit is {:.2} s",
        say::command_at(view, basis, at_ms),
        view.spec.limits.data_fresh.get() / 1000.0
    )
}
