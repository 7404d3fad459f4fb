//! Nothing is commanded of a vehicle that stands, rolls back, or whose engine is off.
//!
//! The margin is the time to the nearest instant at which the command would be right, or wrong, capped.

use super::story::{Command, Forbids};
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "no shift when stopped, reversing or engine off",
    sentence: "No command with the engine off, the lever out of the gate or the speed read below standstill, but for steps towards the lowest gear; no upshift while rolling back.",
    hazard: "Taps into a dead gearbox leave the counted gear wrong at the restart; an upshift while rolling back takes the force that should catch the vehicle.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "command within 5 s of a standstill", least: 10 },
        Situation { name: "standing or rolling back in the gate, engaged", least: 5 },
        Situation { name: "engine off in the gate, engaged", least: 3 },
    ],
    limits: &["standstill", "lever-bounce"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn by_seen(command: &Command, lowest: u8, forbids: &Forbids) -> bool {
    let towards_lowest = command.direction == Direction::Down && command.gear_seen.is_none_or(|gear| gear > lowest);
    forbids.off || forbids.out || (forbids.stopped && !towards_lowest)
}

fn by_truth(command: &Command, forbids: &Forbids) -> bool {
    forbids.off_true || (forbids.backwards && command.direction == Direction::Up)
}

/// Signed seconds to the nearest instant at which the verdict would be the other; below 0 where it is forbidden now.
fn margin_s(view: &View<'_>, command: &Command, forbidden: impl Fn(&Forbids) -> bool) -> f64 {
    let at_ms = command.at_ms;
    let stretches = &view.story.stretches;
    let here = stretches.partition_point(|st| st.to_ms <= at_ms);
    let now = stretches.get(here).is_some_and(|st| forbidden(&st.forbids));
    let before = stretches.get(..here).unwrap_or(&[]).iter().rev().find(|st| forbidden(&st.forbids) != now);
    let after = stretches.get(here..).unwrap_or(&[]).iter().find(|st| forbidden(&st.forbids) != now);
    let away_ms = before.map(|st| at_ms - st.to_ms).into_iter().chain(after.map(|st| st.from_ms - at_ms)).min();
    let tick = view.spec.facts.tick.ms();
    let away = away_ms.map_or(CAP_S, |ms| s(f64::from(ms.max(if now { tick } else { 0 })))).min(CAP_S);
    if now { -away } else { away }
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let lowest = view.spec.facts.lowest_gear;
    // What it may not command at all is charged by the rules on engaging and disengaging.
    let may = |c: &&Command| !matches!(c.state, super::may_command::State::MustNot(_));
    for command in view.story.commands.iter().filter(may) {
        let near = margin_s(view, command, |f| f.stopped);
        if near.abs() < CAP_S {
            tally.reached(0);
        }
        tally.seen(margin_s(view, command, |f| by_seen(command, lowest, f)), command.at_ms);
        let margin = margin_s(view, command, |f| by_truth(command, f));
        // The speed is read without a sign, and the engine where its speed is read.
        tally.truth_if_known(margin, 0.0, command.at_ms, margin >= 0.0 || engine_seen_off(view, command));
    }
    let long = view.spec.limits.engages_within.ms();
    for stretch in view.story.stretches.iter().filter(|st| !st.forbids.out && st.to_ms - st.from_ms >= long) {
        let engaged = view.story.spans.iter().any(|sp| {
            sp.state == super::may_command::State::May && sp.from_ms < stretch.to_ms && sp.to_ms > stretch.from_ms
        });
        if engaged && (stretch.forbids.stopped || stretch.forbids.backwards) {
            tally.reached(1);
        }
        if engaged && (stretch.forbids.off || stretch.forbids.off_true) {
            tally.reached(2);
        }
    }
}

fn engine_seen_off(view: &View<'_>, command: &Command) -> bool {
    let here = view.story.stretches.partition_point(|st| st.to_ms <= command.at_ms);
    view.story.stretches.get(here).is_some_and(|st| st.forbids.off)
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let here = view.story.stretches.partition_point(|st| st.to_ms <= at_ms);
    let forbids = view.story.stretches.get(here).map(|st| st.forbids).unwrap_or_default();
    let what = match basis {
        Basis::Seen if forbids.off => "with the engine off",
        Basis::Seen if forbids.out => "with the lever out of the gate",
        Basis::Seen if forbids.stopped => "below standstill",
        Basis::True if forbids.off_true => "with the engine off",
        Basis::True if forbids.backwards => "while rolling back",
        _ => "near a standstill",
    };
    format!("{} {what}", say::command_at(view, basis, at_ms))
}
