//! The short forms: the few plainest drives with the events that a failure needs, tried before anything is whittled
//! down. They come in one fixed order, whatever the failure was found in, and the first that fails is taken: so that one
//! fault ends in one drive.

use super::Shrinker;
use crate::drive::{Condition, Demand, Drive, Event, Happening, Step, When};
use crate::signal::Direction;

/// Speeds to start from, 0.1 km/h: those that make most drives short come first.
const SPEEDS: [u16; 8] = [300, 400, 200, 100, 0, 500, 600, 800];
/// Pedals, 0.1 %.
const PEDALS: [u16; 4] = [1000, 500, 200, 0];
/// Longest short form, ms.
const LONGEST_MS: u32 = 40_000;
/// When the second step begins, ms.
const BENDS_MS: [u32; 3] = [5000, 10_000, 20_000];
/// What is driven before: for two steps.
const BEFORE: [Demand; 5] =
    [Demand::Pedal(1000), Demand::Pedal(500), Demand::Pedal(0), Demand::Hold(300), Demand::Hold(600)];
/// What then.
const THEN: [Demand; 6] = [
    Demand::Pedal(1000),
    Demand::Pedal(500),
    Demand::Pedal(200),
    Demand::Pedal(0),
    Demand::Hold(500),
    Demand::Hold(300),
];
/// How long the middle one of three steps lasts, ms.
const MIDDLES_MS: [u32; 2] = [5000, 10_000];
/// A gentle brake, 0.1 % of 1 g.
const GENTLE: u16 = 100;
/// A firm one.
const FIRM: u16 = 300;
/// When it begins, ms.
const BRAKES_MS: [u32; 8] = [3000, 4000, 5000, 6000, 7000, 8000, 2000, 10_000];
/// What the last event may wait for where no plain time does.
const AWAITED: [Condition; 3] =
    [Condition::Closes(Direction::Up), Condition::Closes(Direction::Down), Condition::ShiftBegins];
/// The last event comes so long before the first bend, and so long after the one before it, ms.
const JUST_BEFORE_MS: u32 = 500;

