//! Nothing is announced, and the flag says nothing, that isn't so; and no storm of announcements.
//!
//! Which rule has what: 'engaged' announced while it may not engage is an engagement, and charged to the rules on
//! engaging; a box that lets go for no cause is charged to 'own tap is not a driver tap'. This rule has announcements
//! whose transition did not happen, second ones for one transition, and a flag that denies a command.
//! That the sounds of two announcements can be told apart belongs on the bench: protocol 1 has words.

use super::every_transition_announced::says_nothing;
use super::story::handed::Said;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Announcement;

const CARD: RuleCard = RuleCard {
    name: "no false announcement",
    sentence: "Nothing is announced without its event or twice for one, no flag denies a command, and announcements stay few.",
    hazard: "The driver hears that the box has engaged when it has not, or stops listening.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "announcement", least: 10 },
        Situation { name: "eight announcements within 10 s", least: 1 },
    ],
    limits: &["most-announcements", "announced-within"],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: says_nothing, cant_judge: always, asks: all, judge, says };

/// Announcements are counted over this long, ms.
const STORM_MS: u32 = 10_000;

/// For how long (ms) an announcement lacks its event: the distance to the nearest one, or to the one it repeats.
fn lacks(view: &View<'_>, index: usize) -> Option<u32> {
    let hand = &view.story.hand;
    let said = hand.said.get(index)?;
    let before = hand.said.get(..index).unwrap_or_default();
    let same_run = |s: &&Said| s.power_up_ms == said.power_up_ms;
    let tick = view.spec.facts.tick.ms();
    let let_go = |what| matches!(what, Announcement::Disengaged | Announcement::Fault);
    let alike = |s: &&Said| s.what == said.what || let_go(s.what) && let_go(said.what);
    let last_alike = before.iter().rev().filter(same_run).find(alike).map(|s| s.at_ms);
    match (said.what, said.flag) {
        (Announcement::Ready, _) => match last_alike {
            Some(first) => Some(said.at_ms - first),
            None => (!said.has_read).then_some(u32::MAX),
        },
        (_, Some(flag)) => {
            let events: Vec<u32> = if said.what == Announcement::Engaged {
                hand.rises.clone()
            } else {
                hand.let_go.iter().filter(|l| l.flagged).map(|l| l.at_ms).collect()
            };
            // A fault may be announced by a box that isn't engaged.
            if said.what == Announcement::Fault && !flag && recent_fault(view, said) {
                return None;
            }
            let event = events.iter().rev().find(|&&e| e <= said.at_ms + tick).copied();
            let next = events.iter().find(|&&e| e > said.at_ms).map(|e| e - said.at_ms);
            match event.filter(|&e| e >= said.power_up_ms) {
                None => Some(next.unwrap_or(u32::MAX)),
                Some(event) => {
                    let repeats = last_alike.is_some_and(|last| last + tick >= event);
                    repeats.then(|| next.unwrap_or(u32::MAX).min(said.at_ms.saturating_sub(event)))
                }
            }
        }
        (Announcement::Engaged, None) => {
            let last = last_alike.filter(|_| said.held_before && said.possible)?;
            said.edge_ms.is_none_or(|edge| edge <= last).then(|| said.at_ms - last)
        }
        (Announcement::Disengaged | Announcement::Fault, None) => {
            let excused =
                said.held_before || said.possible || said.what == Announcement::Fault && recent_fault(view, said);
            (!excused).then(|| last_alike.map_or(u32::MAX, |last| said.at_ms - last))
        }
    }
}

fn recent_fault(view: &View<'_>, said: &Said) -> bool {
    let limits = &view.spec.limits;
    let window = limits.cause_window.ms() + limits.announced_within.ms();
    said.excuses.data_ms.max(said.excuses.other_ms).is_some_and(|at| said.at_ms - at <= window)
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (hand, tick) = (&view.story.hand, view.spec.facts.tick.get());
    for (index, said) in hand.said.iter().enumerate() {
        tally.reached(0);
        match lacks(view, index) {
            Some(away_ms) => tally.seen(-s(f64::from(away_ms)).clamp(s(tick), CAP_S), said.at_ms),
            None => tally.seen(CAP_S, said.at_ms),
        }
    }
    for &(at_ms, for_ms) in &hand.denied {
        if !hand.rises.contains(&(at_ms + view.spec.facts.tick.ms())) {
            tally.seen(-s(f64::from(for_ms)).clamp(s(tick), CAP_S), at_ms);
        }
    }
    let times = hand.said.iter().map(|s| s.at_ms);
    for (first, last) in times.clone().zip(times.clone().skip(7)) {
        if last - first <= STORM_MS {
            tally.reached(1);
        }
    }
    let most = usize::from(view.spec.limits.most_announcements);
    // A box that starts afresh has forgotten what it said.
    let one_run = |&(first, beyond): &(u32, u32)| hand.power_up_before_ms(beyond) <= first;
    for (first, beyond) in times.clone().zip(times.skip(most)).filter(one_run) {
        tally.seen(s(f64::from(beyond - first) + tick - f64::from(STORM_MS)).min(CAP_S), beyond);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let hand = &view.story.hand;
    if hand.denied.iter().any(|(at, _)| *at == at_ms) {
        let command = say::command_at(view, basis, at_ms);
        return format!("{command} at {} while its own flag says that it is not engaged", say::time(at_ms));
    }
    let found = hand.said.iter().position(|s| s.at_ms == at_ms);
    let Some((index, said)) = found.and_then(|index| Some((index, hand.said.get(index)?))) else {
        return say::time(at_ms);
    };
    let word = say::announcement(said.what);
    if lacks(view, index).is_some() {
        return format!(
            "the box announces \"{word}\" at {}, and nothing of the kind has just happened",
            say::time(at_ms)
        );
    }
    let most = view.spec.limits.most_announcements;
    format!("the box announces \"{word}\" at {}; that is more than {most} announcements in 10 s", say::time(at_ms))
}
