//! Shifts that go the other way than commanded end the engagement before many more are made.
//!
//! A shift went wrong if it began within a tap's time after a command, in the other direction, with no other command
//! and no driver's tap to explain it. One may be chance, the gearbox's own doing; a right one in between shows that it was.

use super::story::{Command, Shift};
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::rules::may_command::State;
use crate::signal::Direction;
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;

const CARD: RuleCard = RuleCard {
    name: "wrong direction disengages",
    sentence: "After a shift that goes the other way than commanded, no more than the stated number of further ones until the box has disengaged.",
    hazard: "Swapped or broken contacts: each upshift is a downshift at speed.",
    severity: Severity::Critical,
    unit: "shifts",
    near: 1.0,
    judged_on: &[Basis::True],
    situations: &[Situation { name: "shift the other way than commanded", least: 5 }],
    limits: &["wrong-shifts"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks: all, judge, says };

/// A shift begins this long after its tap at the latest, ms (recognition and fill; common practice, no source).
const TAP_TO_SHIFT_MS: u32 = 500;

fn cant_judge(spec: &Spec) -> Option<String> {
    if spec.vehicle.gearbox.gate.means == GateMeans::RangeLimit {
        return Some("below the limit that the gate sets, the gearbox shifts either way by itself".to_owned());
    }
    let signals = spec.facts.signals;
    (!signals.gear && !signals.engine_speed)
        .then(|| "the box reads neither gear nor engine speed, so it can't know which way a shift goes".to_owned())
}

/// The shift that answered a command, right or wrong.
fn answer<'a>(view: &View<'a>, at: usize, command: &Command) -> Option<(&'a Shift, bool)> {
    let next_ms = view.story.commands.get(at + 1).map_or(u32::MAX, |c| c.at_ms);
    let until_ms = next_ms.min(command.at_ms + TAP_TO_SHIFT_MS);
    let shift = view.story.shifts.iter().find(|s| s.from_ms >= command.at_ms && s.from_ms < until_ms)?;
    let up = shift.to > shift.from;
    Some((shift, up == (command.direction == Direction::Up)))
}

fn driver_taps(view: &View<'_>, from_ms: u32, to_ms: u32) -> bool {
    let rows = &view.recording.rows;
    let from = rows.partition_point(|r| r.t_ms < from_ms);
    let rows = rows.get(from..).unwrap_or(&[]).iter();
    rows.take_while(|r| r.t_ms <= to_ms).any(|r| r.truth.driver_up || r.truth.driver_down)
}

/// An engagement has ended between two commands.
fn disengaged(view: &View<'_>, from_ms: u32, to_ms: u32) -> bool {
    let span =
        view.story.spans.iter().any(|s| matches!(s.state, State::MustNot(_)) && s.to_ms > from_ms && s.from_ms < to_ms);
    span || view.story.engagings.iter().any(|e| e.at_ms > from_ms && e.at_ms <= to_ms)
}

/// A command answered the wrong way, and how many that the box knew of came before it.
struct Wrong {
    at_ms: u32,
    further: u32,
}

fn wrongs(view: &View<'_>) -> Vec<Wrong> {
    let spec = view.spec;
    let read_ms = spec.link.period.ms() + spec.link.answer_most.ms() + spec.facts.tick.ms();
    let mut found = Vec::new();
    // When the box could know of the first of a row of wrong shifts.
    let mut known_ms: Option<u32> = None;
    let (mut further, mut last_ms) = (0, 0);
    for (at, command) in view.story.commands.iter().enumerate() {
        if disengaged(view, last_ms, command.at_ms) {
            (known_ms, further) = (None, 0);
        }
        last_ms = command.at_ms;
        let Some((shift, right)) = answer(view, at, command) else { continue };
        if driver_taps(view, command.at_ms.saturating_sub(TAP_TO_SHIFT_MS), shift.from_ms) {
            continue;
        }
        if right {
            (known_ms, further) = (None, 0);
            continue;
        }
        further += u32::from(known_ms.is_some_and(|ms| command.at_ms >= ms));
        known_ms.get_or_insert(shift.to_ms + read_ms);
        found.push(Wrong { at_ms: command.at_ms, further });
    }
    found
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if cant_judge(view.spec).is_some() {
        return;
    }
    let allowed = f64::from(view.spec.limits.wrong_shifts);
    for wrong in wrongs(view) {
        tally.reached(0);
        // By engine speed alone the box can know only where the ratio tells the gear.
        let told = view.story.commands.iter().find(|c| c.at_ms == wrong.at_ms);
        let known = told.is_some_and(|c| c.gear_told.is_some_and(|(gear, _)| gear == c.gear_true));
        tally.truth_if_known(allowed - f64::from(wrong.further), 0.0, wrong.at_ms, known);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let further = wrongs(view).iter().find(|w| w.at_ms == at_ms).map_or(0, |w| w.further);
    format!(
        "{} goes the other way, {further} after the first that the box could know of; {} allowed",
        say::command_at(view, basis, at_ms),
        view.spec.limits.wrong_shifts
    )
}
