//! Every commanded upshift lands at or above the engine speed from which the engine pulls.
//!
//! Landing speed is kinematic, n = v/(3.6·r)·i·60/2π with nothing slipping: with an open converter the engine turns
//! faster, so this is the conservative figure for a floor.

use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};
use crate::signal::Direction;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "rpm floor after upshift",
    sentence: "Every commanded upshift lands at or above the rpm floor.",
    hazard: "An upshift into a gear the engine can't pull: it bogs, doesn't answer the pedal when pulling out, and hunts on a grade.",
    severity: Severity::Major,
    unit: "rpm",
    near: 100.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "upshift commanded", least: 20 },
        Situation { name: "with closed pedal", least: 1 },
    ],
    limits: &["rpm-floor"],
    map_can_break: true,
    leans_on: &[VehicleData::Ratios],
    version: 4,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// Speed that may be lost while a shift runs, km/h: 1.5 on 10 % grade or towing on 6 % (our closed-loop experiments).
const DROOP_KMH: f64 = 1.5;
/// The speed read is a whole number of km/h.
const QUANTUM_KMH: f64 = 1.0;

/// Tolerance on the true view, km/h: one count, and what a falling speed loses over the link's worst age.
pub(super) fn tolerance_kmh(spec: &Spec, accel_mps2: f64) -> f64 {
    let link = &spec.link;
    let worst_age_s = (link.period.get() + 2.0 * link.answer_most.get()) / 1000.0;
    QUANTUM_KMH + accel_mps2.abs() * 3.6 * worst_age_s
}

/// Engine speed after a shift into a gear, nothing slipping.
pub(super) fn landing_rpm(spec: &Spec, gear: u8, speed_kmh: f64, low_range: bool) -> f64 {
    let low = if low_range { spec.vehicle.gearbox.low_range.map_or(1.0, |r| r.get()) } else { 1.0 };
    spec.rpm_per_kmh(gear) * low * speed_kmh.abs()
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let floor = view.spec.limits.rpm_floor.0;
    for command in view.story.commands.iter().filter(|c| c.direction == Direction::Up) {
        let (Some(gear), Some(speed)) = (command.gear_seen, command.speed_seen) else { continue };
        if gear >= view.spec.gears() {
            continue;
        }
        tally.reached(0);
        if command.pedal_seen.is_some_and(|p| p < 3.0) {
            tally.reached(1);
        }
        tally.seen(landing_rpm(view.spec, gear + 1, speed, command.low_seen(view.spec)) - floor, command.at_ms);
    }
    for shift in view.story.shifts.iter().filter(|s| s.ended && s.to > s.from) {
        let Some(command) = shift.command.and_then(|at| view.story.commands.get(at)) else { continue };
        let margin = landing_rpm(view.spec, shift.to, shift.speed_kmh, command.low_range) - floor;
        let droop = (command.speed_true - shift.speed_kmh).clamp(0.0, DROOP_KMH);
        let tolerance = (tolerance_kmh(view.spec, command.accel_mps2) + droop) * view.spec.rpm_per_kmh(shift.to);
        // As fast as the command's own acceleration lets one foresee: brakes that come after it can't be known.
        let shift_s = f64::from(shift.to_ms.saturating_sub(command.at_ms)) / 1000.0;
        let foreseen_kmh = command.speed_true + command.accel_mps2.min(0.0) * 3.6 * shift_s;
        let surprised = landing_rpm(view.spec, shift.to, foreseen_kmh, command.low_range) >= floor;
        // Nor is the brake wired to the box: speed that it takes away is no fault of the map's upshift.
        let rows = view.recording.rows_within(command.at_ms, shift.to_ms);
        let braked = rows.iter().any(|row| row.truth.brake_mps2 > 0.0);
        // Nor that what it read was no road speed, as with spinning wheels; whether it should have doubted that is the
        // matter of 'implausible speed holds'.
        let slack_kmh = tolerance_kmh(view.spec, command.accel_mps2);
        let misled = command.speed_seen.is_some_and(|seen| seen - command.speed_true > slack_kmh);
        let known = command.gear_known() && !surprised && !braked && !misled;
        tally.truth_if_known(margin, tolerance, command.at_ms, known);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let floor = view.spec.limits.rpm_floor.0;
    let Some((at, command)) = view.story.commands.iter().enumerate().find(|(_, c)| c.at_ms == at_ms) else {
        return say::command_at(view, basis, at_ms);
    };
    let landing = match basis {
        Basis::Seen => command
            .gear_seen
            .map(|g| landing_rpm(view.spec, g + 1, command.speed_seen.unwrap_or(0.0), command.low_seen(view.spec))),
        Basis::True => view
            .story
            .shifts
            .iter()
            .find(|s| s.command == Some(at))
            .map(|s| landing_rpm(view.spec, s.to, s.speed_kmh, command.low_range)),
    };
    let landing = landing.map_or(String::new(), |rpm| format!(", lands at {rpm:.0} rpm"));
    format!("{}{landing}; the limit is {floor:.0}", say::command(command, basis))
}
