//! The prelude: what is driven before the moment that matters. It goes, and the drive begins as the vehicle stood then; or
//! what has to have happened comes a second apart while the speed is held.

use super::forms::plain;
use super::{Shrinker, State};
use crate::drive::{Demand, Drive, Happening, When};

/// Most places at which a prelude may end.
const MOST_CUTS: usize = 8;
/// The last so many events are places at which a prelude may end.
const FEW_EVENTS: usize = 2;
/// The last so many steps are what may follow a speed that is held.
const FEW_STEPS: usize = 4;
/// For how long it may be, ms.
const HOLDS_MS: [u32; 2] = [10_000, 20_000];
/// A slow start, 0.1 km/h: boxes engage there.
const SLOW: u16 = 300;
/// A drive that begins anew does so this long before an event, ms.
const BEFORE_EVENT_MS: [u32; 3] = [1000, 2000, 4000];

impl Shrinker<'_> {
    /// Begins just before an event, as the vehicle, its lever and its range stood then: what came before has gone.
    pub(super) fn begin_before_an_event(&mut self) {
        for state in self.before_events(MOST_CUTS) {
            if self.begin_at(state) {
                return;
            }
        }
    }

    /// How the vehicle stood a while before each of the last few events, the latest first.
    fn before_events(&self, few: usize) -> Vec<State> {
        let mut events: Vec<u32> = self.last.fired.iter().flatten().copied().collect();
        events.sort_unstable();
        events.dedup();
        let before = |event_ms: u32| BEFORE_EVENT_MS.map(|ms| self.state_at(event_ms.saturating_sub(ms)));
        events.into_iter().rev().take(few).flat_map(before).flatten().collect()
    }

    /// How the vehicle stood last until a time, ms; none at the start.
    fn state_at(&self, ms: u32) -> Option<State> {
        self.last.states.iter().rev().find(|state| state.at_ms <= ms).filter(|state| state.at_ms > 0).copied()
    }

    fn begin_at(&mut self, state: State) -> bool {
        [round_speed(state.speed), state.speed].into_iter().any(|speed| {
            let mut drive = self.begun(speed, state.gear, state.at_ms);
            let mut before: Vec<(u32, Happening)> = Vec::new();
            let mut fired = self.last.fired.iter();
            drive.events.retain_mut(|event| {
                let at_ms = fired.next().copied().flatten();
                if let Some(ms) = at_ms.filter(|&ms| ms < state.at_ms) {
                    before.push((ms, event.what));
                    return false;
                }
                if let When::At(ms) = &mut event.when {
                    *ms = ms.saturating_sub(state.at_ms);
                }
                true
            });
            before.sort_by_key(|(ms, _)| *ms);
            for (_, what) in before {
                match what {
                    Happening::Lever(lever) => drive.start.lever = lever,
                    Happening::Range(range) => drive.start.range = range,
                    _ => {}
                }
            }
            self.attempt(drive)
        })
    }

    /// Begins later, as the vehicle stood then.
    pub(super) fn skip_prelude(&mut self) {
        for state in self.cuts().into_iter().filter(|state| state.at_ms > 0) {
            for speed in [round_speed(state.speed), state.speed] {
                let mut drive = self.begun(speed, state.gear, state.at_ms);
                // What came before keeps its order, a second apart at most.
                for event in &mut drive.events {
                    if let When::At(ms) = &mut event.when {
                        *ms = if *ms > state.at_ms + 1000 { *ms - state.at_ms } else { (*ms).min(1000) };
                    }
                }
                if self.attempt(drive) {
                    return;
                }
            }
        }
    }

    /// The same, and what came before happens a second apart while the speed is held: for what has to have happened.
    pub(super) fn hold_prelude(&mut self) {
        for state in self.cuts() {
            let before = self.events_before(state.at_ms);
            let held_ms = 1000 * (before + 1);
            if before == 0 || held_ms >= state.at_ms {
                continue;
            }
            for speed in [round_speed(state.speed), state.speed / 10 * 10] {
                if self.held(speed, state.gear, speed, held_ms, state.at_ms) {
                    return;
                }
            }
        }
    }

    /// From a slow start to the speed at which one of the last steps begins, and that is held: for what can't happen at
    /// that speed any more.
    pub(super) fn hold_from_the_start(&mut self) {
        let gear = self.gear(SLOW);
        for step in (0..self.best.steps.len()).rev().take(FEW_STEPS) {
            let begins_ms = self.begins_ms(step);
            let Some(state) = self.state_at(begins_ms) else { continue };
            for speed in [round_speed(state.speed), state.speed / 10 * 10] {
                if HOLDS_MS.into_iter().any(|held_ms| self.held(SLOW, gear, speed, held_ms, begins_ms)) {
                    return;
                }
            }
        }
    }

    fn events_before(&self, ms: u32) -> u32 {
        let before = self.best.events.iter().filter(|event| comes_before(event.when, ms)).count();
        u32::try_from(before).unwrap_or(u32::MAX)
    }

    /// Tries the drive from a time on after a step in which a speed is held, all in 0.1 km/h and ms.
    fn held(&mut self, start_speed: u16, gear: u8, speed: u16, held_ms: u32, gone_ms: u32) -> bool {
        let mut drive = self.begun(start_speed, gear, gone_ms);
        drive.steps.insert(0, plain(held_ms, Demand::Hold(speed)));
        let mut times_ms = (1000..).step_by(1000);
        drive.events.sort_by_key(|event| if let When::At(ms) = event.when { ms } else { u32::MAX });
        for event in &mut drive.events {
            let early = if comes_before(event.when, gone_ms) { times_ms.next() } else { None };
            if let When::At(ms) = &mut event.when {
                *ms = early.unwrap_or_else(|| (*ms + held_ms).saturating_sub(gone_ms));
            }
        }
        self.attempt(drive)
    }

    /// The drive without what is driven until a time, ms, from a speed, 0.1 km/h, and gear; its events stay as they are.
    fn begun(&self, speed: u16, gear: u8, mut gone_ms: u32) -> Drive {
        let mut drive = self.best.clone();
        (drive.start.speed, drive.start.gear) = (speed, gear);
        drive.steps.retain_mut(|step| {
            let less_ms = step.ms.min(gone_ms);
            gone_ms -= less_ms;
            step.ms -= less_ms;
            step.ms > 0
        });
        drive
    }

    /// A few of the places at which a prelude may end: all over the drive, then before its last events.
    fn cuts(&self) -> Vec<State> {
        let states = &self.last.states;
        let stride = states.len().div_ceil(MOST_CUTS).max(1);
        let mut cuts: Vec<State> = states.iter().rev().step_by(stride).copied().collect();
        cuts.extend(self.before_events(FEW_EVENTS));
        cuts
    }
}

