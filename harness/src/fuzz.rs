//! A build under a fuzzer: the drives, the rules and the seeds of a campaign, and the search's way of changing a drive.
//!
//! An input is the text of a drive file, with the spec in it: `sprag replay` drives it, and a failing drive of a campaign
//! may lie in the corpus as it is. Whatever else comes along is no drive and tells nothing; out of it the first change
//! makes a drive of the campaign's plan. So a fuzzer may start from an empty corpus.
//!
//! A target of ten lines is `fuzz/targets/own_box.rs`. It ends in a panic, which is how a fuzzer hears of a finding,
//! where the build breaks a rule and the reference, with the same map and signals, keeps it. Rules that are switched off,
//! minor or waived tell nothing. A finding is no more than that: whether it hangs on an assumed number of the vehicle, and
//! the shortest drive for it, `sprag test --saved` tells.

use crate::campaign::blame::{Judgement, Referee};
use crate::campaign::moments::judged;
use crate::campaign::plan::{Asked, MOST_LENGTHS, Plan};
use crate::campaign::rig::Rig;
use crate::campaign::sweep::{Checks, Driven, drive};
use crate::controller::in_process::InProcess;
use crate::controller::{Controller, Source};
use crate::drive::Drive;
use crate::drive_file::DriveFile;
use crate::make::Dice;
use crate::outcome::{Basis, Blame, Severity};
use crate::rules::RULES;
use crate::search::{Lesson, Outside};
use crate::spec::{self, Spec};
use crate::vehicle::STEP_MS;
use std::cell::RefCell;
use std::collections::VecDeque;
use std::path::Path;

/// What so many drives have taught is kept: a fuzzer changes what it has just driven.
const LESSONS: usize = 64;

/// A build under a fuzzer.
pub struct Fuzz(RefCell<State>);

/// All that it keeps, for as long as the process lives.
struct State {
    spec: &'static Spec,
    spec_text: String,
    plan: Plan<'static>,
    length_ms: u32,
    rig: Rig<'static>,
    referee: Referee<'static>,
    lessons: VecDeque<Lesson>,
    driven_ms: u64,
    /// This rule alone.
    only: Option<&'static str>,
}

impl Fuzz {
    /// Your own controller against a spec file, with the drives of its run `commit`.
    ///
    /// # Errors
    /// The spec can't be read, or the controller panics while it is made.
    pub fn new<F>(spec: impl AsRef<Path>, name: &str, make: F) -> Result<Self, String>
    where
        F: Fn(&Spec) -> Box<dyn Controller> + Sync + 'static,
    {
        let spec = spec::load(spec.as_ref()).map_err(|errors| errors.to_string())?;
        Self::of(spec, InProcess(name.to_owned(), make))
    }

    /// Any source of controllers against a spec.
    ///
    /// # Errors
    /// The controller isn't started.
    pub fn of(spec: Spec, source: impl Source + 'static) -> Result<Self, String> {
        // A fuzzer has one of these and ends with it.
        let spec: &'static Spec = Box::leak(Box::new(spec));
        let source: &'static dyn Source = Box::leak(Box::new(source));
        let run = spec.runs.get("commit").or_else(|| spec.runs.values().next()).ok_or("the spec has no run")?;
        let plan = Plan::new(spec, run, Vec::new(), &Asked { search: Some(0), ..Asked::default() })?;
        let rig = Rig::new(spec, source, STEP_MS).map_err(|why| why.to_string())?;
        let referee = Referee::new(spec).map_err(|why| why.to_string())?;
        Ok(Self(RefCell::new(State {
            spec,
            spec_text: spec.to_toml(),
            length_ms: run.drive_length.ms(),
            plan,
            rig,
            referee,
            lessons: VecDeque::with_capacity(LESSONS),
            driven_ms: 0,
            only: None,
        })))
    }

    /// This rule alone, whatever else breaks.
    #[must_use]
    pub fn only(mut self, rule: &'static str) -> Self {
        self.0.get_mut().only = Some(rule);
        self
    }

    /// Drives an input.
    ///
    /// # Panics
    /// If the build breaks a rule, with the sentence of [`Fuzz::finding`] and the drive.
    pub fn drive(&self, input: &[u8]) {
        if let Some(finding) = self.finding(input) {
            panic!("{finding}");
        }
    }

    /// What an input finds: the broken rule, what happened, and the drive, a line each.
    #[must_use]
    pub fn finding(&self, input: &[u8]) -> Option<String> {
        let state = &mut *self.0.borrow_mut();
        let drive = state.read(input)?;
        let driven = state.driven(&drive);
        state.broken(&drive, &driven)
    }

