//! Failures of a rule that has waivers. A waiver covers one failing cause; whatever else breaks the rule still counts,
//! in other drives and in the same ones.

use super::Save;
use super::blame::Judgement;
use super::look::{Candidate, Looked, Rigs};
use super::moments::{Finding, Found, choose};
use crate::drive::Drive;
use crate::failing_cause::{Culprit, FailingCause, Instant};
use crate::outcome::{Basis, Blame, Measure, Outcome};
use crate::rules::instants::Marks;
use crate::rules::{RULES, Rule};
use crate::spec::terms::Waiver;
use std::collections::BTreeSet;

/// Finds the moments of one rule: first with all marks at the waived kinds of instant left out, then those kinds one by
/// one, each with whose fault it is.
pub fn find(
    finding: &Finding<'_>,
    rule: usize,
    waivers: &[&Waiver],
    rigs: &mut Rigs<'_>,
    found: &mut Found,
    save: Save<'_>,
) {
    let causes: Vec<FailingCause> = waivers.iter().filter_map(|w| FailingCause::parse(&w.cause).ok()).collect();
    let instants: BTreeSet<Instant> = causes.iter().map(|cause| cause.instant).collect();
    let below = |m: &Measure| [m.seen, m.truth].into_iter().flatten().any(|m| m.margin < 0.0);
    let failing: Vec<usize> =
        (0..finding.driven.len()).filter(|&at| below(&finding.driven[at].measures.get(rule))).collect();

    let others = measured(finding, rule, &failing, Marks::Except(instants.iter().copied().collect()), rigs);
    let measure = |index: usize| others.get(index).copied().unwrap_or_default();
    if let Some(failure) = choose(rule, others.len(), &measure, finding.plan, &mut rigs.referee) {
        found.add(finding, failure, None, rigs, save);
    }
    for instant in instants {
        let these = measured(finding, rule, &failing, Marks::Only(instant), rigs);
        one_kind(finding, rule, instant, waivers, &these, rigs, found, save);
    }
    rigs.some(None);
}

/// The measures of a rule on all drives, with only some marks counting; the rigs go on so.
fn measured(finding: &Finding<'_>, rule: usize, failing: &[usize], marks: Marks, rigs: &mut Rigs<'_>) -> Vec<Measure> {
    rigs.some(Some((rule, marks)));
    let mut measures = vec![Measure::default(); finding.driven.len()];
    for &index in failing {
        let measure = rigs.build.drive(&finding.plan.drive(index)).get(rule).copied();
        if let (Some(slot), Some(measure)) = (measures.get_mut(index), measure) {
            *slot = measure;
        }
    }
    measures
}

/// The failures at one kind of instant: of each cause the first drive is looked into. What a waiver covers is waived,
/// the rest is broken.
#[expect(clippy::too_many_arguments, reason = "one part of the search, with all that the search holds")]
fn one_kind(
    finding: &Finding<'_>,
    rule: usize,
    instant: Instant,
    waivers: &[&Waiver],
    measures: &[Measure],
    rigs: &mut Rigs<'_>,
    found: &mut Found,
    save: Save<'_>,
) {
    let Some(card) = RULES.get(rule) else { return };
    let mut done: BTreeSet<FailingCause> = BTreeSet::new();
    for (index, measure) in measures.iter().enumerate() {
        let Some((basis, culprit)) = culprit(card, rule, measure, &finding.plan.drive(index), rigs) else { continue };
        if !done.insert(FailingCause { culprit, instant }) {
            continue;
        }
        let candidate = Candidate { rule, basis, index };
        let Some(looked) = Looked::new(finding, candidate, Judgement::Build) else { continue };
        let raw_ms = measure.mark(basis).map(|m| m.at_ms);
        let Some(moment) = found.add_alone(&looked, raw_ms, rigs, save) else { continue };
        let cause = moment.broken.first().and_then(|b| b.cause);
        let waiver = cause.and_then(|cause| waivers.iter().find(|w| w.cause == cause.to_string()));
        // Shrinking may have shown another culprit than the drive as found: the waiver then doesn't cover it.
        if let Some(waiver) = waiver.filter(|_| moment.outcome == Outcome::Broken) {
            let Waiver { reason, role, expires, .. } = waiver;
            moment.outcome = Outcome::Waived(format!("{}, until {expires} by the {role}: {reason}", waiver.cause));
        }
    }
    // The rule's row follows from its moments.
    if let Some(slot) = found.outcomes.get_mut(rule) {
        *slot = None;
    }
    let outcomes: Vec<Outcome> = found
        .moments
        .iter()
        .filter(|m| m.broken.iter().any(|b| b.card.name == card.card.name))
        .map(|m| m.outcome.clone())
        .collect();
    for outcome in outcomes {
        found.worse(rule, &outcome);
    }
}

/// Who is at fault in a drive as found, and on which view; none where it isn't broken beyond doubt.
fn culprit(
    card: &Rule,
    rule: usize,
    measure: &Measure,
    drive: &Drive,
    rigs: &mut Rigs<'_>,
) -> Option<(Basis, Culprit)> {
    if let Some(mark) = measure.seen.filter(|m| m.broken()) {
        let blame = rigs.referee.seen(card, rule, drive, &mut rigs.build, mark.at_ms);
        let map = matches!(blame, Blame::Map(_));
        return Some((Basis::Seen, if map { Culprit::Map } else { Culprit::Build }));
    }
    measure.truth.filter(|m| m.broken() && !m.unknowable)?;
    let builds = rigs.referee.truth(rule, drive, true) == Some(Judgement::Build);
    builds.then_some((Basis::True, Culprit::Build))
}
