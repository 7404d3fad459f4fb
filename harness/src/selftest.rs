//! Is this tool right: each seeded fault must be caught by its named rule, and by a drive that is minimal.
//!
//! The rule on the map is judged by shift points: its faults are caught on the rolling road.

use crate::campaign::blame::{Judgement, Referee};
use crate::campaign::moments;
use crate::campaign::plan::{Asked, Plan};
use crate::campaign::rig::Rig;
use crate::campaign::sweep::{Driven, one};
use crate::controller::NotStarted;
use crate::controller::in_process::Builtin;
use crate::controller::reference::{FAULTS, FaultCard};
use crate::drive::{Drive, Happening};
use crate::outcome::{Blame, Moment};
use crate::rules::{MAP_AS_SPECIFIED, READ_ONLY, STUCK_NOTICED, find};
use crate::shift_points;
use crate::signal::Signal;
use crate::spec::facts::MapFrom;
use crate::spec::link::Run;
use crate::spec::{Spec, SpecErrors, parse};
use crate::units::Rpm;
use crate::vehicle::STEP_MS;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// A fault must be caught within this many drives.
pub const MOST_DRIVES: usize = 1500;

/// What became of one fault.
#[derive(Debug, Clone)]
pub struct Caught {
    /// The fault.
    pub card: &'static FaultCard,
    /// Drives until its rule was broken, the breaking one included; `None` if it never was.
    pub drives: Option<usize>,
    /// Simulated time until then, ms.
    pub simulated_ms: u64,
    /// The moment, shrunk.
    pub moment: Option<Moment>,
    /// Text of its drive file.
    pub file: String,
    /// At how many points it misses the map, measured on the rolling road: for the rule that no drive can break.
    pub points: usize,
    /// On how many of the plain drives it puts out the same as the reference, tick for tick.
    pub equal: usize,
    /// How many plain drives there are.
    pub plain: usize,
}

impl Caught {
    /// Caught by its named rule, and the build is blamed.
    #[must_use]
    pub fn right(&self) -> bool {
        let by_drive = |m: &Moment| m.blame == Blame::Build && m.broken.iter().any(|b| b.card.name == self.card.rule);
        self.points > 0 || self.moment.as_ref().is_some_and(by_drive)
    }
}

/// The demo spec that ships inside the program.
///
/// # Errors
/// It can't be read: a bug of ours.
pub fn demo_spec() -> Result<Spec, SpecErrors> {
    let mut open = |name: &str| match name {
        "vehicles/van.toml" => Ok(include_str!("../../specs/vehicles/van.toml").to_owned()),
        "maps/van.csv" => Ok(include_str!("../../specs/maps/van.csv").to_owned()),
        other => Err(format!("{other} doesn't ship inside the program")),
    };
    parse(include_str!("../../specs/van.toml"), "specs/van.toml", &mut open)
}

/// The spec on which a fault shows: with the signal that it needs to read.
#[must_use]
pub fn spec_for(spec: &Spec, card: &FaultCard) -> Spec {
    let mut spec = spec.clone();
    let signals = &mut spec.facts.signals;
    signals.gear |= card.reads == Some(Signal::Gear);
    signals.engine_speed |= card.reads == Some(Signal::EngineSpeed);
    spec.facts.notices_stuck |= card.rule == STUCK_NOTICED;
    spec.facts.sends_requests |= card.rule == READ_ONLY;
    if card.rule == "bad map refused" {
        spec.facts.map_from = MapFrom::Hello;
    }
    if card.rule == "keeps the gear downhill" {
        spec.limits.downhill_rpm = Some(Rpm(3500.0));
    }
    spec
}

/// Drives in which nothing happens but that the driver takes over: a fault that differs on most of these is no rare one.
#[must_use]
pub fn plain_drives(plan: &Plan<'_>) -> Vec<Drive> {
    let plain = |d: &&Drive| d.events.iter().all(|e| matches!(e.what, Happening::Lever(_) | Happening::Button(_)));
    plan.named().filter(plain).take(100).cloned().collect()
}

/// Runs all seeded faults; `told` hears of each one as it is done.
///
/// # Errors
/// A built-in controller can't be started.
pub fn run(spec: &Spec, jobs: usize, told: &(dyn Fn(&Caught) + Sync)) -> Result<Vec<Caught>, NotStarted> {
    let next = AtomicUsize::new(0);
    let done: Vec<Mutex<Option<Result<Caught, NotStarted>>>> = FAULTS.iter().map(|_| Mutex::new(None)).collect();
    std::thread::scope(|scope| {
        for _ in 0..jobs.max(1) {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let (Some(card), Some(slot)) = (FAULTS.get(at), done.get(at)) else { return };
                    let caught = one_fault(spec, card);
                    if let Ok(caught) = &caught {
                        told(caught);
                    }
                    if let Ok(mut slot) = slot.lock() {
                        *slot = Some(caught);
                    }
                }
            });
        }
    });
    done.into_iter().filter_map(|slot| slot.into_inner().ok().flatten()).collect()
}