impl Shrinker<'_> {
    /// One step with no event, or with one of those that there are: the shortest that a drive can be.
    pub(super) fn shortest_forms(&mut self) -> bool {
        let mut alone: Vec<Happening> = self.best.events.iter().map(|event| event.what).collect();
        alone.sort_unstable();
        alone.dedup();
        let alone = alone.into_iter().map(|what| vec![Event { when: When::At(1000), what }]);
        let all: Vec<Vec<Event>> = std::iter::once(Vec::new()).chain(alone).collect();
        for (events, speed) in all.iter().flat_map(|events| [SPEEDS[0], 0].map(|speed| (events, speed))) {
            let gear = self.gear(speed);
            let fails = PEDALS.iter().any(|&pedal| {
                self.with(|d| {
                    (d.start.speed, d.start.gear) = (speed, gear);
                    d.steps = vec![plain(LONGEST_MS, Demand::Pedal(pedal))];
                    d.events.clone_from(events);
                })
            });
            if fails {
                return true;
            }
        }
        false
    }

    /// One step, then two, then three: no more than there are, with the events at plain times.
    pub(super) fn short_forms(&mut self) -> bool {
        let patterns = patterns(self.best.events.len());
        let few = || patterns.iter().take(2);
        let speeds = if patterns.len() > 1 { &SPEEDS[..5] } else { &SPEEDS[..] };
        for times in &patterns {
            for &speed in speeds {
                if PEDALS.iter().any(|&pedal| self.form(speed, &[plain(LONGEST_MS, Demand::Pedal(pedal))], times)) {
                    return true;
                }
            }
        }
        if self.awaiting_forms(&patterns[0]) {
            return true;
        }
        let just_before = just_before(&patterns[0]);
        let bends = few().flat_map(|times| BENDS_MS.map(|ms| (times, ms)));
        for (times, bend_ms) in bends.chain([(&just_before, BENDS_MS[0])]) {
            for (before, then) in BEFORE.into_iter().flat_map(|b| THEN.map(|t| (b, t))).filter(|(b, t)| b != t) {
                if self.form(0, &[plain(bend_ms, before), plain(LONGEST_MS / 2, then)], times) {
                    return true;
                }
            }
        }
        if self.braking_forms(&patterns[0]) {
            return true;
        }
        for (times, middle_ms) in few().flat_map(|times| MIDDLES_MS.map(|ms| (times, ms))) {
            for brake in [GENTLE, 0] {
                let slower = Step { brake, ..plain(middle_ms, Demand::Pedal(0)) };
                let faster = plain(LONGEST_MS / 2, Demand::Pedal(1000));
                if PEDALS
                    .iter()
                    .any(|&pedal| self.form(0, &[faster, slower, plain(LONGEST_MS / 2, Demand::Pedal(pedal))], times))
                {
                    return true;
                }
            }
        }
        false
    }

    /// Faster, then a firm brake, soon after whatever has come on the way.
    fn braking_forms(&mut self, times: &[u32]) -> bool {
        let brakes = Step { brake: FIRM, ..plain(LONGEST_MS / 2, Demand::Pedal(0)) };
        BRAKES_MS.into_iter().any(|bend_ms| {
            [(0, 1000), (SPEEDS[0], 500), (SPEEDS[0], 1000)]
                .into_iter()
                .any(|(speed, pedal)| self.form(speed, &[plain(bend_ms, Demand::Pedal(pedal)), brakes], times))
        })
    }

    /// One step or two, the last event as soon as something happens.
    fn awaiting_forms(&mut self, times: &[u32]) -> bool {
        let Some(last) = self.in_time().last().copied() else { return false };
        if !self.best.events.get(last).is_some_and(|event| matches!(event.when, When::At(_))) {
            return false;
        }
        let slower = Step { brake: GENTLE, ..plain(LONGEST_MS / 2, Demand::Pedal(0)) };
        let one = PEDALS.map(|pedal| vec![plain(LONGEST_MS, Demand::Pedal(pedal))]);
        let forms: Vec<Vec<Step>> =
            one.into_iter().chain([vec![plain(BENDS_MS[0], Demand::Pedal(1000)), slower]]).collect();
        AWAITED.into_iter().any(|condition| {
            let speeds = [SPEEDS[0], 0, 600];
            speeds.into_iter().any(|speed| {
                forms.iter().any(|steps| {
                    let mut drive = self.formed(speed, steps, times);
                    if let Some(event) = drive.events.get_mut(last) {
                        event.when = When::After(condition, 0);
                    }
                    self.attempt(drive)
                })
            })
        })
    }

    /// The events in the order in which they came.
    fn in_time(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.best.events.len()).collect();
        order.sort_by_key(|&at| self.last.fired.get(at).copied().flatten().unwrap_or(u32::MAX));
        order
    }

    /// Tries a form, unless it has more to say than what there is; whether it fails and costs less.
    fn form(&mut self, speed: u16, steps: &[Step], times: &[u32]) -> bool {
        let drive = self.formed(speed, steps, times);
        self.attempt(drive)
    }

    fn formed(&self, speed: u16, steps: &[Step], times: &[u32]) -> Drive {
        let mut drive = Drive { steps: steps.to_vec(), ..self.best.clone() };
        (drive.start.speed, drive.start.gear) = (speed, self.gear(speed));
        for (at, &ms) in self.in_time().into_iter().zip(times) {
            if let Some(event) = drive.events.get_mut(at).filter(|event| matches!(event.when, When::At(_))) {
                event.when = When::At(ms);
            }
        }
        drive
    }
}

pub(super) fn plain(ms: u32, demand: Demand) -> Step {
    Step { ms, demand, brake: 0, grade: 0 }
}

/// Plain times for so many events, ms.
fn patterns(events: usize) -> Vec<Vec<u32>> {
    let every = |from_ms: u32, by_ms: u32| {
        (0..events).map(|at| from_ms + by_ms * u32::try_from(at).unwrap_or(0)).collect::<Vec<u32>>()
    };
    match events {
        0 | 1 => vec![every(1000, 1000)],
        _ => vec![every(1000, 1000), every(1000, 4000), every(0, 1000), every(1000, 0)],
    }
}

/// Plain times, the last of them just before the first bend.
fn just_before(times: &[u32]) -> Vec<u32> {
    let mut times = times.to_vec();
    for (time_ms, back) in times.iter_mut().rev().take(2).zip(1..) {
        *time_ms = (*time_ms).max(BENDS_MS[0] - back * JUST_BEFORE_MS);
    }
    times
}
