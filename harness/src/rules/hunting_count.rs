//! Under steady demand the box doesn't see-saw between two gears.
//!
//! A reversal is an opposite command of the same pair within the hunting window. Steady is the driver's demand, grade
//! and brake unchanged, counted after a run-in of 20 s.

use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};
use std::collections::BTreeSet;

const CARD: RuleCard = RuleCard {
    name: "hunting count",
    sentence: "Under steady demand, after the run-in, a pair of gears reverses no more than the stated number of times in 60 s.",
    hazard: "Hunting up every hill: converter heat, wear, and torque steps in every bend.",
    severity: Severity::Major,
    unit: "reversals",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "60 s of steady driving", least: 3 },
        Situation { name: "steady driving with a shift in it", least: 1 },
    ],
    limits: &["hunting-window", "hunting-reversals"],
    map_can_break: true,
    leans_on: &[VehicleData::Ratios, VehicleData::RoadLoad, VehicleData::Engine, VehicleData::Converter],
    version: 3,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// Length over which reversals are counted, ms.
const MINUTE_MS: u32 = 60_000;

/// A command that takes back the one before.
#[derive(Clone, Copy)]
struct Reversal {
    at_ms: u32,
    /// The lower gear of the pair.
    pair: u8,
}

/// The reversals in a stretch. Of a box that can't know its gear an opposite command may only show that it has counted
/// wrong, and where the gearbox has shifted by itself in between it takes back nothing.
fn reversals(view: &View<'_>, from_ms: u32, to_ms: u32) -> Vec<Reversal> {
    let window_ms = view.spec.limits.hunting_window.ms();
    let turns = view.story.commands.windows(2).filter_map(|pair| match pair {
        [before, command] => (before.taken_back_by(command)
            && before.at_ms >= from_ms
            && command.at_ms < to_ms
            && command.at_ms - before.at_ms <= window_ms)
            .then(|| Reversal { at_ms: command.at_ms, pair: command.lower_gear() }),
        _ => None,
    });
    turns.collect()
}

/// The most reversals of one pair within a minute, and when the last of them came.
fn most(reversals: &[Reversal], pair: u8, from_ms: u32) -> (u32, u32) {
    let of_pair = || reversals.iter().filter(|r| r.pair == pair).map(|r| r.at_ms);
    let mut worst = (0, from_ms);
    for end_ms in of_pair() {
        let count = of_pair().filter(|&at| at <= end_ms && at + MINUTE_MS >= end_ms).count();
        let count = u32::try_from(count).unwrap_or(u32::MAX);
        if count > worst.0 {
            worst = (count, end_ms);
        }
    }
    worst
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let allowed = f64::from(view.spec.limits.hunting_reversals);
    for &(from_ms, to_ms) in &view.story.steady {
        let long = to_ms - from_ms >= MINUTE_MS;
        if long {
            tally.reached(0);
        }
        let shifts =
            view.story.commands.iter().any(|c| c.at_ms + super::story::RUN_IN_MS >= from_ms && c.at_ms < to_ms);
        if long && shifts {
            tally.reached(1);
        }
        let reversals = reversals(view, from_ms, to_ms);
        tally.seen(allowed, from_ms);
        // Each pair for itself: where one is waived, another that hunts in the same stretch must still show.
        let pairs: BTreeSet<u8> = reversals.iter().map(|r| r.pair).collect();
        for pair in pairs {
            let (count, at_ms) = most(&reversals, pair, from_ms);
            tally.seen(allowed - f64::from(count), at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let stretch = view.story.steady.iter().find(|(from, to)| (*from..=*to).contains(&at_ms));
    let Some(&(from_ms, to_ms)) = stretch else { return say::command_at(view, basis, at_ms) };
    let reversals = reversals(view, from_ms, to_ms);
    let pair = reversals.iter().find(|r| r.at_ms == at_ms).map_or(0, |r| r.pair);
    let (count, last_ms) = most(&reversals, pair, from_ms);
    let row = view.recording.rows.iter().find(|r| r.t_ms == last_ms);
    let place =
        row.map_or(String::new(), |r| format!(" at {:.0} km/h on {:.1} % grade", r.truth.speed_kmh, r.truth.grade_pct));
    format!(
        "{count} reversals within 60 s of steady driving{place}, the last {} at {}; {} allowed",
        say::command_at(view, basis, last_ms),
        say::time(last_ms),
        view.spec.limits.hunting_reversals
    )
}
