//! What was agreed, as the report tells it: waivers with what became of them, rules switched off, limits loosened.

use super::Options;
use crate::date::Date;
use crate::outcome::{Loosened, Moment, OffRow, Outcome, Terms, WaiverRow, WaiverState};
use crate::spec::Spec;
use crate::spec::limit_table::loosened;
use crate::spec::terms::Waiver;

/// The waivers that hold on the day of the run.
///
/// # Errors
/// The spec has waivers and no day was named.
pub fn holding(spec: &Spec, as_of: Option<Date>) -> Result<Vec<&Waiver>, String> {
    match as_of {
        Some(day) => Ok(spec.waivers.iter().filter(|waiver| day <= waiver.expires).collect()),
        None if spec.waivers.is_empty() => Ok(Vec::new()),
        None => Err(format!(
            "the spec has {}, and the day against which they are judged is not named: add --as-of YEAR-MONTH-DAY, for \
             example --as-of 2026-11-25 (it is never taken from the clock, so that the same command gives the same \
             outcome on any day)",
            if spec.waivers.len() == 1 { "a waiver".to_owned() } else { format!("{} waivers", spec.waivers.len()) }
        )),
    }
}

/// The terms of a run, once its moments are known.
#[must_use]
pub fn terms(spec: &Spec, options: &Options, moments: &[Moment]) -> Terms {
    let baseline = options.baseline.as_ref();
    let waivers = spec.waivers.iter().map(|waiver| {
        let Waiver { rule, cause, reason, role, expires } = waiver.clone();
        let new = baseline.map(|before| !before.waivers.iter().any(|w| w.rule == rule && w.cause == cause));
        WaiverRow { rule, cause, reason, role, expires, state: state(waiver, options.as_of, moments), new }
    });
    let off = spec.rules.off.iter().map(|off| OffRow {
        rule: off.rule.clone(),
        reason: off.reason.clone(),
        new: baseline.map(|before| before.rules.off(&off.rule).is_none()),
    });
    let limits = loosened(&spec.limits, baseline.map(|before| &before.limits));
    Terms {
        as_of: options.as_of,
        baseline: baseline.map(|before| before.name.clone()),
        waivers: waivers.collect(),
        off: off.collect(),
        loosened: limits
            .into_iter()
            .map(|change| Loosened { name: change.name.to_owned(), from: change.from, to: change.to })
            .collect(),
    }
}

fn state(waiver: &Waiver, as_of: Option<Date>, moments: &[Moment]) -> WaiverState {
    let covered = |moment: &Moment| {
        matches!(moment.outcome, Outcome::Waived(_))
            && moment
                .broken
                .iter()
                .any(|b| b.card.name == waiver.rule && b.cause.is_some_and(|cause| cause.to_string() == waiver.cause))
    };
    if as_of.is_some_and(|day| day > waiver.expires) {
        WaiverState::Ended
    } else if moments.iter().any(covered) {
        WaiverState::Covers
    } else {
        WaiverState::NotNeeded
    }
}
