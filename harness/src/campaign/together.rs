//! Threads that take a plan's drives one by one, and on each thread as many drives side by side as the controller
//! offers instances in one process.

use super::Stop;
use super::plan::Plan;
use super::rig::Rig;
use super::sweep::{Driven, one, one_in_turn};
use crate::controller::{NotStarted, Source};
use crate::spec::Spec;
use crate::vehicle::STEP_MS;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::future::poll_fn;
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Mutex, PoisonError};
use std::task::{Context, Poll, Waker};

/// Drives side by side on one thread; more make a turn no cheaper.
const MOST_TOGETHER: usize = 64;

/// What threads share: the plan and how far it is given out. Drives are given out in order, and whoever has taken one
/// sees it through, so what is done when it ends early are the first ones.
pub struct Work<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// The build.
    pub source: &'a dyn Source,
    /// The drives.
    pub plan: &'a Plan<'a>,
    /// Threads.
    pub jobs: usize,
    /// The user's wish.
    pub stop: &'a Stop<'a>,
    /// Further drives tell nothing new.
    pub enough: AtomicBool,
    /// The next drive's index.
    pub next: AtomicUsize,
    /// Drives given back, untouched, by lanes whose process fell silent while they waited.
    pub returned: Mutex<BTreeSet<usize>>,
}

/// What a drive came to, with its index.
pub type Done = Result<(usize, Driven), NotStarted>;

impl Work<'_> {
    fn take(&self) -> Option<usize> {
        if self.stop.asked() || self.enough.load(Ordering::Relaxed) {
            return None;
        }
        if let Some(index) = self.returned.lock().unwrap_or_else(PoisonError::into_inner).pop_first() {
            return Some(index);
        }
        let index = self.next.fetch_add(1, Ordering::Relaxed);
        (index < self.plan.len()).then_some(index)
    }

    fn some_returned(&self) -> bool {
        !self.returned.lock().unwrap_or_else(PoisonError::into_inner).is_empty()
    }

    /// Waits until a drive is known, as a search drive is once those it is bred from are done; false where it is not to
    /// be driven here.
    async fn known(&self, index: usize, lost: &RefCell<Vec<(usize, Driven)>>) -> bool {
        poll_fn(|_| {
            if self.plan.ready(index) {
                return Poll::Ready(true);
            }
            // Those before it may be among the lost, which are driven again once no lane of this process is left.
            if !lost.borrow().is_empty() || self.stop.asked() || self.enough.load(Ordering::Relaxed) {
                self.returned.lock().unwrap_or_else(PoisonError::into_inner).insert(index);
                return Poll::Ready(false);
            }
            std::thread::yield_now();
            Poll::Pending
        })
        .await
    }

    /// One thread's work.
    pub fn run(&self, done: &Sender<Done>) {
        // Each thread gets its share, however few drives there are.
        let most = self.plan.len().div_ceil(self.jobs).clamp(1, MOST_TOGETHER);
        let mut started = false;
        while self.next.load(Ordering::Relaxed) < self.plan.len() || self.some_returned() {
            let mut rigs = match Rig::several(self.spec, self.source, STEP_MS, most) {
                Ok(rigs) => rigs,
                // What was found stands.
                Err(_) if started => vec![Rig::started_again(self.spec, self.source, STEP_MS)],
                Err(why) => {
                    let _ = done.send(Err(why));
                    return;
                }
            };
            started = true;
            if !self.together(&mut rigs, done) || self.stop.asked() {
                return;
            }
        }
    }

    /// Drives side by side until there is nothing more to take, or their process has fallen silent: then it takes a new
    /// one, and true comes back.
    fn together(&self, rigs: &mut [Rig<'_>], done: &Sender<Done>) -> bool {
        let lost = RefCell::new(Vec::new());
        let mut under_way: Vec<Pin<Box<dyn Future<Output = ()> + '_>>> = Vec::with_capacity(rigs.len());
        for rig in rigs {
            under_way.push(Box::pin(async {
                while let Some(index) = self.take() {
                    if !self.known(index, &lost).await {
                        return;
                    }
                    let mut driven = one_in_turn(rig, self.plan, index).await;
                    if rig.shared_fell() {
                        lost.borrow_mut().push((index, driven));
                        return;
                    }
                    self.plan.learn(index, driven.lesson.take());
                    let _ = done.send(Ok((index, driven)));
                }
            }));
        }
        // Nobody needs waking: whoever is looked at has asked, or gets its answer.
        let mut context = Context::from_waker(Waker::noop());
        while !under_way.is_empty() {
            under_way.retain_mut(|lane| lane.as_mut().poll(&mut context).is_pending());
        }
        drop(under_way);
        let lost = lost.into_inner();
        let fell = !lost.is_empty();
        self.alone(lost, done);
        fell
    }

    /// Drives once more, each alone, what was under way when a process fell silent: this tells which drive it was, and
    /// is what a process of one instance comes to. Where none falls silent alone, it is the company that it can't stand,
    /// and all of them stand as they were found.
    fn alone(&self, mut lost: Vec<(usize, Driven)>, done: &Sender<Done>) {
        if lost.is_empty() {
            return;
        }
        // By index, so that little is missing before what is done if the user wishes to stop meanwhile.
        lost.sort_by_key(|(index, _)| *index);
        let mut rig = Rig::started_again(self.spec, self.source, STEP_MS);
        let indexes = lost.iter().map(|(index, _)| *index).take_while(|_| !self.stop.asked());
        let again: Vec<Driven> = indexes.map(|index| one(&mut rig, self.plan, index)).collect();
        let company = again.len() == lost.len() && again.iter().all(|driven| !driven.silent);
        for ((index, found), again) in lost.into_iter().zip(again) {
            let found = Driven { lesson: None, ..found };
            let _ = done.send(Ok((index, if company { found } else { again })));
        }
    }
}
