//! Whose fault: the reference controller, with the same map and signals, drives every failing drive too.

use super::plan::Plan;
use super::rig::Rig;
use crate::controller::NotStarted;
use crate::controller::in_process::Builtin;
use crate::drive::Drive;
use crate::outcome::{Basis, Blame};
use crate::rules::Rule;
use crate::rules::instants::Marks;
use crate::signal::Signal;
use crate::spec::Spec;
use crate::vehicle::STEP_MS;

/// What a truth-only failure comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judgement {
    /// The reference keeps the rule.
    Build,
    /// The reference breaks it too.
    SignalLimit,
    /// Within the tolerance, and the reference stays clear of it.
    TooClose,
}

static REFERENCE: Builtin = Builtin { fault: None };

/// Drives the reference beside the build.
pub struct Referee<'a> {
    rig: Rig<'a>,
    spec: &'a Spec,
    /// The reference's smallest margin in truth, a rule each, once it has been asked for.
    closest: Option<Vec<f64>>,
}

/// The reference drives this many of a plan to show how close the map and the signals bring any box.
const CLOSEST_DRIVES: usize = 1000;

impl<'a> Referee<'a> {
    /// A referee for a spec.
    ///
    /// # Errors
    /// The reference can't be started.
    pub fn new(spec: &'a Spec) -> Result<Self, NotStarted> {
        Ok(Self { rig: Rig::new(spec, &REFERENCE, STEP_MS)?, spec, closest: None })
    }

    /// Of a rule (its index) only some marks count from now on.
    pub fn some(&mut self, some: Option<(usize, Marks)>) {
        self.rig.some(some);
    }

    /// A margin below 0 in truth with its twin kept on what was seen; `broken` says whether beyond the tolerance.
    /// `None`: within the tolerance, where the reference comes too.
    pub fn truth(&mut self, rule: usize, drive: &Drive, broken: bool) -> Option<Judgement> {
        self.rig.drive(drive);
        let mark = self.rig.measures().get(rule).and_then(|m| m.truth);
        let reference_below = mark.is_some_and(|m| m.margin < 0.0);
        let reference_broken = mark.is_some_and(|m| m.broken());
        match (broken, reference_broken, reference_below) {
            (true, true, _) => Some(Judgement::SignalLimit),
            (true, false, _) => Some(Judgement::Build),
            (false, _, true) => None,
            (false, _, false) => Some(Judgement::TooClose),
        }
    }

    /// Whether the reference, on the same plan, comes as close to breaking a rule in truth: then it is the map and the
    /// signals that bring it there.
    pub fn comes_as_close(&mut self, rule: usize, plan: &Plan<'_>, margin: f64) -> bool {
        if self.closest.is_none() {
            let mut closest = vec![f64::INFINITY; crate::rules::RULES.len()];
            for index in 0..plan.len().min(CLOSEST_DRIVES) {
                for (least, measure) in closest.iter_mut().zip(self.rig.drive(&plan.drive(index))) {
                    *least = measure.truth.filter(|m| !m.broken()).map_or(*least, |m| least.min(m.margin));
                }
            }
            self.closest = Some(closest);
        }
        self.closest.as_ref().and_then(|c| c.get(rule)).is_some_and(|&least| least <= margin)
    }

    /// Broken on what was seen: the build's fault, unless the reference breaks it too.
    pub fn seen(&mut self, rule: &Rule, at: usize, drive: &Drive, build: &Rig<'_>, at_ms: u32) -> Blame {
        self.rig.drive(drive);
        let broken = self.rig.measures().get(at).and_then(|m| m.mark(Basis::Seen)).is_some_and(|m| m.broken());
        if !broken {
            return Blame::Build;
        }
        if !rule.card.map_can_break {
            return Blame::Rig;
        }
        Blame::Map(self.cure(rule, build, at_ms))
    }

    /// The line that would cure it, named.
    fn cure(&self, rule: &Rule, build: &Rig<'_>, at_ms: u32) -> String {
        let recording = build.recording();
        let at = recording.rows.iter().position(|r| r.t_ms == at_ms);
        let Some((at, row)) = at.and_then(|at| Some((at, recording.rows.get(at)?))) else {
            return "see the lines of the gears in this drive".into();
        };
        let pedal_pct = recording.last_value(at, Signal::Pedal).unwrap_or(0.0);
        let gear = if row.truth.shifting { row.truth.target_gear } else { row.truth.gear };
        let (low, high) = if row.contacts.down { (gear.saturating_sub(1).max(1), gear) } else { (gear, gear + 1) };
        let pedal = format!("at {pedal_pct:.0} % pedal");
        if rule.card.limits.contains(&"rpm-floor") {
            let needed = self.spec.limits.rpm_floor.0 / self.spec.rpm_per_kmh(high);
            return format!("line {low}>{high} {pedal}: {:.0} km/h or more keeps the floor", needed.ceil());
        }
        if rule.card.limits.contains(&"redline-guard") {
            let limit = self.spec.vehicle.engine.redline.get() - self.spec.limits.redline_guard.0;
            let most = limit / self.spec.rpm_per_kmh(low);
            return format!("line {high}>{low} {pedal}: {:.0} km/h at the most stays below the redline", most.floor());
        }
        let map = &self.spec.map;
        let gap = map.up_kmh(low, pedal_pct).zip(map.down_kmh(high, pedal_pct)).map(|(up, down)| up - down);
        let gap = gap.map_or(String::new(), |kmh| format!(" (now {kmh:.0} km/h)"));
        format!(
            "lines {low}>{high} and {high}>{low} {pedal}: a wider gap{gap}, by a lower line {high}>{low}, keeps it from hunting"
        )
    }
}
