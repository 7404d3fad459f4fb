//! Drives a plan on all threads; results come back by index, the same on any number of threads.

use super::again::has_extras;
use super::plan::Plan;
use super::rig::Rig;
use super::together::Work;
use super::{Progress, Stop};
use crate::controller::{NotStarted, Source, alone};
use crate::drive::Drive;
use crate::make::Trace;
use crate::outcome::{Measure, Straying};
use crate::recording::Recording;
use crate::rules::{Again, DETERMINISM, again, compare_twice};
use crate::search::Lesson;
use crate::spec::Spec;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::channel;

/// The measures of one drive, one a rule; those of rules that it never came to take no room.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measures(Vec<(u8, Measure)>);

impl Measures {
    /// Of all rules, in the table's order.
    #[must_use]
    pub fn of(all: &[Measure]) -> Self {
        let told = (0..=u8::MAX).zip(all).filter(|(_, measure)| **measure != Measure::default());
        Self(told.map(|(rule, measure)| (rule, *measure)).collect())
    }

    /// That of a rule, by its index.
    #[must_use]
    pub fn get(&self, rule: usize) -> Measure {
        let at = self.0.binary_search_by_key(&rule, |(rule, _)| usize::from(*rule));
        at.ok().and_then(|at| self.0.get(at)).map_or_else(Measure::default, |(_, measure)| *measure)
    }

    /// Rules (by index) with what they measured, those alone that measured anything.
    pub fn told(&self) -> impl Iterator<Item = (usize, &Measure)> {
        self.0.iter().map(|(rule, measure)| (usize::from(*rule), measure))
    }
}

/// Results of one drive.
#[derive(Debug, Clone)]
pub struct Driven {
    /// One measure a rule.
    pub measures: Measures,
    /// Length driven, ms.
    pub driven_ms: u32,
    /// The controller fell silent.
    pub silent: bool,
    /// How far the driver strayed from the speeds that the drive follows.
    pub straying: Option<Straying>,
    /// What it teaches the search, until that has taken it.
    pub lesson: Option<Box<Lesson>>,
}

/// After each so many drives of a plan it may end early.
const BATCH: usize = 64;

/// With this many drives on which the controller fell silent, further ones tell nothing new.
const MOST_SILENT: usize = 8;

/// Each so-manieth drive is driven twice and compared.
const TWICE_EVERY: usize = 10;

/// Of a program, each so-manieth is driven a third time in a process of its own.
const AFRESH_EVERY: usize = 4 * TWICE_EVERY;

/// Of a plan no longer than this, each drive is put before the box again with other clocks.
const FEW: usize = 100;

/// Else each so-manieth is.
const CLOCKS_EVERY: usize = 30;

/// Of random drives by themselves, those up to this number are put before the box again after an hour of idling; a plan
/// says which of its drives are.
const IDLE_FIRST: usize = 24;

/// Of the random drives with extra answers, each so-manieth is put before the box again without them.
const EXTRAS_EVERY: usize = 8;

/// Drives the plan; returns the results of the drives driven, in order.
///
/// # Errors
/// The controller wasn't started.
pub fn sweep(
    spec: &Spec,
    source: &dyn Source,
    plan: &Plan<'_>,
    jobs: usize,
    stop: &Stop<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Vec<Driven>, NotStarted> {
    let jobs = jobs.max(1);
    let (enough, next) = (AtomicBool::new(false), AtomicUsize::new(0));
    let work = Work { spec, source, plan, jobs, stop, enough, next, returned: Mutex::default() };
    let mut results: Vec<Driven> = Vec::with_capacity(plan.len());
    let (mut simulated_ms, mut silent) = (0, 0);
    std::thread::scope(|scope| {
        let (done, news) = channel();
        for _ in 0..jobs {
            let (work, done) = (&work, done.clone());
            scope.spawn(move || work.run(&done));
        }
        drop(done);
        // They come as they are done; what is made of them goes by their order.
        let mut early = BTreeMap::new();
        for one in news {
            let (index, driven) = one.inspect_err(|_| work.enough.store(true, Ordering::Relaxed))?;
            early.insert(index, driven);
            while let Some(driven) = early.remove(&results.len()) {
                if work.enough.load(Ordering::Relaxed) {
                    break;
                }
                simulated_ms += u64::from(driven.driven_ms);
                silent += usize::from(driven.silent);
                results.push(driven);
                if results.len().is_multiple_of(BATCH) || results.len() == plan.len() {
                    progress(Progress { done: results.len(), total: plan.len(), simulated_ms, doing: "driving" });
                    work.enough.store(silent >= MOST_SILENT, Ordering::Relaxed);
                }
            }
        }
        Ok(())
    })?;
    Ok(results)
}

/// What a drive is asked for beyond driving it once, for the rules that no single recording can judge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Checks {
    /// It is driven twice and compared.
    pub twice: bool,
    /// It is driven a third time, in a process of its own.
    pub afresh: bool,
    /// Its extra answers are taken out, if it has any.
    pub extras: bool,
    /// It is put before the box with two other clocks, chosen by this turn.
    pub clocks: Option<usize>,
    /// It is put before the box again after an hour of idling, if it begins at rest.
    pub idle: bool,
    /// The box is told a map with this damage.
    pub damage: Option<usize>,
    /// The search learns from it.
    pub teaches: bool,
}

