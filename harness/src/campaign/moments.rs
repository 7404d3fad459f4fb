//! Failing moments: for each broken rule the first drive that breaks it, shrunk, with whose fault it is.

use super::blame::{Judgement, Referee};
use super::corners::{corners, decides};
use super::drive_out::{Told, drive_file};
use super::plan::Plan;
use super::rig::Rig;
use super::sweep::Driven;
use super::{Save, file_name};
use crate::controller::{NotStarted, Source};
use crate::drive::Drive;
use crate::outcome::{Basis, Blame, BrokenRule, Mark, Measure, Moment, Outcome};
use crate::recording::Silence;
use crate::rules::{RULES, Rule, again};
use crate::shrink::{Try, shrink};
use crate::spec::Spec;
use crate::spec::link::Run;
use crate::vehicle::STEP_MS;

/// In truth-only failures this many drives are looked at, to tell the build's fault from a signal limit.
const MOST_LOOKED_AT: usize = 60;

/// Drives of a build that hangs cost its answer limit each.
const HANGING_BUDGET: u32 = 12;

/// A truth-only failure within this long after another broken rule is its consequence, ms.
const CONSEQUENCE_MS: u32 = 5000;

/// Stands where a failure could not be measured again.
const NO_MARK: Mark = Mark { margin: -1.0, tolerance: 0.0, at_ms: 0, unknowable: false };

/// What the drives showed.
pub struct Found {
    /// Failing moments.
    pub moments: Vec<Moment>,
    /// Drive files: name and text.
    pub files: Vec<(String, String)>,
    /// For each rule what its failures come to, if it fails at all.
    pub outcomes: Vec<Option<Outcome>>,
    /// No flag and no announcement was ever seen.
    pub engagement_by_commands: bool,
}

/// What a failure must keep while it is shrunk: rule, view, kind of silence, and whether the box could have known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Key {
    rule: usize,
    basis: Basis,
    silence: Option<u8>,
    /// Broken on what was seen as well: a truth-only failure must stay one.
    seen_too: bool,
    /// Whether the box could have known.
    unknowable: bool,
}

/// A failure to look into.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    rule: usize,
    basis: Basis,
    index: usize,
}

/// Finds and shrinks the failing moments of a sweep.
///
/// # Errors
/// The controller wasn't started again.
pub fn find(
    spec: &Spec,
    source: &dyn Source,
    plan: &Plan<'_>,
    run: &Run,
    driven: &[Driven],
    save: Save<'_>,
) -> Result<Found, NotStarted> {
    find_only(spec, source, plan, run, driven, save, None)
}

/// The same for one rule alone.
///
/// # Errors
/// The controller wasn't started again.
pub fn find_only(
    spec: &Spec,
    source: &dyn Source,
    plan: &Plan<'_>,
    run: &Run,
    driven: &[Driven],
    save: Save<'_>,
    only: Option<usize>,
) -> Result<Found, NotStarted> {
    let mut rig = Rig::new(spec, source, STEP_MS)?;
    let mut half = Rig::new(spec, source, STEP_MS / 2.0)?;
    let mut referee = Referee::new(spec)?;
    let mut found = Found {
        moments: Vec::new(),
        files: Vec::new(),
        outcomes: vec![None; RULES.len()],
        engagement_by_commands: engagement_by_commands(spec, &mut rig, plan, driven),
    };
    for (at, rule) in RULES.iter().enumerate() {
        if (rule.does_not_apply)(spec).is_some() || only.is_some_and(|one| one != at) {
            continue;
        }
        let Some((candidate, judgement)) = choose(at, driven, plan, &mut referee) else { continue };
        let (outcome, blame) = match judgement {
            Judgement::SignalLimit => (Outcome::SignalLimit, Blame::SignalLimit),
            Judgement::TooClose => (Outcome::TooClose, Blame::Build),
            Judgement::Build => (Outcome::Broken, Blame::Build),
        };
        let moment = Looked { spec, source, plan, run, candidate, rule };
        let mut moment = moment.look(&mut rig, &mut half, &mut referee, outcome, blame, &mut found.files, save);
        moment.outcome = consequence(&moment, driven, candidate).unwrap_or(moment.outcome);
        found.outcomes[at] = Some(moment.outcome.clone());
        join(&mut found, moment);
    }
    found.moments.sort_by_key(|m| {
        let severity = m.broken.iter().map(|b| b.card.severity).min();
        (m.outcome != Outcome::Broken, severity)
    });
    Ok(found)
}