fn one_fault(spec: &Spec, card: &'static FaultCard) -> Result<Caught, NotStarted> {
    let spec = &spec_for(spec, card);
    let source = Builtin { fault: Some(card.fault) };
    let run = spec.runs.get("commit").or_else(|| spec.runs.values().next());
    let mut caught = Caught {
        card,
        drives: None,
        simulated_ms: 0,
        moment: None,
        file: String::new(),
        points: 0,
        equal: 0,
        plain: 0,
    };
    let (Some(run), Some(rule)) = (run, find(card.rule)) else { return Ok(caught) };
    let Ok(plan) = Plan::new(spec, run, Vec::new(), &Asked::default()) else { return Ok(caught) };
    if card.rule == MAP_AS_SPECIFIED {
        on_the_rolling_road(spec, &source, &mut caught)?;
    } else {
        by_drives(spec, &source, &plan, run, rule, &mut caught)?;
    }
    let mut rig = Rig::new(spec, &source, STEP_MS)?;
    let mut beside = Rig::new(spec, &Builtin { fault: None }, STEP_MS)?;
    for drive in plain_drives(&plan) {
        rig.drive(&drive);
        beside.drive(&drive);
        caught.plain += 1;
        let same = crate::rules::compare_twice(beside.recording(), rig.recording());
        caught.equal += usize::from(same.seen.is_some_and(|m| m.margin > 0.0) && rig.recording().silence.is_none());
    }
    Ok(caught)
}

/// Watches one rule while a build is driven.
pub struct Watch<'a> {
    /// The rig on which the build is driven.
    pub rig: Rig<'a>,
    referee: Referee<'a>,
    rule: usize,
}

impl<'a> Watch<'a> {
    /// Watches a rule, by its index.
    ///
    /// # Errors
    /// The controller can't be started.
    pub fn new(spec: &'a Spec, source: &'a Builtin, rule: usize) -> Result<Self, NotStarted> {
        Ok(Self { rig: Rig::new(spec, source, STEP_MS)?, referee: Referee::new(spec)?, rule })
    }

    /// Whether a drive broke the rule, and by the build's fault: on what was seen, or in truth where the reference keeps
    /// it.
    pub fn catches(&mut self, driven: &Driven, drive: &dyn Fn() -> Drive) -> bool {
        let measure = driven.measures.get(self.rule);
        let seen = measure.seen.is_some_and(|m| m.broken());
        let truth = measure.truth.is_some_and(|m| m.broken() && !m.unknowable);
        seen || truth && self.referee.truth(self.rule, &drive(), true) == Some(Judgement::Build)
    }
}

/// Drives until the rule is broken, and shrinks that drive.
fn by_drives(
    spec: &Spec,
    source: &Builtin,
    plan: &Plan<'_>,
    run: &Run,
    rule: usize,
    caught: &mut Caught,
) -> Result<(), NotStarted> {
    let mut watch = Watch::new(spec, source, rule)?;
    let mut driven = Vec::new();
    for index in 0..plan.len().min(MOST_DRIVES) {
        let result = one(&mut watch.rig, plan, index);
        caught.simulated_ms += u64::from(result.driven_ms);
        let catches = watch.catches(&result, &|| plan.drive(index));
        driven.push(result);
        if catches {
            caught.drives = Some(index + 1);
            break;
        }
    }
    if caught.drives.is_some() {
        let finding = moments::Finding::of_rule(spec, source, plan, run, &driven, rule);
        let found = moments::find(&finding, &mut |_, _| {})?;
        caught.moment = found.moments.into_iter().next();
        caught.file = found.files.into_iter().next().map_or(String::new(), |(_, text)| text);
    }
    Ok(())
}

/// Measures its shift points; the reference must keep those that it misses.
fn on_the_rolling_road(spec: &Spec, source: &Builtin, caught: &mut Caught) -> Result<(), NotStarted> {
    let options = shift_points::Options { jobs: 1, ..Default::default() };
    let measured = shift_points::measure(spec, source, &options, &AtomicBool::new(false), &mut |_, _| {})?;
    caught.simulated_ms = measured.simulated_ms;
    caught.points = if measured.unfit.is_empty() { measured.broken().count() } else { 0 };
    caught.drives = measured.points.iter().position(shift_points::Point::broken).map(|at| at + 1);
    Ok(())
}
