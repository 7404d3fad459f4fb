//! Gathers what the rules measured on all drives into one row a rule.

use super::corners::{corners, decides};
use super::moments::Found;
use super::plan::Plan;
use super::sweep::Driven;
use crate::controller::{NotStarted, Source};
use crate::outcome::{Basis, Mark, Outcome, RuleOutcome};
use crate::rules::{RULES, Rule};
use crate::spec::Spec;
use crate::spec::link::Run;

/// One row a rule, in the table's order. `full`: all manoeuvres were asked for, so what was not reached counts.
#[must_use]
pub fn rules(
    spec: &Spec,
    plan: &Plan<'_>,
    run: &Run,
    driven: &[Driven],
    found: &Found,
    full: bool,
) -> Vec<RuleOutcome> {
    RULES.iter().enumerate().map(|(at, rule)| one(spec, plan, run, driven, found, full, at, rule)).collect()
}

/// Kept rules that hang on map and vehicle numbers: whether the drive with the smallest margin breaks them at an end of
/// a number's spread.
///
/// # Errors
/// The controller wasn't started.
pub fn hangs_on_data(
    spec: &Spec,
    source: &dyn Source,
    plan: &Plan<'_>,
    driven: &[Driven],
    rules: &mut [RuleOutcome],
) -> Result<(), NotStarted> {
    let corners = corners(spec);
    if corners.is_empty() {
        return Ok(());
    }
    for (at, row) in rules.iter_mut().enumerate() {
        if row.outcome != Outcome::Kept || !row.card.map_can_break {
            continue;
        }
        for &basis in row.card.judged_on {
            let margin = |d: &Driven| d.measures.get(at).mark(basis).filter(|m| !m.unknowable).map(|m| m.margin);
            let nearest = (0..driven.len())
                .filter_map(|index| Some((index, margin(&driven[index])?)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            let Some((index, _)) = nearest else { continue };
            if let Some(number) = decides(spec, &corners, source, &plan.drive(index), at, basis, false)? {
                row.outcome = Outcome::DependsOnData(number);
                break;
            }
        }
    }
    Ok(())
}

#[expect(clippy::too_many_arguments, reason = "one rule of the many that share all the rest")]
fn one(
    spec: &Spec,
    plan: &Plan<'_>,
    run: &Run,
    driven: &[Driven],
    found: &Found,
    full: bool,
    at: usize,
    rule: &'static Rule,
) -> RuleOutcome {
    let mut reached = vec![0u32; rule.card.situations.len()];
    let (mut drives, mut close, mut excused) = (0, 0, 0);
    let mut smallest: Option<(Basis, Mark, usize)> = None;
    for (index, d) in driven.iter().enumerate() {
        let measure = d.measures.get(at);
        for (sum, count) in reached.iter_mut().zip(measure.reached) {
            *sum = sum.saturating_add(count);
        }
        drives += u32::from(measure.reached.iter().any(|&n| n > 0));
        close += measure.close;
        excused += measure.excused;
        for basis in rule.card.judged_on {
            if let Some(mark) = measure.mark(*basis)
                && smallest.is_none_or(|(_, least, _)| mark.margin < least.margin)
            {
                smallest = Some((*basis, mark, index));
            }
        }
    }
    let asked = run.must_reach.as_ref().is_none_or(|names| names.iter().any(|n| n == rule.card.name));
    if reached.iter().all(|&count| count == 0) && found.outcomes.get(at).is_none_or(Option::is_none) {
        // What was measured where no situation came is no evidence, so it isn't shown.
        (smallest, close) = (None, 0);
    }
    let needed = |which: usize, least: u32| full && asked && least > 0 && (rule.asks)(spec, which);
    let rarest = rule
        .card
        .situations
        .iter()
        .zip(&reached)
        .enumerate()
        .filter(|(which, (situation, _))| needed(*which, situation.least))
        .map(|(_, (_, count))| *count)
        .min()
        // Where a run must come to none, what it came to most.
        .or(reached.iter().max().copied());
    let outcome = outcome(spec, found, at, rule, &reached, full, asked, smallest.is_some());
    RuleOutcome {
        card: rule.card,
        outcome,
        smallest: smallest.map(|(basis, mark, index)| (basis, mark, plan.name(index))),
        reached,
        rarest,
        drives,
        close,
        excused,
    }
}

#[expect(clippy::too_many_arguments, reason = "all that decides an outcome")]
fn outcome(
    spec: &Spec,
    found: &Found,
    at: usize,
    rule: &Rule,
    reached: &[u32],
    full: bool,
    asked: bool,
    measured: bool,
) -> Outcome {
    if let Some(why) = (rule.does_not_apply)(spec) {
        return Outcome::DoesNotApply(why);
    }
    if let Some(why) = spec.rules.off(rule.card.name) {
        return Outcome::SwitchedOff(why.to_owned());
    }
    let failing = found.outcomes.get(at).cloned().flatten();
    // What is waived passes; that a situation was never reached doesn't.
    if let Some(failing) = failing.as_ref().filter(|f| !matches!(f, Outcome::Waived(_))) {
        return failing.clone();
    }
    if let Some(why) = (rule.cant_judge)(spec) {
        return Outcome::CantJudge(why);
    }
    let missing: Vec<String> = rule
        .card
        .situations
        .iter()
        .zip(reached)
        .enumerate()
        .filter(|(which, (situation, count))| **count < situation.least && (rule.asks)(spec, *which))
        .map(|(_, (situation, count))| format!("{} ({count} of {})", situation.name, situation.least))
        .collect();
    // Alone, a manoeuvre is asked only for what it comes to.
    let came = reached.iter().any(|&count| count > 0);
    if !full && !measured && failing.is_none() {
        return Outcome::DoesNotApply("none of its situations belongs to the manoeuvres chosen".into());
    }
    if full && asked && !missing.is_empty() {
        return Outcome::NotReached(missing.join("; "));
    }
    if !came && failing.is_none() {
        return Outcome::DoesNotApply("none of its situations came, and the run doesn't ask for them".into());
    }
    // Nothing that it judges came up in all drives, as with a box that doesn't show what it counts.
    let unmeasured = || Outcome::CantJudge("nothing that it judges came up: the box doesn't show it".into());
    failing.unwrap_or_else(|| if measured { Outcome::Kept } else { unmeasured() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What becomes of a rule that nothing breaks, on the van; `reached`: how often each situation came.
    fn of(name: &str, reached: &[u32], full: bool, asked: bool, measured: bool) -> Outcome {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("specs/van.toml");
        let spec = crate::spec::load(&path).unwrap();
        let at = crate::rules::find(name).unwrap();
        let found = Found::default();
        outcome(&spec, &found, at, &RULES[at], reached, full, asked, measured)
    }

    /// The rule has two situations, each needed once; a margin may be measured without either, as for a down command
    /// from a high gear.
    #[test]
    fn kept_takes_a_situation_that_came() {
        let first = |reached: [u32; 2], full, asked| of("never commands first", &reached, full, asked, true);
        assert_eq!(first([5, 5], true, true), Outcome::Kept);
        assert!(matches!(first([5, 0], true, true), Outcome::NotReached(_)));
        assert!(matches!(first([0, 0], true, true), Outcome::NotReached(_)));
        // A manoeuvre alone, or a run that doesn't ask for it: kept where it came to one, and never where it came to none.
        for (full, asked) in [(false, true), (true, false)] {
            assert_eq!(first([5, 0], full, asked), Outcome::Kept);
            assert!(matches!(first([0, 0], full, asked), Outcome::DoesNotApply(_)), "{full} {asked}");
        }
        assert!(matches!(of("never commands first", &[5, 5], true, true, false), Outcome::CantJudge(_)));
    }
}
