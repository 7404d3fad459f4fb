//! No down command when the counted gear or the actual gear is second or first: first is the gearbox's own affair.

use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "never commands first",
    sentence: "No down command out of the box's lowest gear, by the gear it could know or by the actual gear.",
    hazard: "First gear at road speed brakes the driven axle hard, on ice enough to spin the vehicle.",
    severity: Severity::Critical,
    unit: "gears",
    near: 1.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "down command into the lowest gear", least: 1 },
        Situation { name: "rolled to a standstill in the gate", least: 1 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let lowest = view.spec.facts.lowest_gear;
    let margin = |gear: u8| f64::from(gear) - 1.0 - f64::from(lowest);
    for command in view.story.commands.iter().filter(|c| c.direction == Direction::Down) {
        if let Some(gear) = command.gear_seen {
            if gear == lowest + 1 {
                tally.reached(0);
            }
            tally.seen(margin(gear), command.at_ms);
        }
        // Where the gearbox has gone down by itself, the down command that follows is no fault of order.
        let by_itself = command.gear_by_itself && command.gear_seen.is_some_and(|seen| seen > command.gear_true);
        if !by_itself {
            tally.truth_if_known(margin(command.gear_true), 0.0, command.at_ms, command.gear_known());
        }
    }
    let standstill = view.spec.limits.standstill.0;
    let rolled = view.recording.rows.windows(2).any(|w| match w {
        [a, b] => {
            a.truth.speed_kmh > standstill
                && b.truth.speed_kmh <= standstill
                && b.engaged.unwrap_or(true)
                && b.truth.lever == crate::signal::Lever::Gate
        }
        _ => false,
    });
    if rolled {
        tally.reached(1);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    format!(
        "{}; the lowest gear it may command is {}",
        say::command_at(view, basis, at_ms),
        view.spec.facts.lowest_gear
    )
}
