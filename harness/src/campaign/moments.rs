//! Failing moments: for each broken rule the first drive that breaks it, shrunk, with whose fault it is.

use super::Save;
use super::ahead::{self, Chosen, Seen};
use super::blame::{Judgement, Referee};
use super::look::{Candidate, Looked, Rigs};
use super::plan::Plan;
use super::rig::Rig;
use super::sweep::Driven;
use super::waived;
use crate::controller::{NotStarted, Source};
use crate::drive::Drive;
use crate::outcome::{Basis, Measure, Moment, Outcome};
use crate::rules::RULES;
use crate::spec::Spec;
use crate::spec::link::Run;
use crate::spec::terms::Waiver;

/// In truth-only failures this many drives are looked at, to tell the build's fault from a signal limit.
const MOST_LOOKED_AT: usize = 60;

/// Of a rule that is broken in drives where it doesn't come again, this many are looked at.
const MOST_NOT_REPRODUCIBLE: usize = 4;

/// A truth-only failure within this long after another broken rule is its consequence, ms.
const CONSEQUENCE_MS: u32 = 5000;

/// What the drives showed.
#[derive(Default)]
pub struct Found {
    /// Failing moments.
    pub moments: Vec<Moment>,
    /// Drive files: name and text.
    pub files: Vec<(String, String)>,
    /// For each rule what its failures come to, if it fails at all.
    pub outcomes: Vec<Option<Outcome>>,
    /// No flag and no announcement was ever seen.
    pub engagement_by_commands: bool,
    /// Of each moment: the drive as found, the instant in it, and the minimal drive.
    origins: Vec<(usize, Option<u32>, Drive)>,
}

/// What the moments of a sweep are found with.
#[derive(Clone, Copy)]
pub struct Finding<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// The build.
    pub source: &'a dyn Source,
    /// The plan.
    pub plan: &'a Plan<'a>,
    /// The run.
    pub run: &'a Run,
    /// What each drive came to.
    pub driven: &'a [Driven],
    /// The waivers that hold on the day of the run.
    pub waivers: &'a [&'a Waiver],
    /// This rule alone.
    pub only: Option<usize>,
    /// Threads.
    pub jobs: usize,
}

impl<'a> Finding<'a> {
    /// The moments of one rule (its index), without waivers.
    #[must_use]
    pub fn of_rule(
        spec: &'a Spec,
        source: &'a dyn Source,
        plan: &'a Plan<'a>,
        run: &'a Run,
        driven: &'a [Driven],
        rule: usize,
    ) -> Self {
        Self { spec, source, plan, run, driven, waivers: &[], only: Some(rule), jobs: 1 }
    }

    fn waivers_of(&self, rule: usize) -> Vec<&'a Waiver> {
        let name = RULES.get(rule).map(|rule| rule.card.name);
        self.waivers.iter().copied().filter(|waiver| name.is_some_and(|name| waiver.rule == name)).collect()
    }
}

/// Finds and shrinks the failing moments of a sweep.
///
/// # Errors
/// The controller wasn't started again.
pub fn find(finding: &Finding<'_>, save: Save<'_>) -> Result<Found, NotStarted> {
    let &Finding { spec, source, plan, driven, .. } = finding;
    let mut rigs = Rigs::new(spec, source)?;
    let mut found = Found {
        moments: Vec::new(),
        files: Vec::new(),
        outcomes: vec![None; RULES.len()],
        engagement_by_commands: engagement_by_commands(spec, &mut rigs.build, plan, driven),
        origins: Vec::new(),
    };
    let all = (0..RULES.len()).filter(|&at| judged(spec, at) && finding.only.is_none_or(|one| one == at));
    let rules: Vec<(usize, Vec<&Waiver>)> = all.map(|at| (at, finding.waivers_of(at))).collect();
    let unwaived = rules.iter().filter(|(_, waivers)| waivers.is_empty());
    let first = |&(at, _): &(usize, Vec<&Waiver>)| {
        let measure = |index: usize| driven[index].measures.get(at);
        choose(at, driven.len(), &measure, plan, &mut rigs.referee)
    };
    let firsts: Vec<Chosen> = unwaived.filter_map(first).collect();
    let mut ahead = ahead::look(finding, &firsts, save);
    for (at, waivers) in rules {
        if !waivers.is_empty() {
            waived::find(finding, at, &waivers, &mut rigs, &mut found, save);
            continue;
        }
        // What doesn't come again in one drive may well in another.
        let mut once: Vec<usize> = Vec::new();
        let mut next = firsts.iter().find(|first| first.candidate.rule == at).copied();
        while let Some(failure) = next.filter(|_| once.len() < MOST_NOT_REPRODUCIBLE) {
            let moment = found.add(finding, failure, ahead.remove(&at), &mut rigs, save);
            let moment = moment.and_then(|moment| found.moments.get(moment));
            if moment.is_none_or(|m| m.outcome != Outcome::NotReproducible) {
                break;
            }
            once.push(failure.candidate.index);
            let measure =
                |index: usize| if once.contains(&index) { Measure::default() } else { driven[index].measures.get(at) };
            next = choose(at, driven.len(), &measure, plan, &mut rigs.referee);
        }
    }
    found.moments.sort_by_key(|m| {
        let severity = m.broken.iter().map(|b| b.card.severity).min();
        (m.outcome != Outcome::Broken, severity)
    });
    Ok(found)
}

