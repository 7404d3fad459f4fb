//! What a rule writes its margins into.

use super::instants::{Instants, Marks};
use crate::outcome::{Mark, Measure, RuleCard};

/// Collects the smallest margins and the counts of one rule on one drive.
#[derive(Debug)]
pub struct Tally {
    /// What has been measured so far.
    pub measure: Measure,
    /// Only these marks count, where some do not.
    pub(super) some: Option<(Instants, Marks)>,
    near: f64,
}

impl Tally {
    /// An empty tally for a rule.
    #[must_use]
    pub fn new(card: &RuleCard) -> Self {
        Self { measure: Measure::default(), some: None, near: card.near }
    }

    /// A situation of the rule's list was reached.
    pub fn reached(&mut self, situation: usize) {
        if let Some(count) = self.measure.reached.get_mut(situation) {
            *count += 1;
        }
    }

    /// A margin on what was seen or put out.
    pub fn seen(&mut self, margin: f64, at_ms: u32) {
        if !self.counts(at_ms) {
            return;
        }
        self.near(margin);
        let mark = Mark { margin, tolerance: 0.0, at_ms, unknowable: false };
        keep_smaller(&mut self.measure.seen, mark);
    }

    /// A margin on what was true, with the tolerance that follows from the link.
    pub fn truth(&mut self, margin: f64, tolerance: f64, at_ms: u32) {
        self.truth_if_known(margin, tolerance, at_ms, true);
    }

    /// The same; `known` says whether the box could have known what the margin hangs on.
    pub fn truth_if_known(&mut self, margin: f64, tolerance: f64, at_ms: u32, known: bool) {
        if !self.counts(at_ms) {
            return;
        }
        self.near(margin);
        let mark = Mark { margin, tolerance, at_ms, unknowable: !known };
        keep_smaller(&mut self.measure.truth, mark);
    }

    /// An obligation that a higher rule forbade.
    pub fn excused(&mut self) {
        self.measure.excused += 1;
    }

    fn counts(&self, at_ms: u32) -> bool {
        self.some.as_ref().is_none_or(|(instants, marks)| marks.count(instants.at(at_ms)))
    }

    fn near(&mut self, margin: f64) {
        if margin.abs() <= 2.0 * self.near {
            self.measure.close += 1;
        }
    }
}

/// The one that is nearer to broken, or further beyond: by margin and tolerance together; the earlier wins a tie.
pub fn keep_smaller(slot: &mut Option<Mark>, mark: Mark) {
    let depth = |m: &Mark| m.margin + m.tolerance;
    let worse = |old: &Mark| match (old.unknowable && old.margin < 0.0, mark.unknowable && mark.margin < 0.0) {
        // A failure that the box could have known of outranks a deeper one that it couldn't.
        (true, false) => mark.margin < 0.0 || depth(&mark) < depth(old),
        (false, true) => old.margin >= 0.0,
        _ => depth(&mark) < depth(old),
    };
    if slot.as_ref().is_none_or(worse) {
        *slot = Some(mark);
    }
}

/// Margins of yes/no rules are seconds, capped at this.
pub const CAP_S: f64 = 5.0;

/// Milliseconds as seconds.
#[must_use]
pub fn s(ms: f64) -> f64 {
    ms / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(margin: f64, unknowable: bool, at_ms: u32) -> Mark {
        Mark { margin, tolerance: 0.0, at_ms, unknowable }
    }

    /// The mark that stands of two, by when it was: the first or the second.
    fn stands(first: (f64, bool), second: (f64, bool)) -> u32 {
        let mut slot = None;
        keep_smaller(&mut slot, mark(first.0, first.1, 1));
        keep_smaller(&mut slot, mark(second.0, second.1, 2));
        slot.map_or(0, |m| m.at_ms)
    }

    #[test]
    fn the_deeper_mark_stands_but_one_that_could_be_known_outranks_one_that_could_not() {
        assert_eq!(stands((1.0, false), (0.5, false)), 2);
        assert_eq!(stands((0.5, false), (0.5, false)), 1);
        assert_eq!(stands((-2.0, true), (-1.0, false)), 2);
        assert_eq!(stands((-1.0, false), (-2.0, true)), 1);
        assert_eq!(stands((-2.0, true), (-3.0, true)), 2);
        // What is kept outranks nothing, not even a failure that couldn't be known; nor does 0, which is kept.
        assert_eq!(stands((-2.0, true), (1.0, false)), 1);
        assert_eq!(stands((-2.0, true), (0.0, false)), 1);
        assert_eq!(stands((1.0, false), (-2.0, true)), 2);
        assert_eq!(stands((0.0, false), (-2.0, true)), 2);
        // Kept marks go by depth, known or not.
        assert_eq!(stands((1.0, true), (2.0, false)), 1);
        assert_eq!(stands((0.0, true), (0.5, false)), 1);
        assert_eq!(stands((2.0, false), (1.0, true)), 2);
    }

    /// Deeper is what lies further beyond the tolerance.
    #[test]
    fn depth_counts_the_tolerance() {
        let mut slot = Some(Mark { tolerance: 3.0, ..mark(-2.0, false, 1) });
        keep_smaller(&mut slot, mark(0.5, false, 2));
        assert_eq!(slot.map(|m| m.at_ms), Some(2));
    }
}
