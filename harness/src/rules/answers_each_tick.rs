//! The controller answers each tick: no crash, hang, garbage, flood. Yes or no; measured times decide nothing.

use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "answers each tick",
    sentence: "After its hello the controller answers each tick within the answer limit, with an answer that can be read.",
    hazard: "A dead controller in mid-drive, perhaps with a contact stuck closed.",
    severity: Severity::Critical,
    unit: "answers",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "drive", least: 1 }],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    if view.recording.silence.is_some() {
        tally.reached(0);
        tally.seen(-1.0, view.story.end_ms);
    } else if !view.recording.rows.is_empty() {
        tally.reached(0);
        tally.seen(1.0, 0);
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let why = view.recording.silence.as_ref().map_or("it answers".into(), ToString::to_string);
    let row = view.recording.rows.last();
    let state = row.map_or(String::new(), |r| {
        format!(", gear {}, {:.0} km/h, pedal {:.0} %", r.truth.gear, r.truth.speed_kmh, r.truth.pedal_pct)
    });
    format!("no answer at {}{state}: {why}", say::time(at_ms))
}
