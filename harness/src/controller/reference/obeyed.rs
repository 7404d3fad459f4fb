//! Whether the gearbox has done what it was told, as far as the gear read tells.

use super::{Fault, Reference, whole_gear};
use crate::signal::Direction;
use crate::spec::vehicle::GateMeans;

/// A gear that changes later than this after a command is no answer to it, ms (invented).
const ANSWER_MS: i64 = 2500;

/// A wish that the gearbox has refused is brought up again after this long, ms (invented).
const NEW_WISH_MS: i64 = 10_000;

impl Reference {
    /// Follows the gear read: shifts that go the other way than commanded, and those that show that it obeys.
    pub(super) fn watch_gear(&mut self, now_ms: i64) {
        let read = self.state.senses.gear.map_or(0, |gear| whole_gear(gear.value));
        let s = &mut self.state;
        let was = std::mem::replace(&mut s.gear_was, read);
        if read == was || read == 0 || was == 0 {
            return;
        }
        s.tries = 0;
        if s.answered || now_ms - s.last_ms > ANSWER_MS {
            return;
        }
        s.answered = true;
        if self.hello.gate == GateMeans::RangeLimit {
            // Below the limit the gearbox shifts either way as it likes.
            return;
        }
        let up = if read > was { Direction::Up } else { Direction::Down };
        s.wrong = if s.last == Some(up) { 0 } else { s.wrong.saturating_add(1) };
    }

    /// Notes that a command is given, once more or anew.
    pub(super) fn count_tries(&mut self, direction: Direction) {
        let s = &mut self.state;
        let again = s.tries > 0 && s.last == Some(direction) && s.asked_from == s.counted;
        (s.tries, s.asked_from, s.answered) = (if again { s.tries.saturating_add(1) } else { 1 }, s.counted, false);
    }

    /// The gearbox has refused this command as often as it may be asked, not long ago.
    pub(super) fn given_up(&self, direction: Direction, now_ms: i64) -> bool {
        let s = &self.state;
        s.tries > self.hello.refused_retries
            && s.last == Some(direction)
            && s.asked_from == s.counted
            && !self.passed(now_ms, s.last_ms, NEW_WISH_MS)
            && !self.has(Fault::RepeatsRefused)
    }
}
