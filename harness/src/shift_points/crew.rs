//! Spreads measurements over threads; results come back by index, the same on any number of threads.

use super::bench::Bench;
use crate::controller::{NotStarted, Source};
use crate::spec::Spec;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Work is given out in batches; between two of them the crew may stop.
const BATCH: usize = 32;

/// Benches, one a thread, each with its own controller.
pub(super) struct Crew<'a> {
    spec: &'a Spec,
    source: &'a dyn Source,
    benches: Vec<Mutex<Option<Bench<'a>>>>,
    stop: &'a AtomicBool,
}

impl<'a> Crew<'a> {
    pub(super) fn new(spec: &'a Spec, source: &'a dyn Source, jobs: usize, stop: &'a AtomicBool) -> Self {
        Self { spec, source, benches: (0..jobs.max(1)).map(|_| Mutex::new(None)).collect(), stop }
    }

    pub(super) fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Measures each of `count` things; fewer come back where the user stops, or `enough` says so between two batches.
    pub(super) fn measure<T: Send>(
        &self,
        count: usize,
        work: impl Fn(&mut Bench<'a>, usize) -> T + Sync,
        enough: impl Fn(&[T]) -> bool,
        done: &mut dyn FnMut(usize),
    ) -> Result<Vec<T>, NotStarted> {
        let mut results = Vec::with_capacity(count);
        while results.len() < count && !self.stopped() && !enough(&results) {
            let from = results.len();
            let to = (from + BATCH).min(count);
            let slots: Vec<Mutex<Option<T>>> = (from..to).map(|_| Mutex::new(None)).collect();
            let next = AtomicUsize::new(from);
            let failed: Mutex<Option<NotStarted>> = Mutex::new(None);
            std::thread::scope(|scope| {
                for bench in &self.benches {
                    let (next, slots, failed, work) = (&next, &slots, &failed, &work);
                    scope.spawn(move || {
                        // The lock is this thread's alone for the whole batch.
                        let Ok(mut bench) = bench.lock() else { return };
                        loop {
                            let index = next.fetch_add(1, Ordering::Relaxed);
                            let Some(slot) = index.checked_sub(from).and_then(|at| slots.get(at)) else { return };
                            if bench.is_none() {
                                match Bench::new(self.spec, self.source) {
                                    Ok(new) => *bench = Some(new),
                                    Err(why) => {
                                        if let Ok(mut failed) = failed.lock() {
                                            *failed = Some(why);
                                        }
                                        return;
                                    }
                                }
                            }
                            let Some(bench) = bench.as_mut() else { return };
                            let result = work(bench, index);
                            if let Ok(mut slot) = slot.lock() {
                                *slot = Some(result);
                            }
                        }
                    });
                }
            });
            if let Some(why) = failed.into_inner().ok().flatten() {
                return Err(why);
            }
            results.extend(slots.into_iter().filter_map(|slot| slot.into_inner().ok().flatten()));
            done(results.len());
        }
        Ok(results)
    }

    /// Simulated by all, ms.
    pub(super) fn simulated_ms(&self) -> u64 {
        self.benches.iter().filter_map(|bench| bench.lock().ok()?.as_ref().map(|b| b.simulated_ms)).sum()
    }
}
