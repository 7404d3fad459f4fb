//! One worker's rig: a closed loop, a judge and a controller, kept from drive to drive.

use crate::closed_loop::ClosedLoop;
use crate::controller::{NotStarted, Port, Source};
use crate::drive::Drive;
use crate::failing_cause::Instant;
use crate::outcome::{Basis, Measure};
use crate::recording::{Recording, Silence};
use crate::rules::instants::Marks;
use crate::rules::{Again, Judge, Rule, again, find};
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
        Ok(Self {
            spec,
            told,
            source,
            port: source.start(told)?,
            looped: ClosedLoop::new(spec, step_ms),
            judge: Judge::default(),
            measures: Vec::new(),
            note: String::new(),
        })
    }

    /// Drives and judges. A controller that fell silent is started afresh for the next drive.
    pub fn drive(&mut self, drive: &Drive) -> &[Measure] {
        let recording = self.looped.run(drive, self.port.as_mut());
        let silent = recording.silence.is_some();
        self.judge.judge(self.spec, recording, &mut self.measures);
        if silent {
            self.start_again();
        }
        &self.measures
    }

    /// A controller that fell silent is started afresh.
    pub(super) fn start_again(&mut self) {
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
            Some(Again::WithoutExtras) => self.without_extras(),
            Some(Again::OtherClocks) => self.with_other_clocks(None),
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
