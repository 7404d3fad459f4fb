//! The driver hears of each engagement and each disengagement.
//!
//! A transition is known by the flag where the box exposes one; else a disengagement by its cause, and an engagement by
//! the first command that comes with nothing said. A pause and its end are no transitions, and with the ignition off
//! nobody listens. What is heard is protocol words here; whether their sounds can be told apart belongs on the bench.

use super::View;
use super::story::handed::{Excuses, Said, Transition};
use super::tally::{CAP_S, Tally, s};
use super::{Rule, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Announcement;
use crate::spec::Spec;
use crate::spec::facts::OnCause;

const CARD: RuleCard = RuleCard {
    name: "every transition announced",
    sentence: "Each engagement and each disengagement is announced in time, one by the driver as disengaged, one for lost data as a fault.",
    hazard: "The driver thinks that shifts are automatic when they are not.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "engaged", least: 3 },
        Situation { name: "disengaged by the driver", least: 3 },
        Situation { name: "disengaged by a fault", least: 3 },
    ],
    limits: &["announced-within", "boot-ready"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: says_nothing, cant_judge: always, asks, judge, says };

/// A box that only pauses for lost data and knows of no range lets go for no fault of its own finding.
fn asks(spec: &Spec, which: usize) -> bool {
    let facts = &spec.facts;
    which != 2 || facts.lost_data == OnCause::Disengages || facts.signals.range || facts.notices_stuck
}

/// Rules on announcements ask nothing of a box that makes none.
pub(super) fn says_nothing(spec: &Spec) -> Option<String> {
    (!spec.facts.announces).then(|| "the box announces nothing".into())
}

/// Whether an announcement speaks of such a transition.
fn speaks_of(said: &Said, engages: bool) -> bool {
    match said.what {
        Announcement::Ready => false,
        Announcement::Engaged => engages,
        Announcement::Disengaged | Announcement::Fault => !engages,
    }
}

/// What was said of a transition, and when (ms); the deadline if nothing was, or `None` if nothing had to be.
fn said_of<'a>(view: &'a View<'_>, transition: &Transition) -> Option<Result<&'a Said, u32>> {
    let hand = &view.story.hand;
    let within = view.spec.limits.announced_within.ms() + view.spec.facts.tick.ms();
    let deadline = transition.at_ms + within;
    let found = hand.said.iter().find(|s| s.at_ms >= transition.from_ms && speaks_of(s, transition.engages));
    let in_time = found.filter(|s| s.at_ms <= deadline);
    let starts = hand.power_up_before_ms(transition.at_ms) + view.spec.limits.boot_ready.ms();
    // It was off, or the drive over, before it had to be said; or it let go again before.
    let cut = view.story.end_ms <= deadline
        || hand.offs.iter().any(|off| (transition.at_ms..=deadline).contains(off))
        || transition.engages && hand.let_go.iter().any(|l| (transition.at_ms..=deadline).contains(&l.at_ms));
    if in_time.is_none() && (cut || transition.at_ms < starts) {
        return None;
    }
    Some(found.ok_or(deadline))
}

/// How far (ms) a word is from being the right one for its cause; `None` if it is right or either is.
fn wrong_word(view: &View<'_>, said: &Said) -> Option<u32> {
    let limits = &view.spec.limits;
    let window = limits.cause_window.ms() + limits.announced_within.ms() + view.spec.facts.tick.ms();
    let ago = |at: Option<u32>| at.map_or(u32::MAX, |at| said.at_ms - at);
    let Excuses { driver_ms, data_ms, other_ms, .. } = said.excuses;
    let near = |at| ago(at) <= window;
    let (right, other) = match (near(driver_ms), near(data_ms), near(other_ms)) {
        (true, false, false) => (Announcement::Disengaged, data_ms),
        (false, true, false) => (Announcement::Fault, driver_ms),
        _ => return None,
    };
    (said.what != right).then(|| ago(other))
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (limits, tick) = (&view.spec.limits, view.spec.facts.tick.get());
    let within = limits.announced_within.get() + tick;
    for transition in &view.story.hand.transitions {
        let Some(said) = said_of(view, transition) else { continue };
        let at_ms = transition.at_ms;
        let margin = match said {
            Ok(said) => s(within - f64::from(said.at_ms.saturating_sub(at_ms))),
            Err(_) => -CAP_S,
        };
        if let (Ok(said), false) = (said, transition.engages) {
            tally.reached(if said.what == Announcement::Fault { 2 } else { 1 });
            if let Some(away_ms) = wrong_word(view, said) {
                tally.seen(-s(f64::from(away_ms)).clamp(s(tick), CAP_S), said.at_ms);
            }
        } else {
            tally.reached(usize::from(!transition.engages));
        }
        tally.seen(margin.max(-CAP_S), at_ms);
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let hand = &view.story.hand;
    let limit = view.spec.limits.announced_within.get() / 1000.0;
    let at = say::time(at_ms);
    let Some(transition) = hand.transitions.iter().find(|t| t.at_ms == at_ms) else {
        let word = hand.said.iter().find(|s| s.at_ms == at_ms).map_or("", |s| say::announcement(s.what));
        return format!("the box announces \"{word}\" at {at}, which is the wrong word for the cause");
    };
    let what = if transition.engages { "engages" } else { "lets go" };
    match said_of(view, transition) {
        Some(Ok(said)) if said.at_ms >= at_ms => {
            let late = f64::from(said.at_ms - at_ms) / 1000.0;
            format!("the box {what} at {at} and announces it {late:.2} s later; the limit is {limit:.2} s")
        }
        Some(Ok(said)) => format!("the box {what} at {at}, announced as \"{}\"", say::announcement(said.what)),
        _ => format!("the box {what} by {at} and doesn't announce it within {limit:.2} s"),
    }
}