fn comes_before(when: When, end_ms: u32) -> bool {
    matches!(when, When::At(ms) if ms <= end_ms)
}

/// The nearest whole ten km/h, in 0.1 km/h.
fn round_speed(speed: u16) -> u16 {
    (speed + 50) / 100 * 100
}

#[cfg(test)]
mod tests {
    use super::super::{Try, shrink};
    use super::*;
    use crate::drive::{Event, Start};
    use crate::signal::Lever;

    /// As found it fails, and where it begins in gear 3 with the lever in D and comes to the gate; nothing between does, as
    /// where an earlier lever movement leaves the gearbox in another gear.
    #[test]
    fn a_drive_begins_anew_before_its_last_event_with_the_lever_where_it_stood() {
        let lever = |ms, lever| Event { when: When::At(ms), what: Happening::Lever(lever) };
        let found = Drive {
            start: Start::default(),
            steps: vec![plain(9000, Demand::Pedal(800)), plain(8000, Demand::Pedal(300))],
            events: vec![lever(0, Lever::Gate), lever(9000, Lever::D), lever(14_000, Lever::Gate)],
        };
        let state = |at_ms| State { at_ms, speed: 402, gear: if at_ms < 9000 { 2 } else { 3 } };
        let mut oracle = |drive: &Drive| {
            let times: Vec<u32> =
                drive.events.iter().filter_map(|e| if let When::At(ms) = e.when { Some(ms) } else { None }).collect();
            let comes = drive.events.last().is_some_and(|e| e.what == Happening::Lever(Lever::Gate));
            let as_found = times.len() == 3 && times[2] == 14_000 && drive.steps.len() == 2;
            let anew = drive.start.gear == 3 && drive.start.lever == Lever::D && times.len() == 1 && times[0] >= 1000;
            (comes && (as_found || anew)).then(|| Try {
                failed_ms: times[times.len() - 1] + 100,
                fired: times.iter().map(|&ms| Some(ms)).collect(),
                states: (0..15).map(|s| state(1000 * s)).collect(),
                ..Try::default()
            })
        };
        let first = oracle(&found).expect("it fails");
        let shrunk = shrink(&found, first, 2000, &|_| 1, &mut oracle);
        assert_eq!((shrunk.drive.start.speed, shrunk.drive.start.gear, shrunk.drive.start.lever), (400, 3, Lever::D));
        assert_eq!(shrunk.drive.events, [lever(1000, Lever::Gate)]);
        assert_eq!(shrunk.drive.steps.len(), 1);
    }
}
