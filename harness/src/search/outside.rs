//! The search's changes for whoever keeps drives by himself: a fuzzer has its own archive, and its own idea of what pays.

use super::archive::Archive;
use super::budget::{Budget, WAYS, Way};
use super::change::Changes;
use super::lesson::Lesson;
use crate::drive::Drive;
use crate::make::{Dice, aimed_drive};
use crate::spec::Spec;

/// Ways are tried so often before a drive is given up as one that can't be changed.
const TRIES: u32 = 8;

/// The search's changes, one drive at a time.
#[derive(Debug, Clone, Copy)]
pub struct Outside<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// The seed.
    pub seed: u64,
    /// About how long a drive is, ms; a changed one is at most twice as long.
    pub length_ms: u32,
}

impl Outside<'_> {
    fn changes(&self, number: u32) -> Changes<'_> {
        let Self { spec, seed, length_ms } = *self;
        Changes { spec, seed, number, length_ms, dice: Dice::new("outside", seed, number) }
    }

    /// What a drive taught, changed: `number` decides how. `None` where nothing of it can be changed.
    #[must_use]
    pub fn changed(&self, parent: Lesson, number: u32) -> Option<Drive> {
        let mut changes = self.changes(number);
        let archive = Archive::of(vec![parent]);
        let weights = Budget::default().weights();
        (0..TRIES).find_map(|_| match WAYS.get(changes.dice.weighted(&weights))? {
            Way::Aim => Some(aimed_drive(self.spec, self.seed, number, self.length_ms)),
            Way::Insert => changes.insert(&archive),
            Way::Nudge => changes.nudge(&archive),
            Way::Splice => changes.splice(&archive),
            Way::LeaveOut => changes.leave_out(&archive),
        })
    }

    /// The beginning of one of two drives and the end of one of them.
    #[must_use]
    pub fn crossed(&self, first: &Drive, second: &Drive, number: u32) -> Option<Drive> {
        let lesson = |drive: &Drive| Lesson { drive: drive.clone(), ..Lesson::default() };
        self.changes(number).splice(&Archive::of(vec![lesson(first), lesson(second)]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive_check::check;
    use crate::make::random_drive;
    use crate::make::test_spec::van;
    use std::collections::BTreeSet;

    #[test]
    fn a_drive_becomes_many_others_within_bounds_and_always_the_same_ones() {
        let spec = van();
        let outside = Outside { spec: &spec, seed: 3, length_ms: 60_000 };
        let parent = random_drive(&spec, 3, 0, 60_000);
        let lesson = || Lesson::made(parent.clone(), &[(0, 0.5, 9000)], &[], &[]);
        let children: Vec<Drive> = (0..200).filter_map(|number| outside.changed(lesson(), number)).collect();
        assert!(children.iter().all(|child| check(child).is_ok() && child.length_ms() <= 120_000));
        let texts: BTreeSet<String> = children.iter().map(|child| format!("{child:?}")).collect();
        // A few come out as their parent, where what was to be changed has no effect on it.
        assert!(texts.len() > 150, "{} different ones of {}", texts.len(), children.len());
        let again: Vec<Drive> = (0..200).filter_map(|number| outside.changed(lesson(), number)).collect();
        assert_eq!(children, again);
    }

    #[test]
    fn two_drives_are_crossed() {
        let spec = van();
        let outside = Outside { spec: &spec, seed: 3, length_ms: 60_000 };
        let [first, second] = [0, 1].map(|number| random_drive(&spec, 3, number, 60_000));
        let crossed: Vec<Drive> = (0..50).filter_map(|number| outside.crossed(&first, &second, number)).collect();
        let of_both = |drive: &&Drive| {
            drive.steps.iter().any(|step| first.steps.contains(step))
                && drive.steps.iter().any(|step| second.steps.contains(step))
        };
        assert!(crossed.iter().filter(of_both).count() > 10);
    }
}
