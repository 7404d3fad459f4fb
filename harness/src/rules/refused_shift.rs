//! A gearbox that refuses is asked again once or so, and then left alone.
//!
//! A repetition is a command in the direction of the one before, from the same gear, with no shift since. What comes
//! ten seconds and more after the last try is a new wish.

use super::story::Command;
use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;

const CARD: RuleCard = RuleCard {
    name: "refused shift handled",
    sentence: "A command that the gearbox doesn't obey is repeated no more than the stated number of times.",
    hazard: "Tap after tap into a gearbox that refuses: once it obeys, more than one step comes, at a time nobody meant.",
    severity: Severity::Major,
    unit: "retries",
    near: 1.0,
    judged_on: &[Basis::True],
    situations: &[Situation { name: "command that the gearbox didn't obey", least: 10 }],
    limits: &["refused-retries", "shift-confirmed"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks: all, judge, says };

/// A try that comes this long after the last one is a new wish, ms (invented).
const NEW_WISH_MS: u32 = 10_000;

fn cant_judge(spec: &Spec) -> Option<String> {
    let signals = spec.facts.signals;
    let unread = (!signals.gear && !signals.engine_speed)
        .then(|| "the box reads neither gear nor engine speed, so it can't know a refusal".to_owned());
    // Only a limit at the gear, lowered, must show a shift.
    unread.or_else(|| gear::cant_be_known(spec).filter(|_| gear::unread_below_limit(spec)))
}

/// No shift has come from a command until another time, and it could have.
fn disobeyed(view: &View<'_>, at: usize, until_ms: u32) -> bool {
    let Some(command) = view.story.commands.get(at) else { return false };
    let limit = view.spec.vehicle.gearbox.gate.means == GateMeans::RangeLimit;
    // Under a range limit the gearbox may stay below it as it likes: only a limit at the gear, lowered, must show.
    let must = !limit || (command.direction == Direction::Down && command.gear_seen == Some(command.gear_true));
    must && view.story.shifts.iter().all(|s| s.to_ms <= command.at_ms || s.from_ms > until_ms)
}

/// How often a command repeats what the gearbox hasn't done, and since when it was asked for. What was refused before the
/// driver handed over anew is no longer held against the box.
fn retries(view: &View<'_>, at: usize) -> (u32, u32) {
    let commands = &view.story.commands;
    let (mut count, mut at) = (0, at);
    let mut first_ms = commands.get(at).map_or(0, |c| c.at_ms);
    while let Some((before, command)) = at.checked_sub(1).and_then(|b| Some((commands.get(b)?, commands.get(at)?))) {
        let again = before.direction == command.direction
            && before.gear_true == command.gear_true
            && command.at_ms - before.at_ms < NEW_WISH_MS
            && !view.story.hand.take_overs.iter().any(|at| (before.at_ms..command.at_ms).contains(at))
            && disobeyed(view, at - 1, command.at_ms);
        if !again {
            break;
        }
        (count, first_ms, at) = (count + 1, before.at_ms, at - 1);
    }
    (count, first_ms)
}

/// The box could know that the gear had not moved: it has read it since it first asked, long enough after.
fn told(view: &View<'_>, command: &Command, first_ms: u32) -> bool {
    let confirmed = view.spec.limits.shift_confirmed.ms();
    command.gear_told.is_some_and(|(gear, at)| gear == command.gear_true && at > first_ms)
        && command.at_ms - first_ms >= confirmed.min(view.spec.limits.shift_blind.ms())
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if cant_judge(view.spec).is_some() {
        return;
    }
    let allowed = f64::from(view.spec.limits.refused_retries);
    let confirmed = view.spec.limits.shift_confirmed.ms();
    for (at, command) in view.story.commands.iter().enumerate() {
        if command.at_ms + confirmed < view.story.end_ms && disobeyed(view, at, command.at_ms + confirmed) {
            tally.reached(0);
            tally.truth(allowed, 0.0, command.at_ms);
        }
        let (count, first_ms) = retries(view, at);
        if count > 0 {
            tally.truth_if_known(allowed - f64::from(count), 0.0, command.at_ms, told(view, command, first_ms));
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let at = view.story.commands.iter().position(|c| c.at_ms == at_ms);
    let (count, first_ms) = at.map_or((0, at_ms), |at| retries(view, at));
    format!(
        "{}, refused since {}: repetition {count}; {} allowed",
        say::command_at(view, basis, at_ms),
        say::time(first_ms),
        view.spec.limits.refused_retries
    )
}
