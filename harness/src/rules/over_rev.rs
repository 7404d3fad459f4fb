//! Every commanded downshift lands below the redline by the guard; the gearbox's own protection earns no credit.

use super::rpm_floor::{landing_rpm, tolerance_kmh};
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};
use crate::signal::Direction;
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;

const CARD: RuleCard = RuleCard {
    name: "over-rev after downshift",
    sentence: "Every commanded downshift lands at or below the redline less the guard, whatever the gearbox would refuse.",
    hazard: "A downshift past the redline: over-speed of engine and converter, the driven axle breaks away, sudden loss of drive.",
    severity: Severity::Critical,
    unit: "rpm",
    near: 100.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "downshift commanded", least: 20 },
        Situation { name: "with the pedal to the floor", least: 1 },
    ],
    limits: &["redline-guard"],
    map_can_break: true,
    leans_on: &[VehicleData::Ratios, VehicleData::Engine],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn limit_rpm(spec: &Spec) -> f64 {
    spec.vehicle.engine.redline.get() - spec.limits.redline_guard.0
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let spec = view.spec;
    let limit = limit_rpm(spec);
    let held = spec.vehicle.gearbox.gate.means == GateMeans::HeldGear;
    for (at, command) in view.story.commands.iter().enumerate().filter(|(_, c)| c.direction == Direction::Down) {
        if let (Some(gear @ 2..), Some(speed)) = (command.gear_seen, command.speed_seen) {
            tally.reached(0);
            if command.pedal_seen.is_some_and(|p| p >= 90.0) {
                tally.reached(1);
            }
            tally.seen(limit - landing_rpm(spec, gear - 1, speed, command.low_seen(spec)), command.at_ms);
        }
        let shift = view.story.shifts.iter().find(|s| s.command == Some(at) && s.ended);
        let landed = match shift {
            Some(shift) => Some((shift.to, shift.speed_kmh)),
            // Refused: judged as if it had been obeyed. Under a range limit there may have been nothing to obey.
            None if held && command.gear_true >= 2 => Some((command.gear_true - 1, command.speed_true)),
            None => None,
        };
        if let Some((gear, speed)) = landed {
            let rise = (speed - command.speed_true).max(0.0);
            let tolerance = (tolerance_kmh(spec, command.accel_mps2) + rise) * spec.rpm_per_kmh(gear);
            let margin = limit - landing_rpm(spec, gear, speed, command.low_range);
            // As with locked wheels: whether the box should have doubted it is the matter of 'implausible speed holds'.
            let slack_kmh = tolerance_kmh(spec, command.accel_mps2);
            let misled = command.speed_seen.is_some_and(|seen| command.speed_true - seen > slack_kmh);
            tally.truth_if_known(margin, tolerance, command.at_ms, command.gear_known() && !misled);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let limit = limit_rpm(view.spec);
    let Some(command) = view.story.commands.iter().find(|c| c.at_ms == at_ms) else {
        return say::command_at(view, basis, at_ms);
    };
    let (gear, speed) = match basis {
        Basis::Seen => (command.gear_seen, command.speed_seen.unwrap_or(0.0)),
        Basis::True => (Some(command.gear_true), command.speed_true),
    };
    let landing = gear.map_or(String::new(), |g| {
        format!(", lands at {:.0} rpm", landing_rpm(view.spec, g.saturating_sub(1).max(1), speed, command.low_range))
    });
    format!("{}{landing}; the limit is {limit:.0}", say::command(command, basis))
}
