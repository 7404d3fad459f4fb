//! One worker's rig: a closed loop, a judge and a controller, kept from drive to drive.

use crate::closed_loop::ClosedLoop;
use crate::controller::{NotStarted, Port, Source, alone};
use crate::drive::Drive;
use crate::failing_cause::Instant;
use crate::outcome::{Basis, Measure};
use crate::recording::{Recording, Silence};
use crate::rules::instants::Marks;
use crate::rules::{Again, Judge, Rule, again, find};
use crate::search::Lesson;
use crate::signal::{Answer, Inputs, Output};
use crate::spec::Spec;

/// A port that can't be had any more; it says why each tick.
struct Gone(String);

impl Port for Gone {
    fn reset(&mut self) -> Result<(), Silence> {
        Err(Silence::Ended(self.0.clone()))
    }

    fn step(&mut self, _: &Inputs, _: &[Answer]) -> Result<Output, Silence> {
        Err(Silence::Ended(self.0.clone()))
    }
}

/// How often a suspected drive is driven again.
const AGAIN: usize = 4;

/// The rig.
pub struct Rig<'a> {
    spec: &'a Spec,
    told: &'a Spec,
    source: &'a dyn Source,
    port: Box<dyn Port>,
    /// Of its own process, or of one with instances of other rigs: then whether it fell silent, with all of them.
    shared_fell: Option<bool>,
    looped: ClosedLoop,
    judge: Judge,
    measures: Vec<Measure>,
    note: String,
}

impl<'a> Rig<'a> {
    /// Starts a controller and a loop at a vehicle step.
    ///
    /// # Errors
    /// The controller wasn't started.
    pub fn new(spec: &'a Spec, source: &'a dyn Source, step_ms: f64) -> Result<Self, NotStarted> {
        Self::on(spec, spec, source, step_ms)
    }

    /// The same with a vehicle of one spec under a box that was told another.
    ///
    /// # Errors
    /// The controller wasn't started.
    pub fn on(spec: &'a Spec, told: &'a Spec, source: &'a dyn Source, step_ms: f64) -> Result<Self, NotStarted> {
        Ok(Self::around(spec, told, source, source.start(told)?, step_ms))
    }

    /// As many rigs as the controller offers instances in one process, at most so many: they drive together.
    ///
    /// # Errors
    /// The controller wasn't started.
    pub fn several(spec: &'a Spec, source: &'a dyn Source, step_ms: f64, most: usize) -> Result<Vec<Self>, NotStarted> {
        let ports = source.start_several(spec, most)?;
        let shared_fell = (ports.len() > 1).then_some(false);
        let rig = |port| Self { shared_fell, ..Self::around(spec, spec, source, port, step_ms) };
        Ok(ports.into_iter().map(rig).collect())
    }

    /// One whose controller has been started before: where it doesn't start now, it is silent in each drive.
    #[must_use]
    pub fn started_again(spec: &'a Spec, source: &'a dyn Source, step_ms: f64) -> Self {
        let mut rig = Self::around(spec, spec, source, Box::new(Gone(String::new())), step_ms);
        rig.start_again();
        rig
    }

    fn around(spec: &'a Spec, told: &'a Spec, source: &'a dyn Source, port: Box<dyn Port>, step_ms: f64) -> Self {
        Self {
            spec,
            told,
            source,
            port,
            shared_fell: None,
            looped: ClosedLoop::new(spec, step_ms),
            judge: Judge::default(),
            measures: Vec::new(),
            note: String::new(),
        }
    }

    /// Drives and judges. A controller that fell silent is started afresh for the next drive.
    pub fn drive(&mut self, drive: &Drive) -> &[Measure] {
        alone(self.drive_in_turn(drive));
        &self.measures
    }

    /// The same beside other rigs.
    pub async fn drive_in_turn(&mut self, drive: &Drive) -> &[Measure] {
        self.run_in_turn(drive).await;
        self.judge.judge(self.spec, self.looped.recording(), &mut self.measures);
        &self.measures
    }

    /// Drives, and leaves it to the caller to look at the recording: the measures stay those of the drive before.
    pub async fn run_in_turn(&mut self, drive: &Drive) {
        self.looped.run_in_turn(drive, self.port.as_mut()).await;
        if self.looped.recording().silence.is_some() {
            self.start_again();
        }
    }

    /// Whether the process that it shares fell silent: what else was under way there has no meaning either.
    #[must_use]
    pub fn shared_fell(&self) -> bool {
        self.shared_fell == Some(true)
    }

    /// A controller that fell silent is started afresh, unless others share its process.
    pub(super) fn start_again(&mut self) {
        if let Some(fell) = &mut self.shared_fell {
            *fell = true;
            return;
        }
        self.port = match self.source.start(self.told) {
            Ok(port) => port,
            Err(why) => Box::new(Gone(format!("it could not be started again: {why}"))),
        };
    }

