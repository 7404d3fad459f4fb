//! Answers that come twice, late or from a second responder change no command. The campaign puts recorded drives before
//! the box again with such answers taken out, and calls `compare`.
//!
//! An answer carries no counter and no responder, so a correct box can't always tell. What it is granted: a shift in
//! time of one poll; to hold or let go after a speed that leaps; to be misled by an answer that a newer one has overtaken,
//! for as long; and with two responders that differ, to follow either one or anything between. Where only such answers
//! came for a while, they were its data, and nothing is compared from there on; nor after an overtaken gear under a range
//! limit, which nothing corrects.
//!
//! What is put before the box is a recording: once a command comes at another time, the gears in it come too late or too
//! soon for the box, so from there on nothing is compared.

use super::fed::Fed;
use super::tally::Tally;
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, Measure, RuleCard, Severity, Situation};
use crate::recording::{Delivered, Recording};
use crate::signal::{Content, Direction, Signal};
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;

const CARD: RuleCard = RuleCard {
    name: "order and duplicate immunity",
    sentence: "With answers that come twice, late or from a second responder, the box gives the same commands as without them, give or take one poll.",
    hazard: "Queues in gateways repeat and reorder answers: an old value looks new, and a shift comes twice as early.",
    severity: Severity::Major,
    unit: "commands",
    near: 0.4,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "drive with answers twice", least: 5 },
        Situation { name: "with late answers", least: 3 },
        Situation { name: "with a second responder", least: 3 },
    ],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 5,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// After a speed that leaps, a box may hold or go on for this long beyond its time of doubt, ms.
const DOUBT_MS: u32 = 3000;

fn judge(_: &View<'_>, _: &mut Tally) {}

/// Which answers are taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extra {
    /// It came with the one before: the same sample, the same value.
    Twin,
    /// Overtaken by a newer sample.
    Late,
    /// Another responder's value for the same sample.
    Other,
}

/// For each answer of a recording what it is besides the one that was asked for, in order of arrival.
#[must_use]
pub fn extras(recording: &Recording) -> Vec<Option<Extra>> {
    let mut newest: [Option<(u32, Content)>; 4] = [None; 4];
    let sort = |d: &Delivered| {
        let slot = newest.get_mut(match d.answer.signal {
            Signal::Speed => 0,
            Signal::Pedal => 1,
            Signal::EngineSpeed => 2,
            Signal::Gear => 3,
        })?;
        match *slot {
            Some((at, content)) if at == d.sampled_ms => {
                Some(if content == d.answer.content { Extra::Twin } else { Extra::Other })
            }
            Some((at, _)) if at > d.sampled_ms => Some(Extra::Late),
            _ => {
                *slot = Some((d.sampled_ms, d.answer.content));
                None
            }
        }
    };
    recording.delivered.iter().map(sort).collect()
}

/// Compares what the box gave on a drive with what it gives with the extra answers taken out: `first` keeps the answer
/// that came first, `second` the other responder's, where there is one.
#[must_use]
pub fn compare(spec: &Spec, recording: &Recording, whole: &Fed, first: &Fed, second: Option<&Fed>) -> Measure {
    let mut tally = Tally::new(&CARD);
    if !whole.repeats(recording) {
        return tally.measure;
    }
    let kinds = extras(recording);
    for (at, kind) in [Extra::Twin, Extra::Late, Extra::Other].into_iter().enumerate() {
        if kinds.contains(&Some(kind)) {
            tally.reached(at);
        }
    }
    let end_ms = recording.rows.last().map_or(0, |r| r.t_ms);
    match first_difference(spec, recording, &kinds, [whole, first, second.unwrap_or(first)]) {
        Some(at_ms) => tally.seen(-1.0, at_ms),
        None => tally.seen(1.0, end_ms),
    }
    tally.measure
}

