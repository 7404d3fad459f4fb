//! The box's clock may start anywhere and run over. The campaign puts recorded drives before the box again with another
//! clock and calls `compare`.

use super::fed::Fed;
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, Measure, RuleCard, Severity, Situation};
use crate::recording::Recording;

const CARD: RuleCard = RuleCard {
    name: "clock-wrap invariance",
    sentence: "With its clock running over 16, 31 or 32 bits of milliseconds or 32 bits of microseconds in the middle of a drive, the box commands and announces as without.",
    hazard: "The port's battery pin is unswitched, so weeks of uptime are normal: a time-out that comes never, or at once.",
    severity: Severity::Critical,
    unit: "commands",
    near: 0.4,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "clock ran over in a drive with commands", least: 20 },
        Situation { name: "within 2 s after a command", least: 5 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// Where the clock runs over, ms: 16 bits, 31 bits and 32 bits of ms, 32 bits of µs.
pub const WRAPS_MS: [u64; 4] = [1 << 16, 1 << 31, 1 << 32, (1 << 32) / 1000];

/// A box may sort its ticks by its own clock: this much is no difference, ticks.
const TICKS: u32 = 2;

fn judge(_: &View<'_>, _: &mut Tally) {}

/// Times at which a clock should run over in a recording: 5 s after its start, and while the box waits for something:
/// to engage, after a command, on data that have stopped coming. Ms since the start of the drive.
#[must_use]
pub fn instants(recording: &Recording) -> Vec<u32> {
    let rows = &recording.rows;
    let mut found = vec![5000];
    let closed = |at: usize| rows.get(at).is_some_and(|r| r.contacts.up || r.contacts.down);
    let commands: Vec<u32> =
        (1..rows.len()).filter(|&at| closed(at) && !closed(at - 1)).filter_map(|at| Some(rows.get(at)?.t_ms)).collect();
    // Half a second after a command a blind time and a dwell run.
    found.extend(commands.first().map(|ms| ms + 500));
    found.extend(commands.get(commands.len() / 2).map(|ms| ms + 1200));
    let engaged = rows.iter().find(|r| r.engaged == Some(true) || r.announcement.is_some() && r.t_ms > 1000);
    found.extend(engaged.map(|r| r.t_ms.saturating_sub(100)));
    let silent = recording.delivered.windows(2).find_map(|pair| match pair {
        [a, b] if b.arrived_ms.saturating_sub(a.arrived_ms) > 600 => Some(a.arrived_ms + 400),
        _ => None,
    });
    found.extend(silent);
    let end_ms = rows.last().map_or(0, |r| r.t_ms);
    found.retain(|&ms| ms > 0 && ms < end_ms);
    found
}

/// Compares what the box gave with its clock as it was and with a clock that runs over at `wrap_ms` of the drive: the
/// margin is minus the number of commands and announcements that differ.
#[must_use]
pub fn compare(recording: &Recording, plain: &Fed, wrapped: &[(u32, Fed)]) -> Measure {
    let mut tally = Tally::new(&CARD);
    if !plain.repeats(recording) || plain.commands().is_empty() {
        return tally.measure;
    }
    let most_ms = TICKS * recording.tick_ms;
    let commands = plain.commands();
    for (wrap_ms, fed) in wrapped {
        tally.reached(0);
        if commands.iter().any(|(at, _)| *at <= *wrap_ms && *wrap_ms < at + 2000) {
            tally.reached(1);
        }
        let (count, first) = plain.differences(fed, most_ms);
        tally.seen(if count == 0 { 1.0 } else { -(count as f64) }, first.unwrap_or(*wrap_ms));
    }
    tally.measure
}

fn says(_: &View<'_>, _: Basis, at_ms: u32) -> String {
    format!("with a clock that runs over in this drive, commands or announcements differ from {} on", say::time(at_ms))
}