    /// Gives the rig and the drive of an input, where it is one, to a target that asks for more than the rules do.
    pub fn with_rig(&self, input: &[u8], look: impl FnOnce(&mut Rig<'static>, &Drive)) {
        let state = &mut *self.0.borrow_mut();
        let Some(drive) = state.read(input) else { return };
        look(&mut state.rig, &drive);
        let lesson = state.rig.lesson(&drive);
        state.keep(lesson);
    }

    /// Changes an input of `size` bytes in place, as the search changes its drives, and returns its new size: for the
    /// fuzzer's hook. What is no drive becomes one of the campaign's.
    pub fn change(&self, data: &mut [u8], size: usize, most: usize, number: u32) -> usize {
        let state = &mut *self.0.borrow_mut();
        let parent = data.get(..size).and_then(|input| state.read(input));
        let child = parent.and_then(|parent| {
            let lesson = state.lesson(parent);
            state.outside().changed(lesson, number)
        });
        let child = child.unwrap_or_else(|| state.of_the_plan(number));
        state.write(child, data, most).unwrap_or(size)
    }

    /// The beginning of one input and the end of another: for the fuzzer's other hook. Returns the size, 0 for none.
    pub fn cross(&self, first: &[u8], second: &[u8], into: &mut [u8], number: u32) -> usize {
        let state = &*self.0.borrow();
        let child =
            state.read(first).zip(state.read(second)).and_then(|(a, b)| state.outside().crossed(&a, &b, number));
        let most = into.len();
        child.and_then(|child| state.write(child, into, most)).unwrap_or(0)
    }

    /// Puts a drive down as an input, in place of what is there; `None` where it is longer than `most` bytes.
    pub fn put(&self, drive: Drive, data: &mut [u8], most: usize) -> Option<usize> {
        self.0.borrow().write(drive, data, most)
    }

    /// Simulated time so far, ms.
    #[must_use]
    pub fn driven_ms(&self) -> u64 {
        self.0.borrow().driven_ms
    }
}

impl State {
    fn read(&self, input: &[u8]) -> Option<Drive> {
        let text = std::str::from_utf8(input).ok()?;
        let drive = DriveFile::parse(text, "input").ok()?.drive;
        (drive.length_ms() <= self.longest_ms()).then_some(drive)
    }

    fn longest_ms(&self) -> u32 {
        self.length_ms.saturating_mul(MOST_LENGTHS)
    }

    fn write(&self, drive: Drive, data: &mut [u8], most: usize) -> Option<usize> {
        let file = DriveFile { spec: Some(self.spec_text.clone()), ..DriveFile::new("fuzzed", drive) };
        let text = file.to_text();
        data.get_mut(..most)?.get_mut(..text.len())?.copy_from_slice(text.as_bytes());
        Some(text.len())
    }

    fn outside(&self) -> Outside<'static> {
        Outside { spec: self.spec, seed: self.plan.seed(), length_ms: self.length_ms }
    }

    /// A drive of the campaign's plan that isn't too long.
    fn of_the_plan(&self, number: u32) -> Drive {
        let mut dice = Dice::new("of the plan", self.plan.seed(), number);
        let count = u32::try_from(self.plan.len()).unwrap_or(u32::MAX);
        let drawn = (0..8).map(|_| self.plan.drive(dice.below(count) as usize));
        let short = drawn.into_iter().find(|drive| drive.length_ms() <= self.longest_ms());
        short.unwrap_or_else(|| crate::make::random_drive(self.spec, self.plan.seed(), number, self.length_ms))
    }

    /// Drives with a campaign's checks: which ones, hangs on the drive alone.
    fn driven(&mut self, of: &Drive) -> Driven {
        let number =
            of.steps.iter().fold(of.events.len() as u32, |sum, step| sum.wrapping_mul(31).wrapping_add(step.ms));
        let checks = Checks { teaches: true, ..Checks::of_random(number as usize) };
        let mut driven = drive(&mut self.rig, of, &checks);
        self.driven_ms += u64::from(driven.driven_ms);
        if let Some(lesson) = driven.lesson.take() {
            self.keep(*lesson);
        }
        driven
    }

    fn keep(&mut self, lesson: Lesson) {
        if self.lessons.len() == LESSONS {
            self.lessons.pop_front();
        }
        self.lessons.push_back(lesson);
    }

    /// What a drive taught; where that is forgotten, it is driven again.
    fn lesson(&mut self, drive: Drive) -> Lesson {
        if let Some(known) = self.lessons.iter().rev().find(|lesson| lesson.drive == drive) {
            return known.clone();
        }
        self.driven(&drive);
        match self.lessons.back().filter(|lesson| lesson.drive == drive) {
            Some(lesson) => lesson.clone(),
            None => Lesson { drive, ..Lesson::default() },
        }
    }

    fn broken(&mut self, of: &Drive, driven: &Driven) -> Option<String> {
        for (at, rule) in RULES.iter().enumerate() {
            let other = self.only.is_some_and(|only| only != rule.card.name);
            let waived = self.spec.waivers.iter().any(|waiver| waiver.rule == rule.card.name);
            let minor = rule.card.severity == Severity::Minor && self.only.is_none();
            if other || minor || waived || !judged(self.spec, at) {
                continue;
            }
            let measure = driven.measures.get(at);
            let seen = measure.seen.filter(|mark| mark.broken());
            let truth = measure.truth.filter(|mark| mark.broken() && !mark.unknowable);
            let found = match (seen, truth) {
                (Some(mark), _) => {
                    let blame = self.referee.seen(rule, at, of, &mut self.rig, mark.at_ms);
                    (blame == Blame::Build).then_some((Basis::Seen, mark))
                }
                (None, Some(mark)) => {
                    let judgement = self.referee.truth(at, of, true);
                    (judgement == Some(Judgement::Build)).then_some((Basis::True, mark))
                }
                (None, None) => None,
            };
            if let Some((basis, mark)) = found {
                let says = self.rig.says(rule, basis, mark.at_ms);
                let lines = crate::drive_text::lines(of).join("\n  ");
                let margin = format!("margin {} {}", mark.margin, rule.card.unit);
                return Some(format!("broken: {} ({margin}): {says}\n  {lines}", rule.card.name));
            }
        }
        None
    }
}
