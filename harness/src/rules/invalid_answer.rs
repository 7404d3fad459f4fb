//! A negative answer, or a value that its signal can't have, is no sample.

use super::may_command::{State, Why};
use super::story::Command;
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::recording::Delivered;
use crate::signal::{Content, Direction, Lever, Signal};
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "invalid answer is not a number",
    sentence: "A negative answer, or a value out of its signal's range, counts as no sample: no engagement and no command that only it can explain.",
    hazard: "The code of a refusal read as a speed: 34 km/h on the motorway, and the box steps down.",
    severity: Severity::Critical,
    unit: "commands",
    near: 0.4,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "negative answers while engaged", least: 3 },
        Situation { name: "values out of range while engaged", least: 3 },
        Situation { name: "either, with the lever in the gate, before engaging", least: 2 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// Valid samples explain a command for this long, ms; an invalid answer tempts as long.
const RECENT_MS: u32 = 1000;
/// How far from its line a shift may be for valid samples to explain it, km/h: a box may filter or round.
const SLACK_KMH: f64 = 5.0;

/// Whether an answer is a sample of its signal.
fn is_sample(spec: &Spec, d: &Delivered) -> bool {
    let Content::Value(value) = d.answer.content else { return false };
    match d.answer.signal {
        Signal::Speed => (0.0..=255.0).contains(&value),
        Signal::Pedal => (0.0..=100.0).contains(&value),
        // 65,535 quarters of a revolution per minute.
        Signal::EngineSpeed => (0.0..=16_383.75).contains(&value),
        Signal::Gear => (1.0..=f64::from(spec.gears())).contains(&value),
    }
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if view.recording.delivered.iter().all(|d| is_sample(view.spec, d)) {
        return;
    }
    reached(view, tally);
    let story = view.story;
    let commands = story.commands.iter().filter(|c| !explained(view, c)).map(|c| c.at_ms);
    let engagings = story.engagings.iter().filter(|e| {
        matches!(e.state, State::MustNot(Why::NotAllRight | Why::Ceiling)) && newest_is_invalid(view, e.at_ms)
    });
    let mut wrong: Vec<u32> = commands.chain(engagings.map(|e| e.at_ms)).collect();
    wrong.sort_unstable();
    match wrong.first() {
        Some(&first_ms) => tally.seen(-(wrong.len() as f64), first_ms),
        None if tally.measure.reached.iter().any(|&n| n > 0) => tally.seen(1.0, story.end_ms),
        None => {}
    }
}

/// Counts spells of invalid answers, each by the state it began in.
fn reached(view: &View<'_>, tally: &mut Tally) {
    let mut last_ms = [None; 2];
    for row in &view.recording.rows {
        for d in view.recording.answers_of(row).iter().filter(|d| !is_sample(view.spec, d)) {
            let kind = usize::from(matches!(d.answer.content, Content::Value(_)));
            let Some(last) = last_ms.get_mut(kind) else { continue };
            let new = last.is_none_or(|at| row.t_ms - at > RECENT_MS);
            *last = Some(row.t_ms);
            if !new {
                continue;
            }
            let state = view.story.spans.iter().find(|span| row.t_ms < span.to_ms).map(|span| span.state);
            match state {
                Some(State::May) => tally.reached(kind),
                Some(State::MustNot(_)) if row.inputs.lever == Lever::Gate => tally.reached(2),
                _ => {}
            }
        }
    }
}

/// Of speed or pedal the newest answer is invalid: what is still known of it is older.
fn newest_is_invalid(view: &View<'_>, at_ms: u32) -> bool {
    [Signal::Speed, Signal::Pedal].into_iter().any(|signal| {
        let newest = view.recording.delivered.iter().rev().find(|d| d.arrived_ms <= at_ms && d.answer.signal == signal);
        newest.is_some_and(|d| !is_sample(view.spec, d))
    })
}

/// No invalid answer was near, or valid samples of the last second explain the command.
fn explained(view: &View<'_>, command: &Command) -> bool {
    let at_ms = command.at_ms;
    let before = || view.recording.delivered.iter().rev().skip_while(move |d| d.arrived_ms > at_ms);
    let recent = || before().take_while(move |d| at_ms - d.arrived_ms <= RECENT_MS);
    if recent().all(|d| is_sample(view.spec, d)) {
        return true;
    }
    let samples = |signal: Signal| {
        let value = move |d: &Delivered| match d.answer.content {
            Content::Value(value) if d.answer.signal == signal && is_sample(view.spec, d) => Some(value),
            _ => None,
        };
        let mut values: Vec<f64> = recent().filter_map(value).collect();
        values.extend(before().find_map(value));
        values
    };
    let (speeds, mut pedals) = (samples(Signal::Speed), samples(Signal::Pedal));
    pedals.iter_mut().for_each(|pedal| *pedal = view.spec.link.pedal_stops.travel_pct(*pedal));
    let map = &view.spec.map;
    let lowest = view.spec.facts.lowest_up_from();
    let due = |gear: u8| {
        pedals.iter().any(|&pedal| {
            let line = match command.direction {
                // Below the lowest gear out of which it commands up, the box goes by that gear's line.
                Direction::Up => map.up_kmh(gear.max(lowest), pedal),
                Direction::Down => map.down_kmh(gear, pedal),
            };
            line.is_some_and(|line| {
                speeds.iter().any(|&v| match command.direction {
                    Direction::Up => v >= line - SLACK_KMH,
                    Direction::Down => v <= line + SLACK_KMH,
                })
            })
        })
    };
    // The gear that the box could know, or the true one: either may be what it counts.
    command.gear_seen.map_or_else(|| (1..=map.top_gear()).any(due), due) || due(command.gear_true)
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let what = say::command_at(view, basis, at_ms);
    let last = view.recording.delivered.iter().rev().find(|d| d.arrived_ms <= at_ms && !is_sample(view.spec, d));
    let answer = last.map_or(String::new(), |d| match d.answer.content {
        Content::Value(value) => format!("; the last answer out of range was {value} for {:?}", d.answer.signal),
        Content::Negative(code) => format!("; the last negative answer was {code:#04x} for {:?}", d.answer.signal),
    });
    format!("{what}, which no valid sample explains{answer}")
}
