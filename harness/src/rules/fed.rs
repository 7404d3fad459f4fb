//! What a box gives when a recorded drive is put before it again, without a vehicle: for rules that compare.

use crate::recording::Recording;
use crate::signal::{Action, Announcement, Direction, Output};

/// A box's outputs on a recording's inputs, as they were or changed in one thing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fed {
    /// Time and output of each tick in which it ran.
    pub given: Vec<(u32, Output)>,
    /// When it gave no more answer, ms.
    pub silent_ms: Option<u32>,
}

impl Fed {
    /// Closings of its contacts or wishes for a shift: when, which way.
    #[must_use]
    pub fn commands(&self) -> Vec<(u32, Direction)> {
        let mut found = Vec::new();
        let mut was = [false; 2];
        for &(at_ms, output) in &self.given {
            let is = match output.action {
                Action::Contacts(contacts) => [contacts.up, contacts.down],
                Action::Request(wish) => [wish == Some(Direction::Up), wish == Some(Direction::Down)],
            };
            for (at, direction) in [Direction::Up, Direction::Down].into_iter().enumerate() {
                if is[at] && !was[at] {
                    found.push((at_ms, direction));
                }
            }
            was = is;
        }
        found
    }

    /// Announcements and changes of the engaged flag.
    #[must_use]
    pub fn transitions(&self) -> Vec<(u32, Option<Announcement>, bool)> {
        let mut found = Vec::new();
        let mut was = false;
        for &(at_ms, output) in &self.given {
            let is = output.engaged == Some(true);
            if output.announcement.is_some() || is != was {
                found.push((at_ms, output.announcement, is));
            }
            was = is;
        }
        found
    }

    /// Whether it said the same as in the drive itself: if not, it is determinism that is broken, and comparing tells
    /// nothing more.
    #[must_use]
    pub fn repeats(&self, recording: &Recording) -> bool {
        let rows = recording.rows.iter().filter(|r| r.powered);
        self.silent_ms.is_none()
            && rows.clone().count() == self.given.len()
            && rows.zip(&self.given).all(|(row, (_, output))| {
                row.announcement == output.announcement
                    && row.engaged == output.engaged
                    && row.counted_gear == output.counted_gear
            })
    }

    /// How many commands and announcements of another one differ, a silence counted too, and when the first does, ms;
    /// shifted by up to so many ms they are the same.
    #[must_use]
    pub fn differences(&self, other: &Self, most_ms: u32) -> (usize, Option<u32>) {
        let near = |a: u32, b: u32| a.abs_diff(b) <= most_ms;
        let command = differing(&self.commands(), &other.commands(), |a, b| a.1 == b.1 && near(a.0, b.0));
        let said =
            differing(&self.transitions(), &other.transitions(), |a, b| (a.1, a.2) == (b.1, b.2) && near(a.0, b.0));
        let count = command.0 + said.0 + usize::from(other.silent_ms.is_some());
        let first = [command.1.map(|c| c.0), said.1.map(|t| t.0), other.silent_ms].into_iter().flatten().min();
        (count, first)
    }
}

/// How many of two lists don't match, and the first that doesn't.
fn differing<T: Copy>(these: &[T], those: &[T], same: impl Fn(&T, &T) -> bool) -> (usize, Option<T>) {
    let matching = these.iter().zip(those).take_while(|(a, b)| same(a, b)).count();
    let left = these.len().max(those.len()) - matching;
    (left, these.get(matching).or(those.get(matching)).copied())
}
