//! A downshift with the foot off brakes the driven axle no harder than ice bears.
//!
//! The share of its weight that the driven axle needs as grip is
//! µ = [T_drag·i/(η·r) + J_e·Δω/t_shift·i/r] / (m·g·share): engine drag in the new gear, and the torque that spins the
//! engine up while the ratio changes; i is the total ratio of the new gear, η divides since torque flows from the wheels.

use super::rpm_floor::tolerance_kmh;
use super::story::Command;
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};
use crate::signal::Direction;
use crate::spec::Spec;
use crate::units::RAD_S_PER_RPM;

const CARD: RuleCard = RuleCard {
    name: "grip needed by a downshift",
    sentence: "A downshift with the pedal released needs no more grip of the driven axle than stated.",
    hazard: "On a slippery bend the torque step breaks the driven axle away.",
    severity: Severity::Minor,
    unit: "% grip",
    near: 2.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[Situation { name: "downshift with the pedal released", least: 20 }],
    limits: &["grip-needed"],
    map_can_break: true,
    leans_on: &[VehicleData::Ratios, VehicleData::Engine, VehicleData::RoadLoad],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// A pedal read below this is released, %.
const RELEASED_PCT: f64 = 3.0;
/// Standard gravity, m/s².
const GRAVITY: f64 = 9.806_65;
/// On the true view the formula is worth no more than this, % (our choice).
const FORMULA_PCT: f64 = 1.0;

/// Grip (%) that a downshift into a gear needs at a speed.
#[must_use]
pub fn needed_pct(spec: &Spec, into: u8, speed_kmh: f64) -> f64 {
    let (vehicle, gearbox, engine) = (&spec.vehicle, &spec.vehicle.gearbox, &spec.vehicle.engine);
    let ratio = gearbox.ratios.get(usize::from(into.max(1)) - 1).map_or(1.0, |r| r.get()) * gearbox.final_drive.get();
    let per_radius = ratio / vehicle.wheel_radius.get();
    let rpm = spec.rpm_per_kmh(into) * speed_kmh;
    let rise_rpm = (spec.rpm_per_kmh(into) - spec.rpm_per_kmh(into + 1)) * speed_kmh;
    let drag_nm = engine.drag.get() + engine.drag_per_1000rpm.get() * rpm / 1000.0;
    let shift_s = (gearbox.shift.ratio_change.get() / 1000.0).max(0.01);
    let spin_nm = engine.inertia.get() * rise_rpm * RAD_S_PER_RPM / shift_s;
    let efficiency = gearbox.efficiency.get() / 100.0;
    let force_n = (drag_nm / efficiency + spin_nm) * per_radius;
    100.0 * force_n / (vehicle.mass.get() * GRAVITY * vehicle.driven_share.get() / 100.0)
}

/// Judges every downshift with the pedal released.
pub(super) fn judge(view: &View<'_>, tally: &mut Tally) {
    let spec = view.spec;
    let most = spec.limits.grip_needed.0;
    let released =
        |c: &&Command| c.direction == Direction::Down && c.pedal_seen.is_some_and(|p| p < RELEASED_PCT) && !c.low_range;
    for command in view.story.commands.iter().filter(released) {
        tally.reached(0);
        if let (Some(gear @ 2..), Some(kmh)) = (command.gear_seen, command.speed_seen) {
            tally.seen(most - needed_pct(spec, gear - 1, kmh), command.at_ms);
        }
        if command.gear_true >= 2 {
            let kmh = command.speed_true.max(0.0);
            let needed = needed_pct(spec, command.gear_true - 1, kmh);
            let slack_kmh = tolerance_kmh(spec, command.accel_mps2);
            let tolerance = FORMULA_PCT + needed_pct(spec, command.gear_true - 1, kmh + slack_kmh) - needed;
            // A speed read that isn't the road's, and a gear that nothing told, are none of the box's doing.
            let near = command.speed_seen.is_some_and(|seen| (seen - kmh).abs() <= slack_kmh);
            tally.truth_if_known(most - needed, tolerance, command.at_ms, command.gear_known() && near);
        }
    }
}

pub(super) fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let Some(command) = view.story.commands.iter().find(|c| c.at_ms == at_ms) else {
        return say::command_at(view, basis, at_ms);
    };
    let (gear, kmh) = match basis {
        Basis::Seen => (command.gear_seen, command.speed_seen.unwrap_or(0.0)),
        Basis::True => (Some(command.gear_true), command.speed_true.max(0.0)),
    };
    let needed = gear.filter(|&g| g >= 2).map_or(String::new(), |g| {
        format!(" needs {:.1} % grip of the driven axle", needed_pct(view.spec, g - 1, kmh))
    });
    format!("{}{needed}; the limit is {:.0} %", say::command(command, basis), view.spec.limits.grip_needed.0)
}
