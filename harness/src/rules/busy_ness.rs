//! Not too many shifts in a minute.
//!
//! Launch and stop don't count: ups in a row from standstill, downs in a row to standstill. Steps in a row in one
//! direction count as one, and not at all where the driver asked for them with the foot: the pedal moved by the share
//! that excuses an early opposite command, since the command before them. Nor does a tap that moves no gear that can be
//! known, as under a range limit.

use super::may_command::State;
use super::story::Command;
use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "busy-ness",
    sentence: "Outside launch and stop, and with no great change of pedal, no more than the stated number of shifts come in 60 s; steps in a row count once.",
    hazard: "A gearbox that never rests: wear, heat, and a driver who switches the box off.",
    severity: Severity::Minor,
    unit: "shifts",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "60 s of driving engaged", least: 10 },
        Situation { name: "three such shifts in 60 s", least: 1 },
    ],
    limits: &["busy-shifts", "opposite-pedal", "standstill"],
    map_can_break: true,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// Length over which shifts are counted, ms.
const MINUTE_MS: u32 = 60_000;

/// The command belongs to a launch or a stop.
fn launches_or_stops(view: &View<'_>, at: usize) -> bool {
    let commands = &view.story.commands;
    let stood = |from_ms: u32, to_ms: u32| view.story.stood_between(view.spec, from_ms, to_ms);
    let Some(command) = commands.get(at) else { return false };
    let mut edge_ms = command.at_ms;
    if command.direction == Direction::Up {
        for before in commands.iter().take(at).rev() {
            if stood(before.at_ms, edge_ms) {
                return true;
            }
            if before.direction == Direction::Down {
                return false;
            }
            edge_ms = before.at_ms;
        }
        return stood(0, edge_ms);
    }
    for after in commands.iter().skip(at + 1) {
        if stood(edge_ms, after.at_ms) {
            return true;
        }
        if after.direction == Direction::Up {
            return false;
        }
        edge_ms = after.at_ms;
    }
    stood(edge_ms, view.story.end_ms)
}

fn counts(view: &View<'_>, at: usize) -> bool {
    let commands = &view.story.commands;
    let pedal = |c: Option<&Command>| c.and_then(|c| c.pedal_seen);
    let (before, this) = (at.checked_sub(1).and_then(|i| commands.get(i)), commands.get(at));
    let known = this.is_some_and(|c| c.gear_seen.is_some());
    let goes_on = before.zip(this).is_some_and(|(a, b)| a.direction == b.direction);
    let swing = view.spec.limits.opposite_pedal.0;
    let moved = pedal(before).zip(pedal(this)).is_some_and(|(a, b)| (a - b).abs() >= swing);
    known && !goes_on && !moved && !launches_or_stops(view, at)
}

/// The most such shifts in a minute, and when the last of them came.
fn most(view: &View<'_>) -> (u32, u32) {
    let commands = &view.story.commands;
    let allowed = usize::from(view.spec.limits.busy_shifts);
    let mut worst = (0, 0);
    for (end, last) in commands.iter().enumerate() {
        // Fewer shifts than the worst so far can't be worse.
        let first = commands.partition_point(|c| c.at_ms + MINUTE_MS <= last.at_ms);
        if end + 1 - first <= usize::try_from(worst.0).unwrap_or(allowed) {
            continue;
        }
        let count = (first..=end).filter(|&at| counts(view, at)).count();
        let count = u32::try_from(count).unwrap_or(u32::MAX);
        if count > worst.0 {
            worst = (count, last.at_ms);
        }
    }
    worst
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    for span in view.story.spans.iter().filter(|s| s.state == State::May) {
        for _ in 0..(span.to_ms - span.from_ms) / MINUTE_MS {
            tally.reached(0);
        }
    }
    if view.story.commands.is_empty() {
        return;
    }
    let (count, at_ms) = most(view);
    if count >= 3 {
        tally.reached(1);
    }
    tally.seen(f64::from(view.spec.limits.busy_shifts) - f64::from(count), at_ms);
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let (count, last_ms) = most(view);
    let _ = at_ms;
    format!(
        "{count} shifts within 60 s outside launch and stop, the last {} at {}; {} allowed",
        say::command_at(view, basis, last_ms),
        say::time(last_ms),
        view.spec.limits.busy_shifts
    )
}
