//! Looks into one failure: saves it, shrinks it, says what happened and whose fault it is.

use super::Save;
use super::blame::{Judgement, Referee};
use super::corners::{corners, decides};
use super::drive_out::{Told, drive_file};
use super::file_name;
use super::moments::Finding;
use super::plan::Plan;
use super::rig::Rig;
use super::sweep::Driven;
use crate::controller::{NotStarted, Source};
use crate::drive::Drive;
use crate::failing_cause::{Culprit, FailingCause, Instant};
use crate::make::usual_gear;
use crate::outcome::{Basis, Blame, BrokenRule, Mark, Measure, Moment, Outcome, Severity};
use crate::recording::Silence;
use crate::rules::instants::Marks;
use crate::rules::{Again, RULES, Rule, again};
use crate::shrink::{END_MS, State, Try, cut, shrink, widen};
use crate::spec::Spec;
use crate::spec::link::Run;
use crate::vehicle::STEP_MS;

/// Drives of a build that hangs cost its answer limit each.
const HANGING_BUDGET: u32 = 12;

/// Each drive after an hour of idling takes as long as hundreds of others.
const IDLE_BUDGET: u32 = 60;

/// Drives spent on the ranges of its numbers.
const WIDENING_BUDGET: u32 = 80;

/// Stands where a failure could not be measured again.
const NO_MARK: Mark = Mark { margin: -1.0, tolerance: 0.0, at_ms: 0, unknowable: false };

/// The shrinker learns how the vehicle stood once in this time, ms.
const STATE_EVERY_MS: u32 = 100;

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
    /// The kind of instant, where a waiver may name it: the cause shown is then the one found.
    instant: Option<Instant>,
}

impl Key {
    /// The same at whatever instant.
    fn elsewhere(self) -> Self {
        Self { instant: None, ..self }
    }
}

/// A failure to look into.
#[derive(Debug, Clone, Copy)]
pub struct Candidate {
    /// Index of the rule.
    pub rule: usize,
    /// The view.
    pub basis: Basis,
    /// Index of the drive in the plan.
    pub index: usize,
}

/// One failure being looked into.
pub struct Looked<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// The build.
    pub source: &'a dyn Source,
    /// The plan.
    pub plan: &'a Plan<'a>,
    /// The run, for its budget.
    pub run: &'a Run,
    /// What each drive came to.
    pub driven: &'a [Driven],
    /// The failure.
    pub candidate: Candidate,
    /// Its rule.
    pub rule: &'static Rule,
    /// What the drives came to; for a failure on what was seen, the build's fault.
    pub judgement: Judgement,
}

/// The rigs of a campaign.
pub struct Rigs<'a> {
    /// The build.
    pub build: Rig<'a>,
    /// The build at half the vehicle step.
    pub half: Rig<'a>,
    /// The reference.
    pub referee: Referee<'a>,
}

impl<'a> Rigs<'a> {
    /// Rigs for a build.
    ///
    /// # Errors
    /// The controller wasn't started.
    pub fn new(spec: &'a Spec, source: &'a dyn Source) -> Result<Self, NotStarted> {
        Ok(Self {
            build: Rig::new(spec, source, STEP_MS)?,
            half: Rig::new(spec, source, STEP_MS / 2.0)?,
            referee: Referee::new(spec)?,
        })
    }

    /// Of a rule (its index) only some marks count from now on; `None`: all of all rules.
    pub fn some(&mut self, some: Option<(usize, Marks)>) {
        self.half.some(some.clone());
        self.referee.some(some.clone());
        self.build.some(some);
    }
}

impl<'a> Looked<'a> {
    /// A failure of a rule of the table.
    pub fn new(finding: &Finding<'a>, candidate: Candidate, judgement: Judgement) -> Option<Self> {
        let &Finding { spec, source, plan, run, driven, .. } = finding;
        Some(Self { spec, source, plan, run, driven, candidate, rule: RULES.get(candidate.rule)?, judgement })
    }

