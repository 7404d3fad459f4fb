//! The margin search: drives bred from earlier ones, towards smaller margins and towards what no drive has come to.
//!
//! The drives of a plan are dealt to [`ISLANDS`] islands. A search drive is bred from what the earlier drives of its own
//! island came to, in the plan's order, and from nothing else: so it is the same however many threads drive, and whoever
//! drives only some of the islands gets their drives as they are. An island keeps an archive, and spends its drives on
//! the ways of changing that have paid.
//!
//! It knows drives, recordings and numbers of rules; no rule, manoeuvre or fault by name.

mod archive;
mod budget;
mod change;
mod lesson;
mod outside;

use crate::drive::Drive;
use crate::make::{Dice, aimed_drive, random_drive};
use crate::spec::Spec;
use archive::Archive;
use budget::{Budget, WAYS, Way};
use change::Changes;
pub use lesson::Lesson;
pub use outside::Outside;
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Mutex, OnceLock, PoisonError};

/// Name and version of the search; whatever changes its drives raises the number.
pub const SEARCH: &str = "search 1";

/// Islands: fixed, so that neither threads nor machines change a drive. Drive `n` of a plan belongs to island
/// `n % ISLANDS`.
pub const ISLANDS: usize = 16;

/// Drives that no random drive is: what a search drive is where its island has nothing to breed from yet.
const FRESH: u32 = 1 << 31;

/// What an island has still to learn or breed, in the plan's order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// It learns from this drive.
    Learn(usize),
    /// It breeds the search drive of this number for this place in the plan, and learns from it.
    Breed(usize, u32),
}

/// One island.
struct Island {
    /// What is to come.
    next: VecDeque<Next>,
    /// The way of the search drive that was bred last and not yet learned from.
    tried: Option<Way>,
    /// Lessons that came before those of earlier drives.
    early: BTreeMap<usize, Lesson>,
    archive: Archive,
    budget: Budget,
}

/// The search drives of a plan.
pub struct Search<'a> {
    spec: &'a Spec,
    seed: u64,
    length_ms: u32,
    islands: Vec<Mutex<Island>>,
    bred: Vec<OnceLock<Drive>>,
}

impl<'a> Search<'a> {
    /// The search drives of a plan with these drives to learn from and these places for search drives, each in the
    /// plan's order.
    #[must_use]
    pub fn new(spec: &'a Spec, seed: u64, length_ms: u32, plan: impl Iterator<Item = Next>) -> Self {
        let mut queues: Vec<VecDeque<Next>> = vec![VecDeque::new(); ISLANDS];
        let mut count = 0;
        for next in plan {
            let (Next::Learn(index) | Next::Breed(index, _)) = next;
            count += usize::from(matches!(next, Next::Breed(..)));
            if let Some(queue) = queues.get_mut(index % ISLANDS) {
                queue.push_back(next);
            }
        }
        let island = |next| Island {
            next,
            tried: None,
            early: BTreeMap::new(),
            archive: Archive::default(),
            budget: Budget::default(),
        };
        let islands = queues.into_iter().map(|next| Mutex::new(island(next))).collect();
        Self { spec, seed, length_ms, islands, bred: (0..count).map(|_| OnceLock::new()).collect() }
    }

    /// Breeds the search drive at a place in the plan once its island has learned from all before it; whether it is bred.
    pub fn ready(&self, index: usize, number: u32) -> bool {
        let Some(slot) = self.bred.get(number as usize) else { return true };
        if slot.get().is_some() {
            return true;
        }
        let Some(island) = self.islands.get(index % ISLANDS) else { return true };
        // A thread that panicked has left the island whole: it is changed by learning alone, at one go.
        let mut island = island.lock().unwrap_or_else(PoisonError::into_inner);
        if island.next.front() != Some(&Next::Breed(index, number)) {
            return false;
        }
        let (drive, way) = self.breed(&island, number);
        island.tried = way;
        let _ = slot.set(drive);
        true
    }

    /// The search drive of a number; one that was never bred, because the campaign ended before, is a fresh random one.
    #[must_use]
    pub fn drive(&self, number: u32) -> Drive {
        let bred = self.bred.get(number as usize).and_then(OnceLock::get);
        bred.cloned().unwrap_or_else(|| self.fresh(number))
    }

    fn fresh(&self, number: u32) -> Drive {
        random_drive(self.spec, self.seed, FRESH | number, self.length_ms)
    }

