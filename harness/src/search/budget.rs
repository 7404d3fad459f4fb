//! Which ways of making a drive get how many of an island's drives: those that pay get more.

/// A way to make a search drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Aims at a line of the map and a pedal.
    Aim,
    /// Something more happens at a tick at which something goes on.
    Insert,
    /// Numbers near a rule's smallest margin change.
    Nudge,
    /// The beginning of one drive and the end of another.
    Splice,
    /// Something less happens.
    LeaveOut,
}

/// All ways.
pub const WAYS: [Way; 5] = [Way::Aim, Way::Insert, Way::Nudge, Way::Splice, Way::LeaveOut];

/// Drives that each way is taken to have had before the first, and how many of them paid (invented, never tuned): what an
/// island learns with its first dozen drives is little.
const BEFORE: [(u32, u32); WAYS.len()] = [(8, 7), (8, 8), (8, 4), (8, 1), (8, 1)];

/// Drives tried and drives that paid, of each way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Budget([(u32, u32); WAYS.len()]);

impl Default for Budget {
    fn default() -> Self {
        Self(BEFORE)
    }
}

impl Budget {
    /// The weight of each way: drives that paid in a hundred, and never none.
    #[must_use]
    pub fn weights(&self) -> [u32; WAYS.len()] {
        self.0.map(|(tried, paid)| (u64::from(paid) * 100 / u64::from(tried.max(1))).max(1) as u32)
    }

    /// One more drive of a way, and whether it paid.
    pub fn tried(&mut self, way: Way, paid: bool) {
        if let Some(slot) = WAYS.iter().position(|one| *one == way).and_then(|at| self.0.get_mut(at)) {
            slot.0 = slot.0.saturating_add(1);
            slot.1 = slot.1.saturating_add(u32::from(paid));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of 8 with 4 paid, 2 more that paid are 6 of 10; of 8 with 1, 4 more in vain are 1 of 12.
    #[test]
    fn the_budget_follows_what_pays() {
        let mut budget = Budget([(8, 4), (8, 1), (0, 0), (1, 0), (3, 2)]);
        assert_eq!(budget.weights(), [50, 12, 1, 1, 66]);
        (0..2).for_each(|_| budget.tried(Way::Aim, true));
        (0..4).for_each(|_| budget.tried(Way::Insert, false));
        assert_eq!(budget.weights(), [60, 8, 1, 1, 66]);
    }
}
