//! What an island keeps: for each rule the drive with its smallest margin, and the drives that were the first to come to
//! something.

use super::lesson::{Lesson, Moment};
use crate::make::Dice;
use std::collections::{BTreeMap, BTreeSet};

/// The smallest margin of a rule so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Record {
    /// Signed distance to breaking it.
    pub margin: f64,
    /// When, ms.
    pub at_ms: u32,
    /// Place of its drive among the kept.
    pub kept: usize,
}

/// The archive.
#[derive(Debug, Default)]
pub struct Archive {
    kept: Vec<Lesson>,
    records: BTreeMap<u8, Record>,
    cells: BTreeSet<u32>,
}

impl Archive {
    /// An archive of these alone, whatever they taught.
    pub fn of(lessons: Vec<Lesson>) -> Self {
        let mut archive = Self::default();
        for (place, lesson) in lessons.iter().enumerate() {
            archive.take_records(lesson, place);
        }
        archive.kept = lessons;
        archive
    }

    /// Takes a drive in where it lowers a rule's smallest margin or comes to something new; whether it did.
    pub fn enter(&mut self, lesson: Lesson) -> bool {
        let place = self.kept.len();
        let mut pays = self.take_records(&lesson, place);
        for &cell in &lesson.cells {
            pays |= self.cells.insert(cell);
        }
        if pays {
            self.kept.push(lesson);
        }
        pays
    }

    /// Takes what a drive lowered, and says whether it lowered anything.
    fn take_records(&mut self, lesson: &Lesson, place: usize) -> bool {
        let mut lowers = false;
        for &(rule, margin, at_ms) in &lesson.margins {
            if self.records.get(&rule).is_none_or(|record| margin < record.margin) {
                self.records.insert(rule, Record { margin, at_ms, kept: place });
                lowers = true;
            }
        }
        lowers
    }

    /// Any of those kept.
    pub fn any(&self, dice: &mut Dice) -> Option<&Lesson> {
        self.kept.get(dice.below(u32::try_from(self.kept.len()).ok()?) as usize)
    }

    /// One of those kept in which such a moment comes: of three drawn, the one with the most hand-overs.
    pub fn with(&self, moment: Moment, dice: &mut Dice) -> Option<&Lesson> {
        let such: Vec<&Lesson> = self.kept.iter().filter(|lesson| lesson.times(moment).next().is_some()).collect();
        let count = u32::try_from(such.len()).ok()?;
        let drawn = [0; 3].map(|_| such.get(dice.below(count) as usize).copied());
        drawn.into_iter().flatten().max_by_key(|lesson| lesson.times(Moment::Gate).count())
    }

    /// The record of any rule that is not yet broken, and its drive.
    pub fn record(&self, dice: &mut Dice) -> Option<(Record, &Lesson)> {
        let open: Vec<&Record> = self.records.values().filter(|record| record.margin >= 0.0).collect();
        let record = open.get(dice.below(u32::try_from(open.len()).ok()?) as usize)?;
        Some((**record, self.kept.get(record.kept)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::{Drive, Start};

    fn lesson(margins: &[(u8, f64, u32)], cells: &[u32]) -> Lesson {
        let drive = Drive { start: Start::default(), steps: Vec::new(), events: Vec::new() };
        Lesson::made(drive, margins, &[], cells)
    }

    #[test]
    fn only_a_smaller_margin_takes_a_record() {
        let mut archive = Archive::default();
        assert!(archive.enter(lesson(&[(3, 2.0, 100)], &[])));
        assert!(!archive.enter(lesson(&[(3, 2.0, 200)], &[])), "the same is not smaller");
        assert!(!archive.enter(lesson(&[(3, 2.5, 300)], &[])));
        assert_eq!(archive.records[&3], Record { margin: 2.0, at_ms: 100, kept: 0 });
        assert!(archive.enter(lesson(&[(3, 1.5, 400), (4, 9.0, 500)], &[])));
        assert_eq!(archive.records[&3], Record { margin: 1.5, at_ms: 400, kept: 1 });
        assert_eq!((archive.kept.len(), archive.records.len()), (2, 2));
    }

    #[test]
    fn what_comes_to_something_new_is_kept() {
        let mut archive = Archive::default();
        assert!(archive.enter(lesson(&[], &[7, 8])));
        assert!(!archive.enter(lesson(&[], &[8, 7])));
        assert!(archive.enter(lesson(&[], &[8, 9])));
        assert_eq!(archive.kept.len(), 2);
    }

    #[test]
    fn a_broken_rule_is_not_lowered_further() {
        let mut archive = Archive::default();
        let mut dice = Dice::new("a", 1, 1);
        assert_eq!(archive.record(&mut dice), None);
        archive.enter(lesson(&[(1, -0.5, 100)], &[]));
        assert_eq!(archive.record(&mut dice), None);
        archive.enter(lesson(&[(2, 0.0, 100)], &[]));
        assert_eq!(archive.record(&mut dice).map(|(record, _)| record.kept), Some(1));
    }
}