    /// Shrinks the failure and says what it comes to; its drive file goes to `files`, the drive comes back too.
    pub fn look(&self, rigs: &mut Rigs<'_>, files: &mut Vec<(String, String)>, save: Save<'_>) -> (Moment, Drive) {
        let Candidate { rule, basis, index } = self.candidate;
        let rig = &mut rigs.build;
        let raw = self.plan.drive(index);
        let file = self.file(files);
        let twice = again(rule).is_some();
        let outcome = self.first_outcome();
        let key = fails(rig, &raw, rule, basis, twice).map(|(key, _)| key);
        let mark = mark_of(rig.measures(), rule, basis);
        let raw_text = self.file_text(rig, &raw, mark, &outcome, &[]);
        save(&file, &raw_text);

        let mut drive = raw.clone();
        let (mut spent, mut by_budget, mut breaks_with) = (0, false, Vec::new());
        if let Some(key) = key {
            let hanging = matches!(rig.recording().silence, Some(Silence::TooLate(_)));
            let idles = again(rule) == Some(Again::IdleFirst);
            let budget = match (hanging, idles) {
                (true, _) => HANGING_BUDGET,
                (_, true) => IDLE_BUDGET.min(self.run.shrink_drives),
                _ => self.run.shrink_drives,
            };
            let first = tried(rig, mark.map_or(0, |m| m.at_ms));
            let limit = self.judgement == Judgement::SignalLimit;
            let close = self.judgement == Judgement::TooClose;
            let referee = &mut rigs.referee;
            let mut oracle = |d: &Drive| {
                let (found, at_ms) = fails_or_close(rig, d, rule, basis, twice, close)?;
                if found != key && !twice && !limit && !close && found.elsewhere() == key.elsewhere() {
                    return fails_before(rig, d, &key);
                }
                let same = found == key
                    && (!limit || key.unknowable || referee.truth(rule, d, true) == Some(Judgement::SignalLimit));
                same.then(|| tried(rig, at_ms))
            };
            let gears = |speed: u16| usual_gear(self.spec, f64::from(speed) / 10.0);
            let shrunk = shrink(&raw, first, budget, &gears, &mut oracle);
            drive = shrunk.drive;
            spent = shrunk.drives;
            by_budget = shrunk.stopped_by_budget;
            let budget = if hanging || idles { 0 } else { WIDENING_BUDGET };
            breaks_with = widen(&drive, budget, &mut oracle).0.iter().map(ToString::to_string).collect();
        }
        let (mut broken, mut outcome) = self.comes_to(rigs, &drive, mark);
        if key.is_none() && self.must_come_again() {
            outcome = Outcome::NotReproducible;
            broken.mark = self.driven.get(index).and_then(|d| d.measures.get(rule).mark(basis)).unwrap_or(broken.mark);
            (broken.blame, broken.cause) = (Blame::Nobody, None);
        }
        let text = self.file_text(&mut rigs.build, &drive, Some(broken.mark), &outcome, &breaks_with);
        save(&file, &text);
        files.push((file.clone(), text));
        let size = |d: &Drive| (d.steps.len(), d.events.len(), d.length_ms());
        let moment = Moment {
            drive: self.plan.name(index),
            blame: broken.blame.clone(),
            broken: vec![broken],
            outcome,
            file,
            lines: crate::drive_text::lines(&drive),
            breaks_with,
            raw_size: size(&raw),
            size: size(&drive),
            shrink_drives: spent,
            stopped_by_budget: by_budget,
        };
        (moment, drive)
    }

    /// What the rule comes to in a drive: what happened, whose fault, and how it counts. The build's rig keeps the
    /// recording of that drive.
    pub fn comes_to(&self, rigs: &mut Rigs<'_>, drive: &Drive, before: Option<Mark>) -> (BrokenRule, Outcome) {
        let Candidate { rule, basis, .. } = self.candidate;
        fails(&mut rigs.build, drive, rule, basis, again(rule).is_some());
        let mark = mark_of(rigs.build.measures(), rule, basis).or(before).unwrap_or(NO_MARK);
        let says = rigs.build.says(self.rule, basis, mark.at_ms);
        let mut outcome = self.first_outcome();
        let mut blame = match self.judgement {
            Judgement::SignalLimit => Blame::SignalLimit,
            Judgement::Build if basis == Basis::Seen => {
                rigs.referee.seen(self.rule, rule, drive, &mut rigs.build, mark.at_ms)
            }
            Judgement::Build | Judgement::TooClose => Blame::Build,
        };
        if outcome == Outcome::Broken && basis == Basis::True {
            rigs.half.drive(drive);
            if !mark_of(rigs.half.measures(), rule, basis).is_some_and(|m| m.broken()) {
                outcome = Outcome::TooClose;
            }
        }
        if outcome == Outcome::Broken && self.rule.card.map_can_break {
            let number = decides(self.spec, &corners(self.spec), self.source, drive, rule, basis, true);
            if let Ok(Some(number)) = number {
                outcome = Outcome::DependsOnData(number.clone());
                blame = Blame::Data(number);
            }
        }
        let culprit = match (&outcome, &blame) {
            (Outcome::Broken, Blame::Build) => Some(Culprit::Build),
            (Outcome::Broken, Blame::Map(_)) => Some(Culprit::Map),
            _ => None,
        };
        let instant = rigs.build.instant(self.rule, mark.at_ms);
        let cause = culprit.map(|culprit| FailingCause { culprit, instant });
        (BrokenRule { card: self.rule.card, basis, mark, says, blame, cause }, outcome)
    }

    /// A failure that must come again in the same drive to be laid at the build's door. One that is about not coming
    /// again has been seen.
    fn must_come_again(&self) -> bool {
        self.judgement == Judgement::Build && again(self.candidate.rule) != Some(Again::Same)
    }

    fn first_outcome(&self) -> Outcome {
        match self.judgement {
            Judgement::SignalLimit => Outcome::SignalLimit,
            Judgement::TooClose => Outcome::TooClose,
            Judgement::Build => Outcome::Broken,
        }
    }