    fn breed(&self, island: &Island, number: u32) -> (Drive, Option<Way>) {
        let dice = Dice::new(SEARCH, self.seed, number);
        let mut changes = Changes { spec: self.spec, seed: self.seed, number, length_ms: self.length_ms, dice };
        let way = WAYS.get(changes.dice.weighted(&island.budget.weights())).copied().unwrap_or(Way::Aim);
        let child = match way {
            Way::Aim => Some(aimed_drive(self.spec, self.seed, number, self.length_ms)),
            Way::Insert => changes.insert(&island.archive),
            Way::Nudge => changes.nudge(&island.archive),
            Way::Splice => changes.splice(&island.archive),
            Way::LeaveOut => changes.leave_out(&island.archive),
        };
        match child {
            Some(child) => (child, Some(way)),
            None => (self.fresh(number), None),
        }
    }

    /// What a drive of the plan came to. Lessons may come in any order; they are learned in the plan's.
    pub fn learn(&self, index: usize, lesson: Lesson) {
        let Some(island) = self.islands.get(index % ISLANDS) else { return };
        let mut island = island.lock().unwrap_or_else(PoisonError::into_inner);
        island.early.insert(index, lesson);
        loop {
            let Some(&next) = island.next.front() else { return };
            let (Next::Learn(due) | Next::Breed(due, _)) = next;
            let Some(lesson) = island.early.remove(&due) else { return };
            island.next.pop_front();
            let paid = island.archive.enter(lesson);
            if let (Next::Breed(..), Some(way)) = (next, island.tried.take()) {
                island.budget.tried(way, paid);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::make::test_spec::van;

    fn lesson(drive: Drive, margin: f64) -> Lesson {
        Lesson::made(drive, &[(0, margin, 5000)], &[], &[])
    }

    /// A plan of 48: by turns a drive to learn from and a search drive.
    fn search(spec: &Spec) -> Search<'_> {
        let next = |at| number(at).map_or(Next::Learn(at), |number| Next::Breed(at, number));
        Search::new(spec, 5, 60_000, (0..96).map(next))
    }

    fn number(index: usize) -> Option<u32> {
        ((index / 16) % 2 == 1).then(|| (index / 32 * 16 + index % 16) as u32)
    }

    fn run(search: &Search<'_>, order: impl Iterator<Item = usize>) -> Vec<Drive> {
        for index in order {
            let drive = match number(index) {
                Some(number) => {
                    assert!(search.ready(index, number), "{index}");
                    search.drive(number)
                }
                None => random_drive(search.spec, 5, index as u32, 60_000),
            };
            let margin = drive.steps.iter().map(|step| f64::from(step.ms % 977)).sum::<f64>();
            search.learn(index, lesson(drive, margin));
        }
        (0..48).map(|number| search.drive(number)).collect()
    }

    #[test]
    fn islands_know_nothing_of_each_other() {
        let spec = van();
        let in_order = run(&search(&spec), 0..96);
        // One island after the other, the last one first.
        let by_island = run(&search(&spec), (0..16).rev().flat_map(|island| (0..6).map(move |row| row * 16 + island)));
        assert_eq!(in_order, by_island);
        assert!(in_order.iter().enumerate().all(|(at, drive)| !in_order[..at].contains(drive)));
    }

    #[test]
    fn nothing_is_bred_before_all_before_it_is_learned() {
        let spec = van();
        let search = search(&spec);
        assert!(!search.ready(16, 0));
        search.learn(1, lesson(search.fresh(0), 1.0));
        assert!(!search.ready(16, 0) && search.ready(17, 1));
        assert_eq!(search.drive(0), search.fresh(0), "never bred");
        search.learn(0, lesson(search.fresh(0), 1.0));
        assert!(search.ready(16, 0));
    }

    #[test]
    fn another_history_breeds_another_drive() {
        let spec = van();
        let (one, other) = (search(&spec), search(&spec));
        one.learn(0, lesson(one.fresh(1), 1.0));
        other.learn(0, lesson(one.fresh(2), 1.0));
        assert!(one.ready(16, 0) && other.ready(16, 0));
        // Unless its way needs no parent.
        let way = |search: &Search<'_>| search.islands[0].lock().unwrap().tried;
        assert_eq!(way(&one), way(&other));
        assert!(way(&one) == Some(Way::Aim) || one.drive(0) != other.drive(0));
    }
}
