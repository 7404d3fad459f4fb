//! What can be left out if what follows comes a little sooner or later, or if the lever goes elsewhere: a failure that hangs
//! on when things meet goes with any one change alone. It takes many drives, so it is for what has stayed long.

use super::Shrinker;
use super::leave_out::move_events;
use crate::drive::{Drive, Happening, When};
use crate::signal::Lever;

/// How much sooner or later what follows may come, ms.
const SLACK_MS: [i32; 13] = [0, -100, 100, -200, 200, -300, 300, -500, 500, -700, 700, -1000, 1000];
/// Where the lever may go instead.
const LEVERS: [Lever; 4] = [Lever::D, Lever::N, Lever::P, Lever::Gate];

impl Shrinker<'_> {
    /// Leaves out steps and events so until none can be.
    pub(super) fn leave_out_with_slack(&mut self) {
        while self.left > 0 && (self.step_with_slack() || self.events_with_slack()) {}
    }

    /// One step goes; the one before or after it gets none, half or all of its time, and later events move along.
    fn step_with_slack(&mut self) -> bool {
        let steps = self.best.steps.len();
        for step in (0..steps).rev().filter(|_| steps > 1) {
            let begins_ms = self.begins_ms(step);
            let mut without = self.best.clone();
            let gone_ms = without.steps.remove(step).ms;
            let neighbours = [step.checked_sub(1), Some(step)];
            for (kept_ms, neighbour) in [0, gone_ms / 2, gone_ms].into_iter().flat_map(|ms| neighbours.map(|n| (ms, n)))
            {
                let mut less = without.clone();
                let Some(longer) = neighbour.and_then(|at| less.steps.get_mut(at)) else { continue };
                longer.ms = longer.ms.saturating_add(kept_ms);
                move_events(&mut less, begins_ms.saturating_add(gone_ms), gone_ms - kept_ms);
                if self.with_slack(&less, begins_ms) {
                    return true;
                }
            }
        }
        false
    }

    /// One event goes, or two; the later ones come sooner or later, or the lever goes elsewhere at one of them.
    fn events_with_slack(&mut self) -> bool {
        let events = self.best.events.len();
        let one = (0..events).map(|at| (at, at));
        let two = (0..events).flat_map(|a| (0..a).map(move |b| (a, b)));
        for (a, b) in one.chain(two) {
            let mut less = self.best.clone();
            let mut from_ms = u32::MAX;
            for at in if a == b { vec![a] } else { vec![a, b] } {
                if let When::At(ms) = less.events.remove(at).when {
                    from_ms = from_ms.min(ms);
                }
            }
            if self.with_slack(&less, from_ms) || self.with_lever_elsewhere(&less) {
                return true;
            }
        }
        false
    }

    /// Tries a drive with the events from a time on a little sooner or later.
    fn with_slack(&mut self, drive: &Drive, from_ms: u32) -> bool {
        SLACK_MS.into_iter().any(|by_ms| {
            let mut moved = drive.clone();
            for event in &mut moved.events {
                if let When::At(ms) = &mut event.when
                    && *ms >= from_ms
                {
                    *ms = ms.saturating_add_signed(by_ms);
                }
            }
            self.attempt(moved)
        })
    }

    fn with_lever_elsewhere(&mut self, drive: &Drive) -> bool {
        let places = (0..drive.events.len()).flat_map(|at| LEVERS.map(|lever| (at, lever)));
        places.into_iter().any(|(at, lever)| {
            let mut other = drive.clone();
            match other.events.get_mut(at).map(|event| &mut event.what) {
                Some(Happening::Lever(was)) => *was = lever,
                _ => return false,
            }
            self.attempt(other)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::forms::plain;
    use super::super::{Try, shrink};
    use super::*;
    use crate::drive::{Demand, Event, Start, Step};

    fn lever(ms: u32, lever: Lever) -> Event {
        Event { when: When::At(ms), what: Happening::Lever(lever) }
    }

    /// Shrinks a drive of eight lines that fails as it is and where `also` says so, and not between.
    fn shrunk(events: &[Event], also: fn(&Drive) -> bool) -> Drive {
        let steps: Vec<Step> = (0..8 - events.len()).map(|at| plain(2000, Demand::Pedal(811 + at as u16))).collect();
        let found = Drive { start: Start::default(), steps, events: events.to_vec() };
        let fails = |d: &Drive| {
            let failed_ms = d.length_ms();
            (*d == found || also(d)).then(|| Try {
                failed_ms,
                fired: d.events.iter().map(|_| Some(0)).collect(),
                ..Try::default()
            })
        };
        let first = fails(&found).expect("it fails");
        shrink(&found, first, 20_000, &|_| 1, &mut { fails }).drive
    }

    /// Without its last step it fails only if the event comes 300 ms later.
    #[test]
    fn a_step_goes_where_what_follows_comes_later() {
        let drive =
            shrunk(&[lever(11_310, Lever::Gate)], |d| d.steps.len() == 6 && d.events == [lever(11_610, Lever::Gate)]);
        assert_eq!(drive.steps.len(), 6);
    }

    /// Without the first two of three it fails only with the lever in P.
    #[test]
    fn two_events_go_where_the_lever_goes_elsewhere() {
        let events = [lever(1310, Lever::Gate), lever(2310, Lever::D), lever(3310, Lever::R)];
        let drive = shrunk(&events, |d| d.steps.len() == 5 && d.events == [lever(3310, Lever::P)]);
        assert_eq!(drive.events, [lever(3310, Lever::P)]);
    }
}
