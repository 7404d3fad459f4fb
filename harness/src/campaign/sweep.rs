//! Drives a plan on all threads; results come back by index, the same on any number of threads.

use super::again::has_extras;
use super::plan::Plan;
use super::rig::Rig;
use super::{Progress, Stop};
use crate::controller::{NotStarted, Source};
use crate::make::Trace;
use crate::outcome::{Measure, Straying};
use crate::recording::Recording;
use crate::rules::{Again, DETERMINISM, again, compare_twice};
use crate::spec::Spec;
use crate::vehicle::STEP_MS;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Results of one drive.
#[derive(Debug, Clone)]
pub struct Driven {
    /// One measure a rule.
    pub measures: Vec<Measure>,
    /// Length driven, ms.
    pub driven_ms: u32,
    /// The controller fell silent.
    pub silent: bool,
    /// How far the driver strayed from the speeds that the drive follows.
    pub straying: Option<Straying>,
}

/// A plan is driven in batches; after each one it may end early.
const BATCH: usize = 64;

/// With this many drives on which the controller fell silent, further ones tell nothing new.
const MOST_SILENT: usize = 8;

/// Each so-manieth drive is driven twice and compared.
const TWICE_EVERY: usize = 10;

/// Of a plan no longer than this, each drive is put before the box again with other clocks.
const FEW: usize = 100;

/// Else each so-manieth is.
const CLOCKS_EVERY: usize = 30;

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
    let mut results: Vec<Driven> = Vec::with_capacity(plan.len());
    let mut rigs: Vec<Mutex<Option<Rig<'_>>>> = (0..jobs).map(|_| Mutex::new(None)).collect();
    let mut simulated_ms = 0;
    while results.len() < plan.len() && !stop.asked() {
        let from = results.len();
        let to = (from + BATCH).min(plan.len());
        let slots: Vec<Mutex<Option<Driven>>> = (from..to).map(|_| Mutex::new(None)).collect();
        let next = AtomicUsize::new(from);
        let failed: Mutex<Option<NotStarted>> = Mutex::new(None);
        std::thread::scope(|scope| {
            for rig in &rigs {
                let (next, slots, failed) = (&next, &slots, &failed);
                scope.spawn(move || {
                    // The lock is this thread's alone for the whole batch.
                    let Ok(mut rig) = rig.lock() else { return };
                    loop {
                        let index = next.fetch_add(1, Ordering::Relaxed);
                        if index >= to {
                            return;
                        }
                        if rig.is_none() {
                            match Rig::new(spec, source, STEP_MS) {
                                Ok(new) => *rig = Some(new),
                                Err(why) => {
                                    if let Ok(mut failed) = failed.lock() {
                                        *failed = Some(why);
                                    }
                                    return;
                                }
                            }
                        }
                        let Some(rig) = rig.as_mut() else { return };
                        let driven = one(rig, plan, index);
                        if let Some(Ok(mut slot)) = slots.get(index - from).map(Mutex::lock) {
                            *slot = Some(driven);
                        }
                    }
                });
            }
        });
        if let Some(why) = failed.into_inner().ok().flatten() {
            return Err(why);
        }
        let before = results.len();
        results.extend(slots.into_iter().filter_map(|slot| slot.into_inner().ok().flatten()));
        simulated_ms += results[before..].iter().map(|d| u64::from(d.driven_ms)).sum::<u64>();
        progress(Progress { done: results.len(), total: plan.len(), simulated_ms, doing: "driving" });
        if results.iter().filter(|d| d.silent).count() >= MOST_SILENT {
            break;
        }
    }
    rigs.clear();
    Ok(results)
}

/// Drives one drive of a plan; each so-manieth one twice.
pub fn one(rig: &mut Rig<'_>, plan: &Plan<'_>, index: usize) -> Driven {
    let drive = plan.drive(index);
    let mut measures = rig.drive(&drive).to_vec();
    let recording = rig.recording();
    let driven_ms = recording.rows.last().map_or(0, |r| r.t_ms + recording.tick_ms);
    let silent = recording.silence.is_some();
    let straying = plan.trace(index).map(|trace| straying(trace, recording));
    if silent {
        return Driven { measures, driven_ms, silent, straying };
    }
    let few = plan.len() <= FEW;
    // What an index is asked for hangs on nothing else, so the number of threads changes nothing.
    for (rule, measure) in measures.iter_mut().enumerate() {
        match again(rule) {
            Some(Again::WithoutExtras)
                if has_extras(&drive) && (few || plan.is_named(index) || index % EXTRAS_EVERY == 3) =>
            {
                *measure = rig.without_extras();
            }
            Some(Again::OtherClocks) if few || index % CLOCKS_EVERY == 7 => {
                *measure = rig.with_other_clocks(Some(index / CLOCKS_EVERY));
            }
            Some(Again::DamagedMaps) => {
                if let Some(damage) = plan.damage(index) {
                    *measure = rig.with_damaged_maps(&drive, Some(damage));
                }
            }
            _ => {}
        }
    }
    if index.is_multiple_of(TWICE_EVERY) {
        let first = rig.recording().clone();
        rig.drive(&drive);
        measures[DETERMINISM] = compare_twice(&first, rig.recording());
    }
    Driven { measures, driven_ms, silent, straying }
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
