//! No command before the shift of the command before has ended and settled. Of one before it started afresh a box knows
//! nothing.

use super::tally::{Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;
use crate::spec::vehicle::GateMeans;

const CARD: RuleCard = RuleCard {
    name: "not while shifting",
    sentence: "No command until the shift before is complete and settled; without a gear signal, none within the blind time after the command before.",
    hazard: "A tap into a running shift is lost or doubled: the counted gear is off by one, and the next shift is the wrong one.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[Situation { name: "two commands within 5 s", least: 10 }],
    limits: &["shift-settle", "shift-blind", "shift-confirmed"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    let tick = view.spec.facts.tick.get();
    for pair in view.story.commands.windows(2) {
        let [before, command] = pair else { continue };
        if view.story.hand.forgot(before.at_ms, command.at_ms) {
            continue;
        }
        let spacing_ms = command.at_ms - before.at_ms;
        if spacing_ms <= 5000 {
            tally.reached(0);
        }
        // A gear signal that shows the new gear tells the box that the shift is over.
        if !command.gear_confirmed {
            tally.seen(s(f64::from(spacing_ms) + tick - limits.shift_blind.get()), command.at_ms);
        }
    }
    for shift in view.story.shifts.iter().filter(|shift| shift.command.is_some()) {
        let until = f64::from(shift.to_ms) + limits.shift_settle.get();
        for command in view.story.commands.iter().filter(|c| c.at_ms >= shift.from_ms) {
            let by = shift.command.and_then(|at| view.story.commands.get(at));
            let since_ms = by.map_or(0.0, |b| f64::from(command.at_ms - b.at_ms) + tick);
            // Without a gear signal the box knows no more than the blind time. With one, a gear that hasn't come in the
            // time in which it must is refused, as far as the box can tell; and up to a higher limit the gearbox goes
            // when it likes, or never.
            let held = view.spec.vehicle.gearbox.gate.means == GateMeans::HeldGear;
            let tells = view.spec.facts.signals.gear && (held || by.is_some_and(|b| b.direction == Direction::Down));
            let known = since_ms < limits.shift_blind.get().max(if tells { limits.shift_confirmed.get() } else { 0.0 });
            let known = known && by.is_none_or(|b| !view.story.hand.forgot(b.at_ms, command.at_ms));
            let margin = s((f64::from(command.at_ms) - until).min(5000.0));
            tally.truth_if_known(margin, s(tick), command.at_ms, known);
            if f64::from(command.at_ms) >= until {
                break;
            }
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let commands = &view.story.commands;
    let at = commands.iter().position(|c| c.at_ms == at_ms).unwrap_or(0);
    let before = at.checked_sub(1).and_then(|i| commands.get(i));
    let spacing = before
        .map_or(String::new(), |b| format!(", {:.2} s after the command before", f64::from(at_ms - b.at_ms) / 1000.0));
    let limit = match basis {
        Basis::Seen => format!("the limit is {:.2} s", view.spec.limits.shift_blind.get() / 1000.0),
        Basis::True => "its shift was not complete and settled".into(),
    };
    format!("{}{spacing}; {limit}", say::command_at(view, basis, at_ms))
}