/// Rules broken by one command, in one and the same minimal drive, are one entry.
fn join(found: &mut Found, moment: Moment) {
    let same = found.moments.iter_mut().find(|m| {
        m.lines == moment.lines
            && m.outcome == moment.outcome
            && m.broken.iter().any(|b| moment.broken.iter().any(|c| c.mark.at_ms == b.mark.at_ms))
    });
    match same {
        Some(first) => {
            found.files.retain(|(name, _)| *name != moment.file);
            first.broken.extend(moment.broken);
        }
        None => found.moments.push(moment),
    }
}

/// The drive to look into for a rule: the first that breaks it on what was seen; else the first that breaks it in truth
/// without excuse; else the first that is too close; else the first signal limit.
fn choose(
    rule: usize,
    driven: &[Driven],
    plan: &Plan<'_>,
    referee: &mut Referee<'_>,
) -> Option<(Candidate, Judgement)> {
    let seen = |d: &Driven| d.measures[rule].seen.is_some_and(|m| m.broken());
    if let Some(index) = driven.iter().position(seen) {
        return Some((Candidate { rule, basis: Basis::Seen, index }, Judgement::Build));
    }
    let below: Vec<usize> =
        (0..driven.len()).filter(|&i| driven[i].measures[rule].truth.is_some_and(|m| m.margin < 0.0)).collect();
    let broken = |i: usize| driven[i].measures[rule].truth.is_some_and(|m| m.broken());
    let margin = |i: usize| driven[i].measures[rule].truth.map_or(0.0, |m| m.margin);
    let mut limit = None;
    let mut close = None;
    let (worse, nearer): (Vec<usize>, Vec<usize>) = below.into_iter().partition(|&i| broken(i));
    for index in worse.into_iter().take(MOST_LOOKED_AT).chain(nearer.into_iter().take(MOST_LOOKED_AT)) {
        let candidate = Candidate { rule, basis: Basis::True, index };
        let unknowable = driven[index].measures[rule].truth.is_some_and(|m| m.unknowable);
        let judgement = match (broken(index), unknowable) {
            (true, true) => Some(Judgement::SignalLimit),
            (false, true) => None,
            (broken, false) => referee.truth(rule, &plan.drive(index), broken),
        };
        match judgement {
            Some(Judgement::Build) => return Some((candidate, Judgement::Build)),
            Some(Judgement::TooClose) if referee.comes_as_close(rule, plan, margin(index)) => {}
            Some(Judgement::TooClose) => close = close.or(Some((candidate, Judgement::TooClose))),
            Some(Judgement::SignalLimit) => limit = limit.or(Some((candidate, Judgement::SignalLimit))),
            // As near as the reference comes with the same signals: kept within the tolerance.
            None => {}
        }
    }
    close.or(limit)
}

