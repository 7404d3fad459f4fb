//! No command before the map asks for it.
//!
//! Judged on what the box has read: speed and pedal arrive one after the other, so each newest value goes with the
//! newest and the previous one of the other. A box may also take a mean or a median, or wait until some updates agree,
//! and then shift a moment later, when a turning speed has already left the line. So all pairs count that it may have
//! gone by within the updates that the limit on its response allows; a wish older than that is no reason to shift.
//! Where a gear signal says another gear than the taps have led to, each of the two gears may be meant.

use super::story::Command;
use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "only on the line",
    sentence: "An up command comes at its line or above, a down command at its line or below, by what the box has just read.",
    hazard: "Shifts that the map doesn't ask for: too low a speed to pull, or a downshift that the driver doesn't expect.",
    severity: Severity::Major,
    unit: "km/h",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "upshift commanded", least: 20 },
        Situation { name: "downshift commanded", least: 20 },
    ],
    limits: &["response-updates"],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// The gears of a command: left and entered. Below the lowest gear out of which it commands up, a box goes by that gear's
/// line.
pub(super) fn step(spec: &Spec, gear: u8, direction: Direction) -> Option<(u8, u8)> {
    match direction {
        Direction::Up => Some(gear.max(spec.facts.lowest_up_from())).map(|from| (from, from + 1)),
        Direction::Down => gear.checked_sub(1).map(|to| (gear, to)),
    }
}

/// How far beyond its line a command lies at best, km/h; `None` where the gear can't be known or the map has no line.
pub(super) fn beyond_kmh(view: &View<'_>, command: &Command) -> Option<f64> {
    let by = |gear: u8| {
        let (from, to) = step(view.spec, gear, command.direction)?;
        view.story.beyond_kmh(view.spec, command.at_ms, from, to)
    };
    let best = by(command.gear_seen?)?;
    let read = command.gear_read.filter(|_| command.gear_read != command.gear_seen).and_then(by);
    Some(read.map_or(best, |other| best.max(other)))
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    for command in &view.story.commands {
        let Some(beyond) = beyond_kmh(view, command) else { continue };
        tally.reached(usize::from(command.direction == Direction::Down));
        tally.seen(beyond, command.at_ms);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let command = view.story.commands.iter().find(|c| c.at_ms == at_ms);
    let line = command.and_then(|c| {
        let (from, to) = step(view.spec, c.gear_seen?, c.direction)?;
        view.spec.map.speed_kmh(from, to, c.pedal_seen?).map(|kmh| (kmh, c.gear_seen < Some(from)))
    });
    let line = line.map_or(String::new(), |(kmh, below)| {
        let whose = if below { ", that of the lowest gear: below it the gearbox goes up by itself" } else { "" };
        format!("; the line is at {kmh:.1} km/h{whose}")
    });
    format!("{}{line}, and no pair just read lies beyond it", say::command_at(view, basis, at_ms))
}
