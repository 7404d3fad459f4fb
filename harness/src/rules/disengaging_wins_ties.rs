//! In the very tick in which a cause to disengage begins, nothing engages and no command starts.
//!
//! This rule has that one tick; what comes later is charged to the cause's own rule. It judges causes that need no
//! debouncing: range, ignition, and the driver's tap, whose edges the box is given. The lever may bounce, so it is
//! judged by 'leaving the gate disengages'; data that are lost have long been too old to command or engage on; and a
//! box without supply has no contacts.

use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "disengaging wins ties",
    sentence: "In a tick that holds a cause to disengage nothing engages and no command starts.",
    hazard: "Code that depends on its own order engages or shifts just as driver or fault end it.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.01,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "a cause just as engaging is due", least: 3 },
        Situation { name: "a cause just as a shift is due", least: 3 },
        Situation { name: "two causes in one tick", least: 3 },
        Situation { name: "a cause inside an own pulse", least: 3 },
        Situation { name: "a cause inside a shift", least: 3 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks, judge, says };

/// Whether a shift is due by the map only a known gear tells.
fn asks(spec: &Spec, which: usize) -> bool {
    which != 1 || gear::cant_be_known(spec).is_none()
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let story = view.story;
    for tie in &story.hand.ties {
        let meets = [tie.engaging, tie.shift_due, tie.causes >= 2, tie.in_pulse, tie.in_shift];
        for (situation, _) in meets.iter().enumerate().filter(|(_, met)| **met) {
            tally.reached(situation);
        }
        if tie.acts {
            tally.seen(-s(view.spec.facts.tick.get()), tie.at_ms);
            continue;
        }
        // To the nearest command or engagement: so much sooner or later, and the two would have met.
        let acts = story.commands.iter().map(|c| c.at_ms).chain(story.hand.rises.iter().copied());
        let nearest = acts.filter(|&at| at != tie.at_ms).map(|at| s(f64::from(at.abs_diff(tie.at_ms))));
        tally.seen(nearest.fold(CAP_S, f64::min), tie.at_ms);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let row = view.recording.rows.iter().find(|r| r.t_ms == at_ms);
    let cause = match row.map(|r| (r.inputs.range, r.inputs.ignition)) {
        Some((Some(range), _)) if range != crate::signal::Range::High => "the range leaves high",
        Some((_, false)) => "the ignition goes off",
        _ => "the driver taps",
    };
    if view.story.commands.iter().any(|c| c.at_ms == at_ms) {
        return format!(
            "{} in the very tick in which {cause}, at {}",
            say::command_at(view, basis, at_ms),
            say::time(at_ms)
        );
    }
    format!("the box engages in the very tick in which {cause}, at {}", say::time(at_ms))
}
