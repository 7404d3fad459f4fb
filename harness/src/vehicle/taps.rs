//! How the gearbox reads the lever's contacts: what counts as a tap.

use crate::signal::{Contacts, Direction};
use crate::spec::vehicle::{Gate, HeldTap};

/// One contact as the gearbox follows it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Side {
    /// Closed for this long, ms.
    closed_ms: f64,
    /// The closure has counted, or doesn't count.
    done: bool,
    /// Counts again when closed for this long, where held taps repeat.
    again_ms: f64,
    closed: bool,
}

/// Both contacts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taps {
    up: Side,
    down: Side,
    least_ms: f64,
    repeat_ms: Option<f64>,
}

impl Taps {
    /// Contacts open.
    #[must_use]
    pub fn new(gate: &Gate) -> Self {
        let repeat_ms = match gate.held_tap {
            HeldTap::OneStep => None,
            HeldTap::Repeats(ms) => Some(f64::from(ms).max(1.0)),
        };
        Self { up: Side::default(), down: Side::default(), least_ms: gate.least_tap.get(), repeat_ms }
    }

    /// Forgets what was closed.
    pub fn restart(&mut self) {
        (self.up, self.down) = (Side::default(), Side::default());
    }

    /// What is closed now counts for nothing until it has been open.
    pub fn pass_over(&mut self) {
        for side in [&mut self.up, &mut self.down] {
            (side.done, side.again_ms) = (true, f64::INFINITY);
        }
    }

    /// Takes in the contacts of the step that begins now; the tap that counts at this instant, if any.
    #[inline]
    pub fn step(&mut self, now: Contacts, step_ms: f64) -> Option<Direction> {
        if !(now.up || now.down || self.up.closed || self.down.closed) {
            return None;
        }
        // Judged on the time closed so far, so a closure of exactly the least time still counts as it opens.
        let up = self.up.counts(self.least_ms, self.repeat_ms);
        let down = self.down.counts(self.least_ms, self.repeat_ms);
        self.up.follow(now.up, step_ms);
        self.down.follow(now.down, step_ms);
        if now.up && now.down {
            (self.up.done, self.down.done) = (true, true);
            (self.up.again_ms, self.down.again_ms) = (f64::INFINITY, f64::INFINITY);
        }
        match (up, down) {
            (true, false) => Some(Direction::Up),
            (false, true) => Some(Direction::Down),
            _ => None,
        }
    }
}

impl Side {
    fn counts(&mut self, least_ms: f64, repeat_ms: Option<f64>) -> bool {
        if !self.closed {
            return false;
        }
        if !self.done {
            self.done = self.closed_ms >= least_ms;
            self.again_ms = self.closed_ms + repeat_ms.unwrap_or(f64::INFINITY);
            return self.done;
        }
        let again = self.closed_ms >= self.again_ms;
        if again {
            self.again_ms += repeat_ms.unwrap_or(f64::INFINITY);
        }
        again
    }

    fn follow(&mut self, closed: bool, step_ms: f64) {
        if !closed {
            *self = Self::default();
        } else if self.closed {
            self.closed_ms += step_ms;
        } else {
            *self = Self { closed_ms: step_ms, closed: true, ..Self::default() };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Ms;

    fn taps(held_tap: HeldTap) -> Taps {
        Taps::new(&Gate { held_tap, least_tap: Ms::new(40.0), ..super::super::test_van::van().vehicle.gearbox.gate })
    }

    /// The times (ms) at which a tap counts, with contacts closed as `closed` says, over one second of 5 ms steps.
    fn counted(mut taps: Taps, closed: impl Fn(f64) -> Contacts) -> Vec<(f64, Direction)> {
        (0..200).map(|i| f64::from(i) * 5.0).filter_map(|t| taps.step(closed(t), 5.0).map(|d| (t, d))).collect()
    }

    fn up(closed: bool) -> Contacts {
        Contacts { up: closed, down: false }
    }

    #[test]
    fn a_closure_counts_once_when_the_least_time_has_passed() {
        let from_100_for = |ms: f64| move |t: f64| up((100.0..100.0 + ms).contains(&t));
        assert_eq!(counted(taps(HeldTap::OneStep), from_100_for(35.0)), []);
        assert_eq!(counted(taps(HeldTap::OneStep), from_100_for(40.0)), [(140.0, Direction::Up)]);
        assert_eq!(counted(taps(HeldTap::OneStep), from_100_for(600.0)), [(140.0, Direction::Up)]);
    }

    #[test]
    fn a_held_tap_repeats_where_the_gate_does_so() {
        let times: Vec<f64> =
            counted(taps(HeldTap::Repeats(300)), |t| up(t < 700.0)).into_iter().map(|(t, _)| t).collect();
        assert_eq!(times, [40.0, 340.0, 640.0]);
    }

    #[test]
    fn both_at_once_count_for_nothing_until_released() {
        let both = |t: f64| Contacts { up: t < 500.0, down: (20.0..200.0).contains(&t) };
        assert_eq!(counted(taps(HeldTap::OneStep), both), []);
        assert_eq!(counted(taps(HeldTap::Repeats(100)), both), []);
    }

    /// 30 ms of the least 40, then the closure is forgotten as a drive begins, or passed over as one that began outside the
    /// gate. Forgotten it counts from anew; passed over it counts for nothing until it has been open.
    #[test]
    fn what_was_closed_is_forgotten_or_passed_over() {
        let half_closed = || {
            let mut taps = taps(HeldTap::OneStep);
            assert_eq!((0..6).find_map(|_| taps.step(up(true), 5.0)), None);
            taps
        };
        let times = |taps: Taps, closed: fn(f64) -> Contacts| -> Vec<f64> {
            counted(taps, closed).into_iter().map(|(t, _)| t).collect()
        };
        assert_eq!(times(half_closed(), |_| up(true)), [10.0]);
        let mut forgotten = half_closed();
        forgotten.restart();
        assert_eq!(times(forgotten, |_| up(true)), [40.0]);
        let mut passed_over = half_closed();
        passed_over.pass_over();
        assert!(times(passed_over, |_| up(true)).is_empty());
        assert_eq!(times(passed_over, |t| up(t != 500.0)), [545.0]);
    }
}