/// Whether a rule is judged at all: it applies, and isn't switched off.
#[must_use]
pub fn judged(spec: &Spec, rule: usize) -> bool {
    RULES
        .get(rule)
        .is_some_and(|rule| (rule.does_not_apply)(spec).is_none() && spec.rules.off(rule.card.name).is_none())
}

impl Found {
    /// Looks into a failure, unless that has been done ahead, and adds what it comes to; returns the index of its moment.
    pub fn add(
        &mut self,
        finding: &Finding<'_>,
        failure: Chosen,
        ahead: Option<Seen>,
        rigs: &mut Rigs<'_>,
        save: Save<'_>,
    ) -> Option<usize> {
        let Chosen { candidate, judgement, raw_ms } = failure;
        let looked = Looked::new(finding, candidate, judgement)?;
        if let Some(at) = self.same_command(&looked, raw_ms, rigs) {
            return Some(at);
        }
        let (mut moment, drive) = match ahead {
            Some(Seen { moment, drive, files }) => {
                self.files.extend(files);
                (moment, drive)
            }
            None => looked.look(rigs, &mut self.files, save),
        };
        moment.outcome = consequence(finding.spec, &moment, finding.driven, candidate).unwrap_or(moment.outcome);
        self.worse(candidate.rule, &moment.outcome);
        Some(self.join(moment, (candidate.index, raw_ms, drive)))
    }

    /// The same with an entry of its own, whatever else is broken there: what is waived and what isn't stay apart.
    pub fn add_alone(
        &mut self,
        looked: &Looked<'_>,
        raw_ms: Option<u32>,
        rigs: &mut Rigs<'_>,
        save: Save<'_>,
    ) -> Option<&mut Moment> {
        let (mut moment, drive) = looked.look(rigs, &mut self.files, save);
        let (spec, candidate) = (looked.spec, looked.candidate);
        moment.outcome = consequence(spec, &moment, looked.driven, candidate).unwrap_or(moment.outcome);
        self.moments.push(moment);
        self.origins.push((candidate.index, raw_ms, drive));
        self.moments.last_mut()
    }

    /// What a rule comes to over all its failures is the worst of them.
    pub fn worse(&mut self, rule: usize, outcome: &Outcome) {
        let Some(slot) = self.outcomes.get_mut(rule) else { return };
        if slot.as_ref().is_none_or(|old| weight(outcome) > weight(old)) {
            *slot = Some(outcome.clone());
        }
    }

    /// Rules broken by one command are one entry: where another rule was broken at the same instant of the same drive,
    /// and its minimal drive breaks this rule too, at that instant, nothing more is to be looked for.
    fn same_command(&mut self, looked: &Looked<'_>, raw_ms: Option<u32>, rigs: &mut Rigs<'_>) -> Option<usize> {
        let index = looked.candidate.index;
        let same = |(found_in, at_ms, _): &&(usize, Option<u32>, Drive)| *found_in == index && *at_ms == raw_ms;
        let at = self.origins.iter().position(|origin| raw_ms.is_some() && same(&origin))?;
        let (_, _, drive) = self.origins.get(at)?;
        let (broken, outcome) = looked.comes_to(rigs, drive, None);
        let moment = self.moments.get_mut(at)?;
        let together = broken.mark.broken()
            && outcome == moment.outcome
            && moment.broken.iter().any(|b| b.mark.at_ms == broken.mark.at_ms);
        if !together {
            return None;
        }
        moment.broken.push(broken);
        self.worse(looked.candidate.rule, &outcome);
        Some(at)
    }