/// Broken in truth within 5 s after another rule was broken on what was seen, in the drive as found.
fn consequence(moment: &Moment, driven: &[Driven], candidate: Candidate) -> Option<Outcome> {
    if candidate.basis == Basis::Seen || moment.outcome != Outcome::Broken {
        return None;
    }
    let measures = &driven.get(candidate.index)?.measures;
    let at_ms = measures[candidate.rule].truth?.at_ms;
    let cause = measures.iter().enumerate().find(|(at, m)| {
        *at != candidate.rule
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

/// One failure being looked into.
struct Looked<'a> {
    spec: &'a Spec,
    source: &'a dyn Source,
    plan: &'a Plan<'a>,
    run: &'a Run,
    candidate: Candidate,
    rule: &'static Rule,
}

impl Looked<'_> {
    #[expect(clippy::too_many_arguments, reason = "the rigs are the campaign's, lent one by one")]
    fn look(
        &self,
        rig: &mut Rig<'_>,
        half: &mut Rig<'_>,
        referee: &mut Referee<'_>,
        outcome: Outcome,
        blame: Blame,
        files: &mut Vec<(String, String)>,
        save: Save<'_>,
    ) -> Moment {
        let Candidate { rule, basis, index } = self.candidate;
        let raw = self.plan.drive(index);
        let file = format!("{}.toml", file_name(&format!("{} {}", self.rule.card.name, self.plan.name(index))));
        let twice = again(rule).is_some();
        let key = fails(rig, &raw, rule, basis, twice).map(|(key, _)| key);
        let mut mark = mark_of(rig.measures(), rule, basis);
        let raw_text = self.file_text(rig, &raw, mark, &outcome);
        save(&file, &raw_text);

        let mut drive = raw.clone();
        let (mut spent, mut by_budget) = (0, false);
        if let Some(key) = key {
            let hanging = matches!(rig.recording().silence, Some(Silence::TooLate(_)));
            let budget = if hanging { HANGING_BUDGET } else { self.run.shrink_drives };
            let first = Try { failed_ms: mark.map_or(0, |m| m.at_ms), fired: rig.fired() };
            let limit = outcome == Outcome::SignalLimit;
            let close = outcome == Outcome::TooClose;
            let mut oracle = |d: &Drive| {
                let (found, at_ms) = fails_or_close(rig, d, rule, basis, twice, close)?;
                let same = found == key
                    && (!limit || key.unknowable || referee.truth(rule, d, true) == Some(Judgement::SignalLimit));
                same.then(|| Try { failed_ms: at_ms, fired: rig.fired() })
            };
            let shrunk = shrink(&raw, first, budget, &mut oracle, &mut |_| {});
            drive = shrunk.drive;
            spent = shrunk.drives;
            by_budget = shrunk.stopped_by_budget;
        }
        fails(rig, &drive, rule, basis, twice);
        mark = mark_of(rig.measures(), rule, basis).or(mark);
        let mark = mark.unwrap_or(NO_MARK);
        let says = rig.says(self.rule, basis, mark.at_ms);
        let blame = match blame {
            Blame::Build if basis == Basis::Seen => referee.seen(self.rule, rule, &drive, rig, mark.at_ms),
            other => other,
        };
        let mut outcome = outcome;
        if outcome == Outcome::Broken && basis == Basis::True {
            half.drive(&drive);
            if !mark_of(half.measures(), rule, basis).is_some_and(|m| m.broken()) {
                outcome = Outcome::TooClose;
            }
        }
        let mut blame = blame;
        if outcome == Outcome::Broken && self.rule.card.map_can_break {
            let number = decides(self.spec, &corners(self.spec), self.source, &drive, rule, basis, true);
            if let Ok(Some(number)) = number {
                outcome = Outcome::DependsOnData(number.clone());
                blame = Blame::Data(number);
            }
        }
        let text = self.file_text(rig, &drive, Some(mark), &outcome);
        save(&file, &text);
        files.push((file.clone(), text));
        let size = |d: &Drive| (d.steps.len(), d.events.len(), d.length_ms());
        Moment {
            drive: self.plan.name(index),
            broken: vec![BrokenRule { card: self.rule.card, basis, mark, says }],
            blame,
            outcome,
            file,
            lines: crate::drive_text::lines(&drive),
            raw_size: size(&raw),
            size: size(&drive),
            shrink_drives: spent,
            stopped_by_budget: by_budget,
        }
    }

    fn file_text(&self, rig: &mut Rig<'_>, drive: &Drive, mark: Option<Mark>, outcome: &Outcome) -> String {
        let mark = mark.unwrap_or(NO_MARK);
        let basis = self.candidate.basis;
        let says = rig.says(self.rule, basis, mark.at_ms);
        drive_file(&Told {
            spec: self.spec,
            drive,
            recording: rig.recording(),
            rule: self.rule.card,
            basis,
            mark,
            outcome,
            says,
            controller: self.source.name(),
            found_in: self.plan.name(self.candidate.index),
            seed: self.plan.seed(),
        })
    }
}

fn mark_of(measures: &[Measure], rule: usize, basis: Basis) -> Option<Mark> {
    measures.get(rule).and_then(|m| m.mark(basis))
}

/// Drives; whether the rule is broken on the view, with what must stay the same, and when.
fn fails(rig: &mut Rig<'_>, drive: &Drive, rule: usize, basis: Basis, twice: bool) -> Option<(Key, u32)> {
    fails_or_close(rig, drive, rule, basis, twice, false)
}

fn fails_or_close(
    rig: &mut Rig<'_>,
    drive: &Drive,
    rule: usize,
    basis: Basis,
    twice: bool,
    close: bool,
) -> Option<(Key, u32)> {
    rig.drive(drive);
    if twice {
        rig.measure_again(drive, rule);
    }
    let mark = mark_of(rig.measures(), rule, basis)?;
    if !(mark.broken() || close && mark.margin < 0.0) {
        return None;
    }
    let recording = rig.recording();
    let silence = recording.silence.as_ref().map(kind);
    let seen_too = mark_of(rig.measures(), rule, Basis::Seen).is_some_and(|m| m.broken());
    Some((Key { rule, basis, silence, seen_too, unknowable: mark.unknowable }, mark.at_ms))
}

fn kind(silence: &Silence) -> u8 {
    match silence {
        Silence::Panicked(_) => 0,
        Silence::TooLate(_) => 1,
        Silence::Ended(_) => 2,
        Silence::Closed => 3,
        Silence::Garbage(_) => 4,
        Silence::OtherTick(..) => 5,
        Silence::Flood(_) => 6,
        Silence::Told(_) => 7,
    }
}
