//! The box engages only once all conditions have held long enough.

use super::may_command::{State, Why};
use super::releases::must_not;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "engages only when all is right",
    sentence: "The box engages only when lever in the gate, range high, ignition on, the engine running where it is read, and speed and pedal real and fresh have held long enough.",
    hazard: "The box takes over on default zeros, in low range, or on half the data.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "engaged", least: 3 },
        Situation { name: "data alone missing", least: 1 },
        Situation { name: "range alone not high", least: 1 },
    ],
    limits: &["conditions-held"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks, judge, says };

/// Without a range there is none that could be missing.
fn asks(spec: &crate::spec::Spec, situation: usize) -> bool {
    situation != 2 || spec.facts.signals.range && spec.vehicle.gearbox.low_range.is_some()
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let story = view.story;
    let held = view.spec.limits.conditions_held.get();
    let tick = view.spec.facts.tick.get();
    for _ in 0..story.only_missing[1] {
        tally.reached(1);
    }
    for _ in 0..story.only_missing[0] {
        tally.reached(2);
    }
    let wrong = |state| must_not(state, |why| why == Why::NotAllRight);
    for e in &story.engagings {
        if wrong(e.state) {
            tally.seen(lacking(view, e.held_ms, e.at_ms).min(-s(tick)), e.at_ms);
        } else if !matches!(e.state, State::MustNot(_)) {
            tally.reached(0);
            tally.seen(s(f64::from(e.held_ms) + tick - held).clamp(0.0, CAP_S), e.at_ms);
        }
    }
    for command in story.commands.iter().filter(|c| wrong(c.state)) {
        tally.seen(lacking(view, 0, command.at_ms).min(-s(tick)), command.at_ms);
    }
}

/// How much longer all would have had to hold, with the time to the nearest instant at which all is right where it isn't.
fn lacking(view: &View<'_>, held_ms: u32, at_ms: u32) -> f64 {
    let right = &view.story.hand.right;
    let away = |&(from, to): &(u32, u32)| from.saturating_sub(at_ms).max((at_ms + 1).saturating_sub(to));
    let away_ms = right.iter().map(away).fold(5000, u32::min);
    let held = view.spec.limits.conditions_held.get();
    s(f64::from(held_ms) + view.spec.facts.tick.get() - held - f64::from(away_ms)).max(-CAP_S)
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let row = view.recording.rows.iter().find(|r| r.t_ms == at_ms);
    let what = if view.story.engagings.iter().any(|e| e.at_ms == at_ms) {
        format!("the box engages at {}", say::time(at_ms))
    } else {
        format!("{} at {}", say::command_at(view, basis, at_ms), say::time(at_ms))
    };
    let range = row.and_then(|r| r.inputs.range).filter(|r| *r != crate::signal::Range::High);
    let at = view.recording.rows.iter().position(|r| r.t_ms == at_ms).unwrap_or(0);
    let read = |signal| view.recording.last_value(at, signal).is_some();
    let lacks = if range.is_some() {
        "although the range is not high".to_owned()
    } else if !read(crate::signal::Signal::Speed) {
        "although it has read no speed yet".to_owned()
    } else if !read(crate::signal::Signal::Pedal) {
        "although it has read no pedal yet".to_owned()
    } else {
        format!("before all conditions have held for {:.2} s", view.spec.limits.conditions_held.get() / 1000.0)
    };
    format!("{what} {lacks}")
}
