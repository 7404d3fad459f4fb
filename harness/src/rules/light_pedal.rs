//! With a light pedal no upshift comes below the map's speed for a closed one.
//!
//! A foot that comes off just below the line of the closed pedal must not bring the upshift of a slower one. A line
//! rises with the pedal, so a box that still goes by a pedal a little older needs more speed, not less.

use super::only_on_the_line::step;
use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "light-pedal minimum upshift speed",
    sentence: "With a light pedal an up command comes at the map's speed for a closed pedal or above.",
    hazard: "Too early an upshift when the foot comes off: the engine bogs and doesn't answer when pulling out.",
    severity: Severity::Major,
    unit: "km/h",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "upshift with a light pedal", least: 5 },
        Situation { name: "foot off just below the line", least: 1 },
    ],
    limits: &["light-pedal", "response-updates"],
    map_can_break: true,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// 'Just below' is within this, km/h.
const JUST_KMH: f64 = 4.0;

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (spec, story) = (view.spec, view.story);
    for command in story.commands.iter().filter(|c| c.direction == Direction::Up) {
        if command.pedal_seen.is_none_or(|p| p > spec.limits.light_pedal.0) {
            continue;
        }
        let Some(speeds) = story.speeds_by(spec, command.at_ms) else { continue };
        let beyond = |gear: u8| {
            let (from, to) = step(spec, gear, Direction::Up)?;
            Some(speeds.most - spec.map.speed_kmh(from, to, 0.0)?)
        };
        let Some(margin) = command.gear_seen.and_then(beyond) else { continue };
        let other = command.gear_read.filter(|_| command.gear_read != command.gear_seen).and_then(beyond);
        tally.reached(0);
        tally.seen(other.map_or(margin, |o| o.max(margin)), command.at_ms);
    }
    for lift in &story.lifts {
        let line = spec.map.up_kmh(lift.gear, 0.0);
        if line.is_some_and(|line| lift.speed_kmh < line && lift.speed_kmh >= line - JUST_KMH) {
            tally.reached(1);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let command = view.story.commands.iter().find(|c| c.at_ms == at_ms);
    let line = command.and_then(|c| view.spec.map.up_kmh(c.gear_seen?, 0.0));
    let line = line.map_or(String::new(), |kmh| format!("; with a closed pedal the line is at {kmh:.0} km/h"));
    format!("{}{line}", say::command_at(view, basis, at_ms))
}
