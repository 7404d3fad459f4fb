//! The box lets go for a cause, and its own pulse is none.
//!
//! Whatever could have made a careful box let go counts as a cause: see the story's excuses.

use super::may_command::State;
use super::quiet_after_engaging::cant_judge;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;
use crate::spec::facts::TapWiring;

const CARD: RuleCard = RuleCard {
    name: "own tap is not a driver tap",
    sentence: "The box disengages only for a cause shortly before; its own pulse is none.",
    hazard: "The box hands back shifting by surprise, and the driver relies on shifts that no longer come.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "own command while engaged", least: 20 },
        Situation { name: "disengaged for a cause", least: 3 },
        Situation { name: "own pulse read back", least: 20 },
    ],
    limits: &["cause-window"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks, judge, says };

fn asks(spec: &Spec, situation: usize) -> bool {
    situation != 2 || spec.facts.tap_wiring == TapWiring::Shared
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if !view.story.declares {
        return;
    }
    let (limits, tick) = (&view.spec.limits, view.spec.facts.tick.get());
    for command in view.story.commands.iter().filter(|c| c.state == State::May) {
        tally.reached(0);
        if view.spec.facts.tap_wiring == TapWiring::Shared {
            tally.reached(2);
        }
        tally.seen(CAP_S, command.at_ms);
    }
    for let_go in &view.story.hand.let_go {
        // Announcing takes its time; a flag doesn't.
        let window =
            limits.cause_window.get() + tick + if let_go.flagged { 0.0 } else { limits.announced_within.get() };
        match let_go.excuses.last_ms() {
            Some(last) => {
                let margin = s(window - f64::from(let_go.at_ms - last));
                if margin >= 0.0 {
                    tally.reached(1);
                }
                tally.seen(margin.max(-CAP_S), let_go.at_ms);
            }
            None => tally.seen(-CAP_S, let_go.at_ms),
        }
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let excuse = view.story.hand.let_go.iter().find(|l| l.at_ms == at_ms).and_then(|l| l.excuses.last_ms());
    let since = match excuse {
        Some(last) => format!("the last cause ended {:.2} s before", f64::from(at_ms - last) / 1000.0),
        None => "there was no cause".into(),
    };
    let own = view.story.commands.iter().rev().find(|c| c.at_ms <= at_ms && at_ms - c.at_ms <= 1000);
    let own = own.map_or(String::new(), |c| format!("; its own pulse began {} ms before", at_ms - c.at_ms));
    format!("the box lets go at {}; {since}{own}", say::time(at_ms))
}
