//! A speed that no vehicle can drive is not acted upon; and a stop that only was a hard one doesn't stop the shifts.

use super::may_command::State;
use super::story::{Command, Leap};
use super::tally::{Tally, s};
use super::{Rule, View, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "implausible speed holds",
    sentence: "After a speed read that fell faster than brakes can, no downshift that it asks for, and after one that rose faster than the engine can, no upshift, until speed was plausible for long enough; and no longer than 2 s after a hard stop that was one.",
    hazard: "Locked wheels read as standstill: the box steps down to second, and the wheels grip again at 100 km/h.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "speed fell implausibly while engaged", least: 3 },
        Situation { name: "speed rose implausibly while engaged", least: 3 },
        Situation { name: "downshift due after a hard stop", least: 1 },
    ],
    limits: &["fall-limit", "rise-limit", "plausible-for"],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks, judge, says };

/// Whether a shift is due by the map only a known gear tells.
fn asks(spec: &Spec, which: usize) -> bool {
    which != 2 || gear::cant_be_known(spec).is_none() && !gear::unread_below_limit(spec)
}

/// After a true hard stop a due downshift waits no longer than this, s.
const WAITS_S: f64 = 2.0;

fn judge(view: &View<'_>, tally: &mut Tally) {
    let story = view.story;
    for leap in story.leaps.iter().filter(|l| l.state == State::May) {
        tally.reached(usize::from(!leap.fell));
    }
    for command in story.commands.iter().filter(|c| !matches!(c.state, State::MustNot(_))) {
        if let Some(leap) = leap_before(view, command)
            && !due_anyway(view, command, leap)
        {
            let since_ms = f64::from(command.at_ms - leap.at_ms) + view.spec.facts.tick.get();
            tally.seen(s(since_ms - view.spec.limits.plausible_for.get()), command.at_ms);
        }
    }
    for stop in &story.after_stops {
        tally.reached(2);
        tally.seen(WAITS_S - s(f64::from(stop.to_ms - stop.from_ms)), stop.to_ms);
    }
}

/// The last leap that asks for a command: it fell before a downshift, or rose before an upshift.
fn leap_before<'a>(view: &View<'a>, command: &Command) -> Option<&'a Leap> {
    let down = command.direction == Direction::Down;
    view.story.leaps.iter().rev().find(|l| l.at_ms <= command.at_ms && l.fell == down)
}

/// The speed before the leap asks for it as well, at the pedal of now: a kickdown, say.
fn due_anyway(view: &View<'_>, command: &Command, leap: &Leap) -> bool {
    let Some(pedal) = command.pedal_seen else { return false };
    let (map, v) = (&view.spec.map, leap.settled_kmh);
    let due = |gear: u8| match command.direction {
        Direction::Up => map.up_kmh(gear, pedal).is_some_and(|line| v >= line),
        Direction::Down => map.down_kmh(gear, pedal).is_some_and(|line| v <= line),
    };
    // A box that can't know its gear may take any.
    command.gear_seen.map_or_else(|| (1..=map.top_gear()).any(due), due)
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let command = view.story.commands.iter().find(|c| c.at_ms == at_ms);
    let Some((command, leap)) = command.and_then(|c| Some((c, leap_before(view, c)?))) else {
        return format!("a downshift is still due at {}, long after a hard stop", say::time(at_ms));
    };
    let how = if leap.fell { "fell" } else { "rose" };
    format!(
        "{}, {:.2} s after the speed read {how} faster than it can from {:.0} km/h",
        say::command(command, basis),
        f64::from(at_ms - leap.at_ms) / 1000.0,
        leap.settled_kmh
    )
}