    /// The same, where two minimal drives turned out the same.
    fn join(&mut self, moment: Moment, origin: (usize, Option<u32>, Drive)) -> usize {
        let same = self.moments.iter().position(|m| {
            m.lines == moment.lines
                && m.outcome == moment.outcome
                && m.broken.iter().any(|b| moment.broken.iter().any(|c| c.mark.at_ms == b.mark.at_ms))
        });
        match same.and_then(|at| Some((at, self.moments.get_mut(at)?))) {
            Some((at, first)) => {
                self.files.retain(|(name, _)| *name != moment.file);
                first.broken.extend(moment.broken);
                at
            }
            None => {
                self.moments.push(moment);
                self.origins.push(origin);
                self.moments.len() - 1
            }
        }
    }
}

/// Which of two outcomes of one rule is the worse.
fn weight(outcome: &Outcome) -> u8 {
    match outcome {
        Outcome::Broken => 4,
        Outcome::TooClose | Outcome::DependsOnData(_) | Outcome::NotReproducible => 3,
        Outcome::Waived(_) => 2,
        Outcome::SignalLimit => 1,
        _ => 0,
    }
}

/// The drive to look into for a rule: the first that breaks it on what was seen; else the first that breaks it in truth
/// without excuse; else the first that is too close; else the first signal limit.
pub fn choose(
    rule: usize,
    drives: usize,
    measure: &dyn Fn(usize) -> Measure,
    plan: &Plan<'_>,
    referee: &mut Referee<'_>,
) -> Option<Chosen> {
    let chosen = |basis, index, judgement| {
        let raw_ms = measure(index).mark(basis).map(|m| m.at_ms);
        Chosen { candidate: Candidate { rule, basis, index }, judgement, raw_ms }
    };
    let seen = |index: &usize| measure(*index).seen.is_some_and(|m| m.broken());
    if let Some(index) = (0..drives).find(seen) {
        return Some(chosen(Basis::Seen, index, Judgement::Build));
    }
    let below: Vec<usize> = (0..drives).filter(|&i| measure(i).truth.is_some_and(|m| m.margin < 0.0)).collect();
    let broken = |i: usize| measure(i).truth.is_some_and(|m| m.broken());
    let margin = |i: usize| measure(i).truth.map_or(0.0, |m| m.margin);
    let mut limit = None;
    let mut close = None;
    let (worse, nearer): (Vec<usize>, Vec<usize>) = below.into_iter().partition(|&i| broken(i));
    for index in worse.into_iter().take(MOST_LOOKED_AT).chain(nearer.into_iter().take(MOST_LOOKED_AT)) {
        let here = |judgement| chosen(Basis::True, index, judgement);
        let unknowable = measure(index).truth.is_some_and(|m| m.unknowable);
        let judgement = match (broken(index), unknowable) {
            (true, true) => Some(Judgement::SignalLimit),
            (false, true) => None,
            (broken, false) => referee.truth(rule, &plan.drive(index), broken),
        };
        match judgement {
            Some(Judgement::Build) => return Some(here(Judgement::Build)),
            Some(Judgement::TooClose) if referee.comes_as_close(rule, plan, margin(index)) => {}
            Some(Judgement::TooClose) => close = close.or(Some(here(Judgement::TooClose))),
            Some(Judgement::SignalLimit) => limit = limit.or(Some(here(Judgement::SignalLimit))),
            // As near as the reference comes with the same signals: kept within the tolerance.
            None => {}
        }
    }
    close.or(limit)
}

/// Broken in truth within 5 s after another rule was broken on what was seen, in the drive as found.
fn consequence(spec: &Spec, moment: &Moment, driven: &[Driven], candidate: Candidate) -> Option<Outcome> {
    if candidate.basis == Basis::Seen || moment.outcome != Outcome::Broken {
        return None;
    }
    let measures = &driven.get(candidate.index)?.measures;
    let at_ms = measures.get(candidate.rule).truth?.at_ms;
    let cause = measures.told().find(|(at, m)| {
        *at != candidate.rule
            && judged(spec, *at)
            && m.seen.is_some_and(|s| s.broken() && s.at_ms <= at_ms && at_ms - s.at_ms <= CONSEQUENCE_MS)
    });
    cause.map(|(at, _)| Outcome::Consequence(format!("follows within 5 s from: {}", RULES[at].card.name)))
}

fn engagement_by_commands(spec: &Spec, rig: &mut Rig<'_>, plan: &Plan<'_>, driven: &[Driven]) -> bool {
    if spec.facts.announces || driven.is_empty() {
        return false;
    }
    rig.drive(&plan.drive(0));
    rig.recording().rows.iter().all(|r| r.engaged.is_none())
}