impl Checks {
    /// Those of a random drive: they hang on its own number alone.
    #[must_use]
    pub fn of_random(number: usize) -> Self {
        Self {
            twice: number.is_multiple_of(TWICE_EVERY),
            afresh: number.is_multiple_of(AFRESH_EVERY),
            extras: number % EXTRAS_EVERY == 3,
            clocks: (number % CLOCKS_EVERY == 7).then_some(number / CLOCKS_EVERY),
            idle: number < IDLE_FIRST,
            damage: None,
            teaches: false,
        }
    }

    fn of(plan: &Plan<'_>, index: usize) -> Self {
        if plan.is_order(index) {
            return Self { teaches: plan.teaches(index), ..Self::default() };
        }
        let few = plan.len() <= FEW;
        let turn = plan.turn(index);
        let random = Self::of_random(turn);
        Self {
            extras: random.extras || few || plan.is_named(index) || plan.is_search(index),
            clocks: random.clocks.or(few.then_some(turn / CLOCKS_EVERY)),
            idle: plan.idles(index),
            damage: plan.damage(index),
            teaches: plan.teaches(index),
            ..random
        }
    }
}

/// Drives one drive of a plan, with the checks that its turn is asked for: they hang on nothing else, so the number of
/// threads changes nothing. The plan learns what it teaches: a search drive must come after those before it.
pub fn one(rig: &mut Rig<'_>, plan: &Plan<'_>, index: usize) -> Driven {
    plan.ready(index);
    let mut driven = alone(one_in_turn(rig, plan, index));
    plan.learn(index, driven.lesson.take());
    driven
}

/// The same beside other drives.
pub async fn one_in_turn(rig: &mut Rig<'_>, plan: &Plan<'_>, index: usize) -> Driven {
    let driven = drive_in_turn(rig, &plan.drive(index), &Checks::of(plan, index)).await;
    let straying = plan.trace(index).map(|trace| straying(trace, rig.recording()));
    Driven { straying, ..driven }
}

/// Drives a drive, with these checks.
pub fn drive(rig: &mut Rig<'_>, drive: &Drive, checks: &Checks) -> Driven {
    alone(drive_in_turn(rig, drive, checks))
}

/// The same beside other drives.
pub async fn drive_in_turn(rig: &mut Rig<'_>, drive: &Drive, checks: &Checks) -> Driven {
    let mut measures = rig.drive_in_turn(drive).await.to_vec();
    let recording = rig.recording();
    let driven_ms = recording.rows.last().map_or(0, |r| r.t_ms + recording.tick_ms);
    let silent = recording.silence.is_some();
    if silent {
        return Driven { measures: Measures::of(&measures), driven_ms, silent, straying: None, lesson: None };
    }
    let lesson = checks.teaches.then(|| Box::new(rig.lesson(drive)));
    for (rule, measure) in measures.iter_mut().enumerate() {
        match (again(rule), checks) {
            (Some(Again::WithoutExtras), Checks { extras: true, .. }) if has_extras(drive) => {
                *measure = rig.without_extras().await;
            }
            (Some(Again::OtherClocks), Checks { clocks: Some(turn), .. }) => {
                *measure = rig.with_other_clocks(Some(*turn)).await;
            }
            (Some(Again::IdleFirst), Checks { idle: true, .. }) => *measure = rig.after_an_idle_hour().await,
            (Some(Again::DamagedMaps), Checks { damage: Some(damage), .. }) => {
                *measure = rig.with_damaged_maps(drive, Some(*damage));
            }
            _ => {}
        }
    }
    if checks.twice {
        let first = rig.recording().clone();
        rig.run_in_turn(drive).await;
        measures[DETERMINISM] = compare_twice(&first, rig.recording());
        let differs = measures[DETERMINISM].seen.is_some_and(|mark| mark.broken());
        if checks.afresh && !differs && rig.source().takes_turns() {
            measures[DETERMINISM] = rig.compare_afresh(&first, drive).unwrap_or(measures[DETERMINISM]);
        }
    }
    Driven { measures: Measures::of(&measures), driven_ms, silent, straying: None, lesson }
}

/// The speed at the end of each second against the trace's.
fn straying(trace: &Trace, recording: &Recording) -> Straying {
    let off_kmh = trace.speeds_kmh.iter().enumerate().skip(1).filter_map(|(second, wanted_kmh)| {
        let at = recording.rows.partition_point(|row| row.t_ms < trace.at_ms(second)).checked_sub(1)?;
        Some((recording.rows.get(at)?.truth.speed_kmh - wanted_kmh).abs())
    });
    let (most_kmh, squares, seconds) =
        off_kmh.fold((0.0_f64, 0.0, 0.0), |(most, squares, n), off| (most.max(off), squares + off * off, n + 1.0));
    Straying { name: trace.name.clone(), most_kmh, rms_kmh: (squares / f64::max(seconds, 1.0)).sqrt() }
}