/// The first command that is not the box's good right, ms. What follows from a difference is none of its own.
fn first_difference(spec: &Spec, recording: &Recording, kinds: &[Option<Extra>], feeds: [&Fed; 3]) -> Option<u32> {
    let [whole, first, second] = feeds;
    let most_ms = spec.link.period.ms() + 2 * recording.tick_ms;
    let mut leaps = leaps(spec, recording);
    leaps.extend(late(recording, kinds).map(|d| d.arrived_ms));
    let doubtful = |at_ms: u32| {
        let since_ms = spec.limits.plausible_for.ms() + DOUBT_MS;
        leaps.iter().any(|&l| l <= at_ms + most_ms && at_ms <= l + since_ms)
    };
    let blind_ms = alone_ms(spec, recording, kinds).min(misled_ms(spec, recording, kinds));
    let silent = [whole.silent_ms, first.silent_ms, second.silent_ms].into_iter().flatten().min();
    // Command by command, as nothing is compared once one has come at another time.
    let (given, a, b) = (whole.commands(), first.commands(), second.commands());
    let end_ms = recording.rows.last().map_or(0, |r| r.t_ms);
    for (at, &(at_ms, direction)) in given.iter().enumerate() {
        let within = |ms: u32, next: Option<&(u32, Direction)>| {
            next.is_some_and(|&(t, d)| d == direction && t.abs_diff(at_ms) <= ms)
        };
        let nexts = [a.get(at), b.get(at)];
        if nexts.into_iter().all(|next| within(2 * recording.tick_ms, next)) {
            continue;
        }
        // One that either responder alone brings never, or another way, lies behind all times.
        let same = || nexts.into_iter().flatten().filter(|next| next.1 == direction).map(|&(t, _)| t);
        let last_ms = if same().count() == nexts.len() { same().max() } else { None };
        let between =
            same().min().is_some_and(|first_ms| first_ms <= at_ms) && last_ms.is_none_or(|last_ms| at_ms <= last_ms);
        if between || nexts.into_iter().any(|next| within(most_ms, next)) {
            // As it may. But of a box that commands at another time the recording tells nothing any more.
            return silent;
        }
        let earliest = nexts.into_iter().flatten().map(|&(t, _)| t).fold(at_ms, u32::min);
        // At the very end the counterpart may lie behind it.
        return (!doubtful(earliest) && earliest + most_ms < end_ms && earliest < blind_ms).then_some(earliest);
    }
    // Commands that never came, though both would have them.
    let missing = a.get(given.len()).zip(b.get(given.len())).map(|(s, t)| s.0.max(t.0));
    missing.filter(|&at_ms| at_ms + most_ms < end_ms && !doubtful(at_ms) && at_ms < blind_ms).or(silent)
}

/// When an answer first came that alone kept speed or pedal from growing old, ms.
fn alone_ms(spec: &Spec, recording: &Recording, kinds: &[Option<Extra>]) -> u32 {
    let end_ms = recording.rows.last().map_or(0, |r| r.t_ms);
    let first_of = |signal: Signal| {
        let answers = kinds.iter().zip(&recording.delivered).filter(|(_, d)| d.answer.signal == signal);
        let mut told = answers.map(|(kind, d)| (kind.is_some(), d.arrived_ms)).chain([(false, end_ms)]);
        let (mut kept, mut extra) = (None, None);
        told.find_map(|(is_extra, at_ms)| {
            if is_extra {
                extra = extra.or(Some(at_ms));
                return None;
            }
            let old = kept.replace(at_ms).is_some_and(|before: u32| at_ms > before + spec.limits.data_fresh.ms());
            extra.take().filter(|_| old)
        })
    };
    [Signal::Speed, Signal::Pedal].into_iter().filter_map(first_of).min().unwrap_or(u32::MAX)
}

/// When a gear came that a newer one had overtaken, under a range limit, ms: a higher one is a higher limit to any box, and
/// the gear below a limit doesn't correct it.
fn misled_ms(spec: &Spec, recording: &Recording, kinds: &[Option<Extra>]) -> u32 {
    let limit = spec.vehicle.gearbox.gate.means == GateMeans::RangeLimit;
    let gear = late(recording, kinds).find(|d| d.answer.signal == Signal::Gear);
    gear.filter(|_| limit).map_or(u32::MAX, |d| d.arrived_ms)
}

/// When the speed read leapt, by the times of arrival alone: any box may hold then, ms.
fn leaps(spec: &Spec, recording: &Recording) -> Vec<u32> {
    let speed = |d: &Delivered| match d.answer.content {
        Content::Value(kmh) if d.answer.signal == Signal::Speed => Some((d.arrived_ms, kmh)),
        _ => None,
    };
    let speeds: Vec<(u32, f64)> = recording.delivered.iter().filter_map(speed).collect();
    let limits = &spec.limits;
    let leapt = |pair: &&[(u32, f64)]| {
        let [(from_ms, from), (to_ms, to)] = **pair else { return false };
        let most = if to < from { limits.fall_limit.0 } else { limits.rise_limit.0 };
        (to - from).abs() > most * f64::from(to_ms.saturating_sub(from_ms)) / 1000.0 + 2.0
    };
    speeds.windows(2).filter(leapt).filter_map(|pair| Some(pair.last()?.0)).collect()
}

/// Answers that a newer one had overtaken: they carry no time of sampling, so no box can tell them.
fn late<'a>(recording: &'a Recording, kinds: &[Option<Extra>]) -> impl Iterator<Item = &'a Delivered> {
    let late = recording.delivered.iter().zip(kinds).filter(|(_, kind)| **kind == Some(Extra::Late));
    late.map(|(d, _)| d)
}

fn says(_: &View<'_>, _: Basis, at_ms: u32) -> String {
    format!("with the extra answers taken out, the commands differ from {} on", say::time(at_ms))
}
