//! Contacts that were closed when the box lost its supply, was reset or died open at once, and none is closed as it
//! starts.
//!
//! Without supply the contacts are open by their spring; what a box can do wrong is to start with one closed, to go on
//! with a pulse that a reset has cut, or to die and leave one closed. Contacts that close later, with no take-over since
//! power-up, belong to 'power-up quiet'.

use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "contacts open at rest",
    sentence: "As the box starts, after a reset and when it dies, both contacts are open within the stated time.",
    hazard: "A held tap: on some vehicles the gearbox goes down to the lowest gear it can.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.01,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "supply lost or reset, and started again", least: 5 },
        Situation { name: "inside an own pulse", least: 3 },
    ],
    limits: &["contacts-open"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limit_ms = view.spec.limits.contacts_open.get();
    for up in &view.story.hand.power_ups {
        let restarted = up.at_ms > 0;
        if restarted {
            tally.reached(0);
            if up.in_pulse {
                tally.reached(1);
            }
        }
        if restarted || up.closed_ms > 0 {
            tally.seen(s(limit_ms - f64::from(up.closed_ms)).max(-CAP_S), up.at_ms);
        }
    }
    let last = view.recording.rows.last().filter(|_| view.recording.silence.is_some());
    if let Some(last) = last.filter(|row| row.contacts.up || row.contacts.down) {
        // Nobody opens it any more.
        tally.seen(-CAP_S, last.t_ms);
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let limit_ms = view.spec.limits.contacts_open.get();
    match view.story.hand.power_ups.iter().find(|p| p.at_ms == at_ms && f64::from(p.closed_ms) > limit_ms) {
        Some(up) => format!(
            "the box starts at {} and holds a contact closed until {} ms after; the limit is {limit_ms:.0} ms",
            say::time(at_ms),
            up.closed_ms
        ),
        None => format!("the box falls silent after {} with a contact closed", say::time(at_ms)),
    }
}