    pub(super) fn port(&mut self) -> &mut dyn Port {
        self.port.as_mut()
    }

    pub(super) fn spec(&self) -> &'a Spec {
        self.spec
    }

    pub(super) fn source(&self) -> &'a dyn Source {
        self.source
    }

    pub(super) fn note(&mut self, note: String) {
        self.note = note;
    }

    /// Measures a rule on the last drive that takes more than the drive.
    pub fn measure_again(&mut self, drive: &Drive, rule: usize) {
        self.note.clear();
        let measure = match again(rule) {
            None => return,
            Some(Again::Same) => return self.compare_again(drive, rule),
            Some(Again::WithoutExtras) => alone(self.without_extras()),
            Some(Again::OtherClocks) => alone(self.with_other_clocks(None)),
            Some(Again::IdleFirst) => alone(self.after_an_idle_hour()),
            Some(Again::DamagedMaps) => self.with_damaged_maps(drive, None),
        };
        if let Some(slot) = self.measures.get_mut(rule) {
            *slot = measure;
        }
    }

    /// Drives up to `AGAIN` times more and compares each with the last drive, for the rule on determinism: what a box
    /// remembers from run to run may show only each few runs.
    pub fn compare_again(&mut self, drive: &Drive, rule: usize) {
        let first = self.looped.recording().clone();
        for _ in 0..AGAIN {
            self.drive(drive);
            let measure = crate::rules::compare_twice(&first, self.looped.recording());
            if let Some(slot) = self.measures.get_mut(rule) {
                *slot = measure;
            }
            if measure.seen.is_some_and(|m| m.broken()) {
                return;
            }
        }
        let afresh = if self.source.takes_turns() { self.compare_afresh(&first, drive) } else { None };
        if let (Some(measure), Some(slot)) = (afresh, self.measures.get_mut(rule)) {
            *slot = measure;
        }
    }

    /// Drives once more, alone in a process that was just started, and compares: a reset must leave nothing behind,
    /// and no instance may notice another.
    pub fn compare_afresh(&mut self, first: &Recording, drive: &Drive) -> Option<Measure> {
        let mut port = self.source.start(self.told).ok()?;
        Some(crate::rules::compare_twice(first, self.looped.run(drive, port.as_mut())))
    }

    /// What the last drive teaches the search.
    #[must_use]
    pub fn lesson(&self, drive: &Drive) -> Lesson {
        let smaller = |measure: &Measure| {
            let marks = [measure.seen, measure.truth.filter(|mark| !mark.unknowable)];
            marks.into_iter().flatten().min_by(|a, b| a.margin.total_cmp(&b.margin))
        };
        let margins = (0..=u8::MAX)
            .zip(&self.measures)
            .filter_map(|(rule, measure)| smaller(measure).map(|mark| (rule, mark.margin, mark.at_ms)));
        Lesson::of(drive, margins, self.judge.story(), self.looped.recording(), self.looped.fired())
    }

    /// The measures of the last drive.
    #[must_use]
    pub fn measures(&self) -> &[Measure] {
        &self.measures
    }

    /// The recording of the last drive.
    #[must_use]
    pub fn recording(&self) -> &Recording {
        self.looped.recording()
    }

    /// When each event of the last drive came, ms.
    #[must_use]
    pub fn fired(&self) -> Vec<Option<u32>> {
        self.looped.fired().collect()
    }

    /// Of a rule (its index) only some marks count from now on; `None`: all of all rules.
    pub fn some(&mut self, some: Option<(usize, Marks)>) {
        self.judge.some = some;
    }

    /// The measure of a rule (its index) in the last drive from the marks at one kind of instant alone; none where only
    /// some count as it is.
    pub fn measure_at(&mut self, rule: usize, instant: Instant) -> Option<Measure> {
        if self.judge.some.is_some() {
            return None;
        }
        self.judge.some = Some((rule, Marks::Only(instant)));
        self.judge.judge(self.spec, self.looped.recording(), &mut self.measures);
        self.judge.some = None;
        self.measures.get(rule).copied()
    }

    /// The kind of instant at a mark in the last drive.
    pub fn instant(&mut self, rule: &Rule, at_ms: u32) -> Instant {
        self.judge.instant(self.spec, self.looped.recording(), rule, at_ms)
    }

    /// What happened at a mark in the last drive.
    pub fn says(&mut self, rule: &Rule, basis: Basis, at_ms: u32) -> String {
        let says = self.judge.says(self.spec, self.looped.recording(), rule, basis, at_ms);
        let noted = find(rule.card.name).is_some_and(|at| again(at).is_some()) && !self.note.is_empty();
        if noted { format!("{says}: {}", self.note) } else { says }
    }
}
