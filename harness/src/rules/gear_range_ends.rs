//! No up command in the top gear: beyond the last gear of gearbox and map there is nothing to ask for.
//!
//! The lower end is 'never commands first'.

use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "gear range ends",
    sentence: "No up command in the highest gear of gearbox and map, by the gear the box could know or by the actual gear.",
    hazard: "A tap past the end: a warning chime, on some vehicles another mode, and a counted gear that is off.",
    severity: Severity::Minor,
    unit: "gears",
    near: 1.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "up command into the top gear", least: 3 },
        Situation { name: "faster than the last up line in the top gear", least: 1 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn top(spec: &Spec) -> u8 {
    spec.map.top_gear().min(spec.gears())
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let top = top(view.spec);
    let margin = |gear: u8| f64::from(top) - 1.0 - f64::from(gear);
    for command in view.story.commands.iter().filter(|c| c.direction == Direction::Up) {
        if let Some(gear) = command.gear_seen {
            if gear + 1 == top {
                tally.reached(0);
            }
            tally.seen(margin(gear), command.at_ms);
        }
        // Where the gearbox has gone up by itself, the up command that follows is no fault of order.
        let by_itself = command.gear_by_itself && command.gear_seen.is_some_and(|seen| seen < command.gear_true);
        if !by_itself {
            tally.truth_if_known(margin(command.gear_true), 0.0, command.at_ms, command.gear_known());
        }
    }
    let Some(last_kmh) = view.spec.map.up_kmh(top.saturating_sub(1), 100.0) else { return };
    let beyond = view.recording.rows.windows(2).any(|pair| match pair {
        [a, b] => {
            let t = &b.truth;
            t.gear == top
                && t.lever == crate::signal::Lever::Gate
                && b.engaged.unwrap_or(true)
                && a.truth.speed_kmh < last_kmh
                && t.speed_kmh >= last_kmh
        }
        _ => false,
    });
    if beyond {
        tally.reached(1);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    format!("{}; the top gear is {}", say::command_at(view, basis, at_ms), top(view.spec))
}
