//! What a box does hangs on the drive, not on how long it has waited before. The campaign puts recorded drives before the
//! box again after a short and after a long time of idling, and calls `compare`.
//!
//! Both times differ by a whole hour, so a box with tasks of any usual period is in the same phase of each.

use super::fed::Fed;
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, Measure, RuleCard, Severity, Situation};
use crate::recording::{Recording, Row};
use crate::signal::Lever;

const CARD: RuleCard = RuleCard {
    name: "idle-hour invariance",
    sentence: "After an hour with the engine idling and the lever out of the gate, the box commands and announces as after twelve seconds.",
    hazard: "A vehicle waits with its engine running: a counter that runs full or a timer that comes due in the meantime makes another box of it.",
    severity: Severity::Critical,
    unit: "commands",
    near: 0.4,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "an hour idle before a drive in which it engages", least: 2 }],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// The short time of idling: longer than any box takes to come up, ms.
pub const SHORT_MS: u64 = 12_000;

/// The long one, ms.
pub const LONG_MS: u64 = SHORT_MS + 3_600_000;

/// As for a clock that runs over: this much is no difference, ticks.
const TICKS: u32 = 2;

fn judge(_: &View<'_>, _: &mut Tally) {}

/// Whether a drive may follow on idling: it begins at rest, with the engine running and the lever out of the gate.
#[must_use]
pub fn may_follow(recording: &Recording) -> bool {
    let idles = |row: &Row| {
        let (truth, inputs) = (&row.truth, &row.inputs);
        row.powered && inputs.ignition && truth.engine_on && truth.speed_kmh == 0.0 && inputs.lever != Lever::Gate
    };
    recording.rows.first().is_some_and(idles)
}

/// Compares what the box gave after the short time, once and again, and after the long one: the margin is minus the
/// number of commands and announcements that differ.
#[must_use]
pub fn compare(recording: &Recording, short: &Fed, again: &Fed, long: &Fed) -> Measure {
    let mut tally = Tally::new(&CARD);
    // A box that doesn't even repeat itself is another rule's; one that does nothing shows nothing.
    if short != again || short.silent_ms.is_some() || short.transitions().is_empty() && short.commands().is_empty() {
        return tally.measure;
    }
    tally.reached(0);
    let (count, first) = short.differences(long, TICKS * recording.tick_ms);
    let end_ms = recording.rows.last().map_or(0, |row| row.t_ms);
    tally.seen(if count == 0 { 1.0 } else { -(count as f64) }, first.unwrap_or(end_ms));
    tally.measure
}

fn says(_: &View<'_>, _: Basis, at_ms: u32) -> String {
    format!("after an hour of idling, commands or announcements differ from {} of the drive on", say::time(at_ms))
}
