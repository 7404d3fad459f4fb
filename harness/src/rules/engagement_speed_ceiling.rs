//! The box engages only at or below the ceiling.

use super::may_command::{State, Why};
use super::rpm_floor::tolerance_kmh;
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "engagement speed ceiling",
    sentence: "The box engages only when the speed read is at the ceiling or below.",
    hazard: "The box takes over shifting at motorway speed, in a gear it doesn't know.",
    severity: Severity::Critical,
    unit: "km/h",
    near: 1.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "engaged", least: 3 },
        Situation { name: "speed above the ceiling alone in the way", least: 2 },
    ],
    limits: &["engagement-speed-ceiling"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let ceiling = view.spec.limits.engagement_speed_ceiling.0;
    for _ in 0..view.story.only_missing[2] {
        tally.reached(1);
    }
    let first_only = view.spec.facts.ceiling_binds == crate::spec::facts::CeilingBinds::First;
    let mut engaged = false;
    for e in &view.story.engagings {
        let charged = matches!(e.state, State::MustNot(Why::Ceiling));
        let permitted = !matches!(e.state, State::MustNot(_));
        if !charged && !permitted {
            continue;
        }
        tally.reached(0);
        // The first closure of a box that shows nothing may come long after it engaged: the monitor alone decides.
        let binds = charged || e.declared && !(first_only && engaged);
        engaged |= permitted;
        if !binds {
            continue;
        }
        if let Some(speed) = e.speed_seen {
            tally.seen(ceiling - speed, e.at_ms);
        }
        let (speed, tolerance) = (e.speed_true.abs(), tolerance_kmh(view.spec, e.accel_mps2));
        // A speed read that was no road speed, as behind spinning wheels or a link that stands still, tells no box of the
        // ceiling; how soon one engages by it is a matter of its pace.
        let misled = e.speed_seen.is_some_and(|seen| speed - seen > tolerance);
        tally.truth_if_known(ceiling - speed, tolerance, e.at_ms, !misled);
    }
    for command in view.story.commands.iter().filter(|c| matches!(c.state, State::MustNot(Why::Ceiling))) {
        if let Some(speed) = command.speed_seen {
            tally.seen(ceiling - speed, command.at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let ceiling = view.spec.limits.engagement_speed_ceiling.0;
    let engaging = view.story.engagings.iter().find(|e| e.at_ms == at_ms);
    let speed = match (basis, engaging) {
        (Basis::Seen, Some(e)) => e.speed_seen.map(|v| format!("{v:.0} km/h")),
        (Basis::True, Some(e)) => Some(format!("{:.1} km/h", e.speed_true)),
        (_, None) => None,
    };
    match speed {
        Some(speed) => format!("the box engages at {speed}; the ceiling is {ceiling} km/h"),
        None => format!("{} above the ceiling of {ceiling} km/h", say::command_at(view, basis, at_ms)),
    }
}
