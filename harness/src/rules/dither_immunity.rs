//! Speed or pedal that dither about a line don't make the box shift to and fro.
//!
//! Told from what was read: speed within two counts and pedal within two counts either side, with a line of the gear
//! known in between, so that some pairs lie beyond it and some don't. Steps one after the other in the same direction
//! count as one: a box may still be on its way to the map's gear when the dither begins.

use super::story::still::Dither;
use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "dither immunity",
    sentence: "While speed and pedal only dither about a line, no more than the stated number of shifts come in 60 s.",
    hazard: "One count of speed or a trembling foot flips the gear: wear, heat, and a car that can't keep still on the flat.",
    severity: Severity::Major,
    unit: "shifts",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "60 s of dither about a line", least: 2 }],
    limits: &["dither-shifts"],
    map_can_break: true,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// Length over which shifts are counted, ms.
const MINUTE_MS: u32 = 60_000;

/// A line that leaves a gear known or leads to it lies between the pairs read: without a gap it would be crossed back.
fn about_a_line(view: &View<'_>, dither: &Dither) -> bool {
    let map = &view.spec.map;
    let held = |gear: u8| dither.gears & (1 << gear.min(15)) != 0;
    map.lines.iter().filter(|line| held(line.from) || held(line.to)).any(|line| {
        let at = |pedal: f64| map.speed_kmh(line.from, line.to, pedal);
        let (Some(a), Some(b)) = (at(dither.pedal.least), at(dither.pedal.most)) else { return false };
        let (low, high) = (a.min(b), a.max(b));
        let speed = dither.speed;
        if line.to > line.from {
            speed.most >= low && speed.least < high
        } else {
            speed.least <= high && speed.most > low
        }
    })
}

/// The most changes of direction within a minute, the first shift included, and when the last of them came.
fn most(view: &View<'_>, dither: &Dither) -> (u32, u32) {
    let commands = &view.story.commands;
    let from = commands.partition_point(|c| c.at_ms < dither.from_ms);
    let to = commands.partition_point(|c| c.at_ms < dither.to_ms);
    let within = commands.get(from..to).unwrap_or(&[]);
    let turns = || {
        let turned = within.windows(2).filter(|pair| pair[0].taken_back_by(&pair[1])).map(|pair| pair[1].at_ms);
        within.first().map(|c| c.at_ms).into_iter().chain(turned)
    };
    let mut worst = (0, dither.from_ms);
    for end_ms in turns() {
        let count = turns().filter(|&at| at <= end_ms && at + MINUTE_MS >= end_ms).count();
        let count = u32::try_from(count).unwrap_or(u32::MAX);
        if count > worst.0 {
            worst = (count, end_ms);
        }
    }
    worst
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let allowed = f64::from(view.spec.limits.dither_shifts);
    for dither in view.story.dithers.iter().filter(|d| about_a_line(view, d)) {
        let (count, at_ms) = most(view, dither);
        let long = dither.to_ms - dither.from_ms >= MINUTE_MS;
        if long {
            tally.reached(0);
        }
        let margin = allowed - f64::from(count);
        if long || margin < 0.0 {
            tally.seen(margin, at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let dither = view.story.dithers.iter().find(|d| (d.from_ms..=d.to_ms).contains(&at_ms));
    let Some(dither) = dither else { return say::command_at(view, basis, at_ms) };
    let (count, last_ms) = most(view, dither);
    format!(
        "{count} shifts to and fro within 60 s while the speed reads {:.0} to {:.0} km/h and the pedal {:.0} to {:.0} %, the last {} at {}; {} allowed",
        dither.speed.least,
        dither.speed.most,
        dither.pedal.least,
        dither.pedal.most,
        say::command_at(view, basis, last_ms),
        say::time(last_ms),
        view.spec.limits.dither_shifts
    )
}
