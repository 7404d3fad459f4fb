//! What the box asks for on the diagnostic port: reads only, not too many, and none once the bus should sleep.

use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Request;
use crate::spec::Spec;
use crate::spec::pedal::PedalIdentifier;

const CARD: RuleCard = RuleCard {
    name: super::READ_ONLY,
    sentence: "The box only reads current data over the diagnostic port, the pedal among them by the identifier declared, asks no more often than the limit, and falls silent in time after ignition off.",
    hazard: "Writes and sessions disturb other control units, too many requests crowd them out, and a bus that is kept awake empties the battery.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "request for a reading", least: 100 },
        Situation { name: "ignition off for longer than the bus may stay awake", least: 1 },
    ],
    limits: &["most-requests", "sleeps-within"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply, cant_judge: always, asks: all, judge, says };

fn does_not_apply(spec: &Spec) -> Option<String> {
    (!spec.facts.sends_requests).then(|| "the box doesn't say what it asks for".into())
}

/// The services that read current data and change nothing: 01 of SAE J1979 and ISO 15031-5 (current powertrain data),
/// 22 of ISO 14229-1 (read data by identifier).
const READS: [u8; 2] = [0x01, 0x22];

/// The pedal is asked for by service 01 of SAE J1979, up to six identifiers in a request.
const CURRENT_DATA: u8 = 0x01;

/// When the pedal is first asked for by another identifier than the declared one, ms, where that one never is: what was
/// tested is then another signal than the box goes by. A box may read a second sensor to compare. One that has been
/// watched for less than a second may still come to it.
fn other_pedal_ms(view: &View<'_>) -> Option<u32> {
    let declared = view.spec.link.pedal_identifier;
    let asks = |request: &Request, pedal: PedalIdentifier| {
        request.service() == CURRENT_DATA && request.bytes().iter().skip(1).any(|&byte| byte == pedal.code())
    };
    let sent = &view.recording.requests;
    let other = |request: &Request| PedalIdentifier::ALL.into_iter().any(|pedal| asks(request, pedal));
    let (first_ms, _) = sent.iter().find(|(_, request)| other(request))?;
    let never = sent.iter().all(|(_, request)| !asks(request, declared));
    (never && view.story.end_ms >= first_ms + SECOND_MS).then_some(*first_ms)
}

/// The limit on requests counts over this long, ms.
const SECOND_MS: u32 = 1000;

fn reads(request: &Request) -> bool {
    READS.contains(&request.service()) && request.bytes().len() > 1
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if !view.spec.facts.sends_requests {
        return;
    }
    let (limits, tick_ms) = (&view.spec.limits, view.spec.facts.tick.ms());
    let sent = &view.recording.requests;
    for (at_ms, request) in sent {
        if reads(request) {
            tally.reached(0);
        } else {
            tally.seen(-CAP_S, *at_ms);
        }
    }
    if let Some(first_ms) = other_pedal_ms(view) {
        tally.seen(-CAP_S, first_ms);
    }
    // One more than the limit must take a second at least, give or take the tick in which they are told.
    let most = usize::from(limits.most_requests);
    for (first, beyond) in sent.iter().zip(sent.iter().skip(most)) {
        let span_ms = beyond.0 - first.0 + tick_ms;
        tally.seen(s(f64::from(span_ms) - f64::from(SECOND_MS)).min(CAP_S), beyond.0);
    }
    if let [only, ..] = sent.as_slice()
        && sent.len() <= most
    {
        tally.seen(CAP_S, only.0);
    }
    for (off_ms, on_ms) in off_stretches(view) {
        let asleep_ms = off_ms.saturating_add(limits.sleeps_within.ms() + tick_ms);
        if on_ms <= asleep_ms {
            continue;
        }
        tally.reached(1);
        let last = sent.iter().rev().map(|(at, _)| *at).find(|at| (off_ms..on_ms).contains(at));
        let margin = s(f64::from(asleep_ms) - f64::from(last.unwrap_or(off_ms)));
        // What is broken is shown where it begins.
        let first_late = sent.iter().map(|(at, _)| *at).find(|at| (asleep_ms + 1..on_ms).contains(at));
        tally.seen(margin.clamp(-CAP_S, CAP_S), first_late.or(last).unwrap_or(off_ms));
    }
}

/// From the ignition's going off to its coming on again, or the end, ms; only while the box has its supply.
fn off_stretches(view: &View<'_>) -> Vec<(u32, u32)> {
    let tick_ms = view.spec.facts.tick.ms();
    let mut stretches: Vec<(u32, u32)> = Vec::new();
    let mut was_off = false;
    for row in &view.recording.rows {
        let off = !row.inputs.ignition && row.powered && !row.restarted;
        match stretches.last_mut().filter(|_| was_off && off) {
            Some((_, to)) => *to = row.t_ms + tick_ms,
            None if off => stretches.push((row.t_ms, row.t_ms + tick_ms)),
            None => {}
        }
        was_off = off;
    }
    stretches
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let sent = &view.recording.requests;
    let at = say::time(at_ms);
    if let Some((_, request)) = sent.iter().find(|(t, request)| *t == at_ms && !reads(request)) {
        return format!("the box asks {request} at {at}; only services 01 and 22 are readings");
    }
    if other_pedal_ms(view) == Some(at_ms) {
        let declared = view.spec.link.pedal_identifier.code();
        return format!(
            "the box asks for the pedal by another identifier from {at} on, and never by {declared:02X}, the one declared"
        );
    }
    let within = sent.iter().filter(|(t, _)| *t <= at_ms && at_ms - t < SECOND_MS).count();
    if within > usize::from(view.spec.limits.most_requests) {
        return format!(
            "{within} requests in the second before {at}; at most {} are allowed",
            view.spec.limits.most_requests
        );
    }
    let off = off_stretches(view).into_iter().find(|(off, on)| (*off..*on).contains(&at_ms));
    if let Some((off_ms, _)) = off {
        let after = f64::from(at_ms - off_ms) / 1000.0;
        let limit = view.spec.limits.sleeps_within.get() / 1000.0;
        return format!(
            "the box still asks {after:.2} s after ignition off at {}; the limit is {limit:.2} s",
            say::time(off_ms)
        );
    }
    format!("{within} requests in the second before {at}")
}
