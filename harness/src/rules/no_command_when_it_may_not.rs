//! After an engagement has ended, nothing is commanded until the next one.
//!
//! What comes within a second of the cause belongs to the cause's own rule; what was never engaged belongs to the rules
//! on engaging, and engaging again without a take-over to 're-arm needs lever cycle'. This rule has the rest: contacts
//! that close, and a flag that stays up. So each closure is charged once.

use super::may_command::{Cause, State, Why};
use super::releases::within_window;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "no command when it may not",
    sentence: "No contact closes and the box doesn't show itself engaged while it may not command.",
    hazard: "The box shifts although the driver holds the gearbox, or takes over again by itself.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "may not, for 3 s or more after it might", least: 3 },
        Situation { name: "with a shift due by the map", least: 3 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks, judge, says };

/// Whether a shift is due by the map only a known gear tells.
fn asks(spec: &Spec, which: usize) -> bool {
    which != 1 || gear::cant_be_known(spec).is_none()
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    for span in &view.story.spans {
        let State::MustNot(why @ Why::After(..)) = span.state else { continue };
        let length_ms = span.to_ms - span.from_ms;
        if length_ms >= 3000 {
            tally.reached(0);
            if span.shift_due {
                tally.reached(1);
            }
        }
        let again = |at_ms| view.story.hand.again.iter().any(|a| a.no_take_over && a.at_ms == at_ms);
        let engagings = view.story.engagings.iter().map(|e| e.at_ms).filter(|&at_ms| !again(at_ms));
        let claims = view.story.commands.iter().map(|c| c.at_ms).chain(engagings);
        let mut kept = true;
        for at_ms in claims {
            if (span.from_ms..span.to_ms).contains(&at_ms) && !within_window(why, at_ms) {
                // Signed seconds to the nearest change that would make it innocent: the span's ends.
                let away_ms = (at_ms - span.from_ms).min(span.to_ms - at_ms).max(view.spec.facts.tick.ms());
                tally.seen(-s(f64::from(away_ms)).min(CAP_S), at_ms);
                kept = false;
            }
        }
        // A flag that a freeze leaves up is 'stuck signals noticed'.
        let stuck = matches!(why, Why::After(Cause::Stuck, _));
        for &(from_ms, to_ms) in view.story.hand.flag_stays.iter().filter(|stay| stay.0 == span.from_ms && !stuck) {
            tally.seen(-s(f64::from(to_ms - from_ms)).min(CAP_S), from_ms);
            kept = false;
        }
        if kept && length_ms >= 3000 {
            tally.seen(s(f64::from(length_ms)).min(CAP_S), span.from_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let state = view.story.spans.iter().find(|s| (s.from_ms..s.to_ms).contains(&at_ms)).map(|s| s.state);
    let since = match state {
        Some(State::MustNot(Why::After(cause, since))) => {
            let what = say::cause(cause);
            format!("{:.1} s after {what}, with no take-over since", f64::from(at_ms.saturating_sub(since)) / 1000.0)
        }
        _ => "while it may not command".into(),
    };
    if view.story.commands.iter().any(|c| c.at_ms == at_ms) {
        return format!("{} {since}", say::command_at(view, basis, at_ms));
    }
    format!("the box shows itself engaged at {}, {since}", say::time(at_ms))
}
