//! On a descent the box keeps the gear that brakes, where the maker states up to which engine speed.
//!
//! A descent as the box can know it: the pedal closed for two seconds, in which the speed read rose and never fell. The
//! limit is on the engine speed of the gear it leaves: below it the engine needs no upshift to be spared.

use super::may_command::State;
use super::rpm_floor::landing_rpm;
use super::story::wants::CLOSED_PCT;
use super::story::{Command, Span};
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};
use crate::signal::Direction;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "keeps the gear downhill",
    sentence: "With a closed pedal and rising speed no up command comes below the stated engine speed.",
    hazard: "An upshift on a descent takes the engine's braking away: the brakes get hot and fade.",
    severity: Severity::Major,
    unit: "rpm",
    near: 100.0,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "closed pedal and rising speed for two seconds", least: 3 },
        Situation { name: "beyond an up line there", least: 1 },
    ],
    limits: &["downhill-rpm"],
    map_can_break: false,
    leans_on: &[VehicleData::Ratios],
    version: 2,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply, cant_judge: always, asks: all, judge, says };

/// The engine speed may be off by this, rpm: a count of speed in a low gear.
const TOLERANCE_RPM: f64 = 50.0;
/// How long pedal and speed must have told of a descent, ms (invented).
const DESCENT_MS: u32 = 2000;

fn does_not_apply(spec: &Spec) -> Option<String> {
    spec.limits.downhill_rpm.is_none().then(|| "the maker states no engine speed up to which it keeps the gear".into())
}

/// Pedal and speed read up to a time tell of a descent.
fn descends(view: &View<'_>, at_ms: u32) -> bool {
    let from_ms = at_ms.saturating_sub(DESCENT_MS);
    let upto = |tape: &[super::story::tape::Sample]| {
        let first = tape.partition_point(|s| s.at_ms < from_ms).saturating_sub(1);
        (first, tape.partition_point(|s| s.at_ms <= at_ms))
    };
    let (speeds, pedals) = (&view.story.speeds, &view.story.pedals);
    let (a, b) = upto(pedals);
    let closed = pedals.get(a..b).is_some_and(|p| p.len() > 1 && p.iter().all(|p| p.value < CLOSED_PCT));
    let (a, b) = upto(speeds);
    let speeds = speeds.get(a..b).unwrap_or(&[]);
    let never_falls = speeds.windows(2).all(|w| w[0].value <= w[1].value);
    let rises = speeds.first().zip(speeds.last()).is_some_and(|(first, last)| last.value > first.value);
    closed && never_falls && rises
}

fn engine_rpm(view: &View<'_>, command: &Command) -> Option<f64> {
    Some(landing_rpm(view.spec, command.gear_seen?, command.speed_seen?, command.low_seen(view.spec)))
}

fn count_descents(view: &View<'_>, tally: &mut Tally) {
    let (story, rows) = (view.story, &view.recording.rows);
    let mut counted = [false; 2];
    for sample in &story.speeds {
        let pedal = story.pedals.partition_point(|p| p.at_ms <= sample.at_ms).checked_sub(1);
        let closed = pedal.and_then(|at| story.pedals.get(at)).is_some_and(|p| p.value < CLOSED_PCT);
        // Only where the box may act: a descent in D asks nothing of it.
        let may = |s: &Span| s.state == State::May && (s.from_ms..s.to_ms).contains(&sample.at_ms);
        if !closed || !story.spans.iter().any(may) || !descends(view, sample.at_ms) {
            counted = [false; 2];
            continue;
        }
        let gear = rows.get(rows.partition_point(|r| r.t_ms < sample.at_ms)).map(|r| r.truth.gear);
        let line = gear.and_then(|gear| view.spec.map.up_kmh(gear, 0.0));
        let now = [true, line.is_some_and(|line| sample.value >= line)];
        for (which, (now, counted)) in now.into_iter().zip(&mut counted).enumerate() {
            if now && !*counted {
                *counted = true;
                tally.reached(which);
            }
        }
    }
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    count_descents(view, tally);
    let Some(limit) = view.spec.limits.downhill_rpm else { return };
    for command in view.story.commands.iter().filter(|c| c.direction == Direction::Up) {
        if let Some(rpm) = engine_rpm(view, command).filter(|_| descends(view, command.at_ms)) {
            tally.seen(rpm + TOLERANCE_RPM - limit.0, command.at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let command = view.story.commands.iter().find(|c| c.at_ms == at_ms);
    let rpm = command.and_then(|c| engine_rpm(view, c));
    let rpm = rpm.map_or(String::new(), |rpm| format!(" at {rpm:.0} rpm"));
    let limit = view.spec.limits.downhill_rpm.map_or(0.0, |l| l.0);
    format!(
        "{}{rpm} with a closed pedal and rising speed; the limit is {limit:.0}",
        say::command_at(view, basis, at_ms)
    )
}