    /// A name of its own for the drive file.
    fn file(&self, files: &[(String, String)]) -> String {
        let stem = file_name(&format!("{} {}", self.rule.card.name, self.plan.name(self.candidate.index)));
        let mut name = format!("{stem}.toml");
        let mut number = 2;
        while files.iter().any(|(taken, _)| *taken == name) {
            name = format!("{stem}-{number}.toml");
            number += 1;
        }
        name
    }

    fn file_text(
        &self,
        rig: &mut Rig<'_>,
        drive: &Drive,
        mark: Option<Mark>,
        outcome: &Outcome,
        breaks_with: &[String],
    ) -> String {
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
            breaks_with,
            controller: self.source.name(),
            found_in: self.plan.name(self.candidate.index),
            seed: self.plan.seed(),
        })
    }
}

/// The mark of a rule on a view.
pub fn mark_of(measures: &[Measure], rule: usize, basis: Basis) -> Option<Mark> {
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
    let card = RULES.get(rule).filter(|r| r.card.severity != Severity::Critical);
    let instant = card.map(|rule| rig.instant(rule, mark.at_ms));
    Some((Key { rule, basis, silence, seen_too, unknowable: mark.unknowable, instant }, mark.at_ms))
}

/// Whether a drive that fails at another kind of instant does so at the right one if it ends there: each drive has one mark a
/// rule, the worst, and what is driven on may hold a worse one.
fn fails_before(rig: &mut Rig<'_>, drive: &Drive, key: &Key) -> Option<Try> {
    let measure = rig.measure_at(key.rule, key.instant?)?;
    let mark = measure.mark(key.basis).filter(|mark| mark.broken())?;
    let ends_ms = mark.at_ms.saturating_add(END_MS);
    let mut shorter = drive.clone();
    cut(&mut shorter, ends_ms);
    let (found, at_ms) = fails(rig, &shorter, key.rule, key.basis, false)?;
    (found == *key).then(|| Try { ends_ms: Some(ends_ms), ..tried(rig, at_ms) })
}

/// What the shrinker learns from a failing run.
fn tried(rig: &Rig<'_>, failed_ms: u32) -> Try {
    let recording = rig.recording();
    let every = (STATE_EVERY_MS / recording.tick_ms.max(1)).max(1) as usize;
    let states = recording.rows.iter().step_by(every).take_while(|row| row.t_ms < failed_ms).map(|row| State {
        at_ms: row.t_ms,
        // A saturating cast: no drive begins backwards.
        speed: (row.truth.speed_kmh * 10.0) as u16,
        gear: row.truth.gear,
    });
    Try { failed_ms, fired: rig.fired(), states: states.collect(), ends_ms: None }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::controller::in_process::Builtin;
    use crate::controller::reference::{FAULTS, Fault};
    use crate::drive::{Demand, Event, Happening, Start, Step, When, Which};
    use crate::rules::find;
    use crate::selftest::{demo_spec, spec_for};
    use crate::signal::Lever;

    /// With the cruise control on the box sees a closed pedal and a rising speed, and after a gap it shifts up through all
    /// gears: the lower the engine speed the worse, so that the mark of the drive is that of the last shift, 5>6.
    #[test]
    fn a_worse_mark_of_another_gear_pair_does_not_hide_the_one_looked_for() {
        let card = FAULTS.iter().find(|card| card.fault == Fault::ForgetsDescent).unwrap();
        let spec = spec_for(&demo_spec().unwrap(), card);
        let source = Builtin { fault: Some(card.fault) };
        let mut rig = Rig::new(&spec, &source, STEP_MS).unwrap();
        let at = |what| Event { when: When::At(1000), what };
        let drive = Drive {
            start: Start { speed: 300, gear: 2, ..Start::default() },
            steps: vec![Step { ms: 40_000, demand: Demand::Cruise(1000), brake: 0, grade: 0 }],
            events: vec![at(Happening::Lever(Lever::Gate)), at(Happening::Lost(Which::All, 500))],
        };
        let rule = find(card.rule).unwrap();
        let (worst, worst_ms) = fails(&mut rig, &drive, rule, Basis::Seen, false).unwrap();
        assert_eq!(worst.instant, Some(Instant::Upshift(5)));
        for gear in [3, 4] {
            let key = Key { instant: Some(Instant::Upshift(gear)), ..worst };
            fails(&mut rig, &drive, rule, Basis::Seen, false);
            let found = fails_before(&mut rig, &drive, &key).unwrap();
            let ends_ms = found.ends_ms.unwrap();
            assert!(found.failed_ms < ends_ms && ends_ms < worst_ms, "{found:?}");
            let mut shorter = drive.clone();
            cut(&mut shorter, ends_ms);
            assert_eq!(fails(&mut rig, &shorter, rule, Basis::Seen, false), Some((key, found.failed_ms)));
        }
        fails(&mut rig, &drive, rule, Basis::Seen, false);
        let never = Key { instant: Some(Instant::Upshift(1)), ..worst };
        assert!(fails_before(&mut rig, &drive, &never).is_none(), "it engages in second");
    }
}
