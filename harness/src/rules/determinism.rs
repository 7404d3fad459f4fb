//! The same drive gives the same outputs. The campaign drives some drives twice and compares; it calls `compare`.

use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, Measure, RuleCard, Severity, Situation};
use crate::recording::{Recording, Row};

const CARD: RuleCard = RuleCard {
    name: "determinism",
    sentence: "The same drive, driven again, gives the same outputs tick for tick.",
    hazard: "A build whose evidence can't be repeated has none.",
    severity: Severity::Critical,
    unit: "ticks",
    near: 0.4,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "drive driven twice", least: 10 }],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(_: &View<'_>, _: &mut Tally) {}

fn same(a: &Row, b: &Row) -> bool {
    a.contacts == b.contacts
        && a.announcement == b.announcement
        && a.engaged == b.engaged
        && a.counted_gear == b.counted_gear
}

/// Compares two recordings of one drive: the margin is minus the number of ticks with other outputs.
#[must_use]
pub fn compare(first: &Recording, second: &Recording) -> Measure {
    let mut tally = Tally::new(&CARD);
    tally.reached(0);
    let pairs = first.rows.iter().zip(&second.rows);
    let differing = pairs.clone().filter(|(a, b)| !same(a, b)).count() + first.rows.len().abs_diff(second.rows.len());
    let at_ms = pairs.filter(|(a, b)| !same(a, b)).map(|(a, _)| a.t_ms).next();
    let end_ms = first.rows.len().min(second.rows.len()).checked_sub(1).map_or(0, |at| first.rows[at].t_ms);
    tally.seen(if differing == 0 { 1.0 } else { -(differing as f64) }, at_ms.unwrap_or(end_ms));
    tally.measure
}

fn says(_: &View<'_>, _: Basis, at_ms: u32) -> String {
    format!("driven again, the outputs differ from {} on", say::time(at_ms))
}
