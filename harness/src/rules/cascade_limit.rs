//! No run of downshifts faster than a driver could follow, unless the road speed has really fallen that far.
//!
//! Really fallen: the true speed lies on the closed-pedal down line of the gear left or below, so that even with the
//! foot off the map would ask for the step.

use super::rpm_floor::tolerance_kmh;
use super::story::Command;
use super::tally::Tally;
use super::{Rule, View, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "downshift cascade limit",
    sentence: "No more down commands within the cascade window than allowed, unless the true speed has fallen to the closed-pedal line of the step.",
    hazard: "Down through the gears on a false speed or a stab: when the wheels grip again the driven axle breaks away and the engine over-speeds.",
    severity: Severity::Critical,
    unit: "steps",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "as many down commands within the window as are allowed", least: 3 },
        Situation { name: "down command with the pedal to the floor", least: 3 },
    ],
    limits: &["cascade-steps", "cascade-window"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks, judge, says };

/// Whether two steps fit into the window: not where the box has to wait longer between commands.
fn asks(spec: &crate::spec::Spec, situation: usize) -> bool {
    let limits = &spec.limits;
    let waits = limits.shift_blind.get() * f64::from(limits.cascade_steps.saturating_sub(1));
    situation != 0 || waits < limits.cascade_window.get()
}

fn downs<'a>(view: &View<'a>) -> impl Iterator<Item = &'a Command> + Clone {
    view.story.commands.iter().filter(|c| c.direction == Direction::Down)
}

/// Down commands within the window that ends with this one, itself included.
fn count(view: &View<'_>, command: &Command) -> u32 {
    let window = view.spec.limits.cascade_window.get() - view.spec.facts.tick.get();
    let within = |c: &&Command| c.at_ms <= command.at_ms && f64::from(command.at_ms - c.at_ms) < window;
    u32::try_from(downs(view).filter(within).count()).unwrap_or(u32::MAX)
}

fn really_fallen(view: &View<'_>, command: &Command) -> bool {
    let gear = command.gear_seen.unwrap_or(0).max(command.gear_true);
    let line = view.spec.map.down_kmh(gear, 0.0);
    line.is_some_and(|line| command.speed_true <= line + tolerance_kmh(view.spec, command.accel_mps2))
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let allowed = u32::from(view.spec.limits.cascade_steps);
    for command in downs(view) {
        let count = count(view, command);
        if count >= allowed {
            tally.reached(0);
        }
        if command.pedal_seen.is_some_and(|pedal| pedal >= 90.0) {
            tally.reached(1);
        }
        if count > allowed && really_fallen(view, command) {
            tally.excused();
        } else {
            tally.seen(f64::from(allowed) - f64::from(count), command.at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let limits = &view.spec.limits;
    let count = downs(view).find(|c| c.at_ms == at_ms).map_or(0, |c| count(view, c));
    format!(
        "{}, {count} down commands within {:.1} s; {} allowed",
        say::command_at(view, basis, at_ms),
        limits.cascade_window.get() / 1000.0,
        limits.cascade_steps
    )
}
