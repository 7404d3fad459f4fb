//! Opposite commands stay apart, unless pedal or speed has changed enough to want the other gear. A box that has started
//! afresh in between can't know of the first.

use super::story::Command;
use super::tally::{Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "opposite-shift dwell",
    sentence: "Opposite commands are at least the dwell apart, unless the pedal changed by the stated share or the speed read by the pair's gap.",
    hazard: "See-sawing between two gears: wear, heat, and a driver who can't tell what comes next.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "opposite commands within 10 s", least: 5 }],
    limits: &["opposite-dwell", "opposite-pedal"],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// v_up − v_dn of the pair between two opposite commands, at the pedal read, km/h.
fn gap_kmh(view: &View<'_>, before: &Command, command: &Command) -> Option<f64> {
    let pedal = command.pedal_seen?;
    let gear = before.gear_seen?;
    let low = if before.direction == Direction::Up { gear } else { gear.checked_sub(1)? };
    Some(view.spec.map.up_kmh(low, pedal)? - view.spec.map.down_kmh(low + 1, pedal)?)
}

fn wanted(view: &View<'_>, before: &Command, command: &Command) -> bool {
    let pedal = match (before.pedal_seen, command.pedal_seen) {
        (Some(a), Some(b)) => (a - b).abs() >= view.spec.limits.opposite_pedal.0,
        _ => false,
    };
    let speed = match (before.speed_seen, command.speed_seen, gap_kmh(view, before, command)) {
        (Some(a), Some(b), Some(gap)) => (a - b).abs() > gap.max(0.0),
        _ => false,
    };
    pedal || speed
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let dwell = view.spec.limits.opposite_dwell.get();
    let tick = view.spec.facts.tick.get();
    for pair in view.story.commands.windows(2) {
        let [before, command] = pair else { continue };
        if before.direction == command.direction || view.story.hand.forgot(before.at_ms, command.at_ms) {
            continue;
        }
        let apart = f64::from(command.at_ms - before.at_ms);
        if apart <= 10_000.0 {
            tally.reached(0);
        }
        if apart + tick < dwell && wanted(view, before, command) {
            tally.excused();
            continue;
        }
        tally.seen(s(apart + tick - dwell), command.at_ms);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let commands = &view.story.commands;
    let at = commands.iter().position(|c| c.at_ms == at_ms).unwrap_or(0);
    let before = at.checked_sub(1).and_then(|i| commands.get(i));
    let before = before.map_or(String::new(), |b| {
        format!(", {:.2} s after the {}", f64::from(at_ms - b.at_ms) / 1000.0, say::command(b, basis))
    });
    format!(
        "{}{before}; the dwell is {:.1} s",
        say::command_at(view, basis, at_ms),
        view.spec.limits.opposite_dwell.get() / 1000.0
    )
}
