//! The short forms: the few plainest drives with the events that a failure needs, tried before anything is whittled
//! down. They come in one fixed order, whatever the failure was found in, and the first that fails is taken: so that one
//! fault ends in one drive.

use super::Shrinker;
use crate::drive::{Condition, Demand, Drive, Event, Happening, Start, Step, When};
use crate::signal::{Direction, Lever};

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
/// A slope, 0.1 %.
const SLOPE: i16 = 100;
/// A speed for the cruise control, 0.1 km/h.
const CRUISE: u16 = 1000;
/// A gentle brake, 0.1 % of 1 g.
const GENTLE: u16 = 100;
/// A firm brake and a hard one.
const BRAKES: [u16; 2] = [300, 600];
/// When a brake begins or the foot goes off, ms.
const LIFTS_MS: [u32; 11] = [3000, 4000, 5000, 6000, 7000, 8000, 2000, 10_000, 12_000, 15_000, 20_000];
/// Steps of a form in which the foot goes off.
const LIFTING_STEPS: usize = 2;
/// What the last event may wait for where no plain time does.
const AWAITED: [Condition; 3] =
    [Condition::Closes(Direction::Up), Condition::Closes(Direction::Down), Condition::ShiftBegins];
/// The last event comes so long before a bend, and no sooner after the one before it, ms.
const JUST_BEFORE_MS: u32 = 500;

impl Shrinker<'_> {
    /// One step with no event, or with one of those that there are: the shortest that a drive can be.
    pub(super) fn shortest_forms(&mut self) -> bool {
        let mut alone: Vec<Happening> = self.best.events.iter().map(|event| event.what).collect();
        alone.sort_unstable();
        alone.dedup();
        let alone = alone.into_iter().map(|what| vec![Event { when: When::At(1000), what }]);
        let all: Vec<Vec<Event>> = std::iter::once(Vec::new()).chain(alone).collect();
        let steps = self.single_steps();
        for (events, speed) in all.iter().flat_map(|events| [SPEEDS[0], 0].map(|speed| (events, speed))) {
            let gear = self.gear(speed);
            let fails = steps.iter().any(|&step| {
                self.with(|d| {
                    (d.start.speed, d.start.gear) = (speed, gear);
                    d.steps = vec![step];
                    d.events.clone_from(events);
                })
            });
            if fails {
                return true;
            }
        }
        false
    }

    /// The steps that a drive of one step may have: each pedal on the flat; down a slope with the foot off, up one with the
    /// foot down, and with the cruise control on, where the drive goes down or up or has it on.
    fn single_steps(&self) -> Vec<Step> {
        let flat = PEDALS.map(|pedal| plain(LONGEST_MS, Demand::Pedal(pedal)));
        let down = Step { grade: -SLOPE, ..plain(LONGEST_MS, Demand::Pedal(0)) };
        let up = Step { grade: SLOPE, ..plain(LONGEST_MS, Demand::Pedal(1000)) };
        let goes = |as_on: &Step| self.best.steps.iter().any(|step| step.grade.signum() == as_on.grade.signum());
        let cruises = self.best.steps.iter().any(|step| matches!(step.demand, Demand::Cruise(_)));
        let cruise = cruises.then(|| plain(LONGEST_MS, Demand::Cruise(CRUISE)));
        flat.into_iter().chain([down, up].into_iter().filter(goes)).chain(cruise).collect()
    }

    /// The short forms from a usual start: where an odd one, such as an icy road, keeps all of them from failing.
    pub(super) fn usual_forms(&mut self) {
        let mut usual = self.best.clone();
        usual.start = Start { lever: usual.start.lever, range: usual.start.range, ..Start::default() };
        if usual.start != self.best.start {
            self.forms_of(usual, Self::short_forms);
        }
    }

    /// The short forms in which the foot goes off, where the lever comes out of the gate to another place: in D the gearbox
    /// shifts by itself.
    pub(super) fn forms_with_lever_elsewhere(&mut self) {
        if self.best.steps.len() <= LIFTING_STEPS {
            return;
        }
        let out = |event: &Event| matches!(event.what, Happening::Lever(lever) if lever != Lever::Gate);
        for (at, lever) in (0..self.best.events.len()).flat_map(|at| [Lever::N, Lever::P].map(|lever| (at, lever))) {
            let mut other = self.best.clone();
            let Some(event) = other.events.get_mut(at).filter(|event| out(event)) else { continue };
            event.what = Happening::Lever(lever);
            let times = patterns(other.events.len()).swap_remove(0);
            if other != self.best && self.forms_of(other, |s| s.lifting_forms(&times)) {
                return;
            }
        }
    }

    /// Forms of a drive that need not fail itself.
    fn forms_of(&mut self, drive: Drive, forms: impl FnOnce(&mut Self) -> bool) -> bool {
        let best = std::mem::replace(&mut self.best, drive);
        let found = forms(self);
        if !found {
            self.best = best;
        }
        found
    }

    /// One step, then two, then three: no more than there are, with the events at plain times.
    pub(super) fn short_forms(&mut self) -> bool {
        let patterns = patterns(self.best.events.len());
        let few = || patterns.iter().take(2);
        let speeds = if patterns.len() > 1 { &SPEEDS[..5] } else { &SPEEDS[..] };
        let steps = self.single_steps();
        for times in &patterns {
            for &speed in speeds {
                if steps.iter().any(|&step| self.form(speed, &[step], times)) {
                    return true;
                }
            }
        }
        if self.awaiting_forms(&patterns[0]) {
            return true;
        }
        if self.lifting_forms(&patterns[0]) {
            return true;
        }
        for (times, bend_ms) in few().flat_map(|times| BENDS_MS.map(|ms| (times, ms))) {
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

    /// Faster, then the foot off, just after the last of what has come on the way.
    fn lifting_forms(&mut self, times: &[u32]) -> bool {
        let lifts = plain(LONGEST_MS / 2, Demand::Pedal(0));
        let mut ends =
            LIFTS_MS.into_iter().flat_map(|bend_ms| (1..=times.len().min(2)).map(move |late| (bend_ms, late)));
        ends.any(|(bend_ms, late)| {
            let times = just_before(times, late, bend_ms);
            [(0, 1000), (0, 500), (SPEEDS[0], 1000), (SPEEDS[0], 500)]
                .into_iter()
                .any(|(speed, pedal)| self.form(speed, &[plain(bend_ms, Demand::Pedal(pedal)), lifts], &times))
        })
    }

    /// Faster, then a firm or a hard brake, soon after whatever has come on the way.
    fn braking_forms(&mut self, times: &[u32]) -> bool {
        LIFTS_MS.into_iter().flat_map(|bend_ms| BRAKES.map(|brake| (bend_ms, brake))).any(|(bend_ms, brake)| {
            let brakes = Step { brake, ..plain(LONGEST_MS / 2, Demand::Pedal(0)) };
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

/// Plain times, so many of the last of them just before a bend.
fn just_before(times: &[u32], late: usize, bend_ms: u32) -> Vec<u32> {
    let mut times = times.to_vec();
    let mut latest_ms = bend_ms;
    for (back, time_ms) in times.iter_mut().rev().enumerate() {
        latest_ms = latest_ms.saturating_sub(JUST_BEFORE_MS);
        *time_ms = if back < late { latest_ms } else { (*time_ms).min(latest_ms) };
        latest_ms = *time_ms;
    }
    times
}

#[cfg(test)]
mod tests {
    use super::super::{Try, shrink};
    use super::*;

    const GATE: Happening = Happening::Lever(Lever::Gate);

    /// Shrinks a drive of three steps and one event that fails as it is and where `also` says so, and not between.
    fn shrunk(also: fn(&Drive) -> bool) -> Drive {
        let steps = [(4000, 730), (2000, 0), (9000, 410)]
            .map(|(ms, pedal)| Step { grade: -27, ..plain(ms, Demand::Pedal(pedal)) });
        let found = Drive {
            start: Start::default(),
            steps: steps.to_vec(),
            events: vec![Event { when: When::At(7310), what: GATE }],
        };
        let mut oracle = |drive: &Drive| {
            let as_found = drive.steps.len() == 3 && drive.events == found.events && drive.start == found.start;
            (as_found || also(drive)).then(|| Try {
                failed_ms: 14_000,
                fired: drive.events.iter().map(|_| Some(7310)).collect(),
                ..Try::default()
            })
        };
        let first = oracle(&found).expect("it fails");
        shrink(&found, first, 2000, &|_| 1, &mut oracle).drive
    }

    /// A failure at the very end, all events in time.
    fn late(drive: &Drive) -> Try {
        let end_ms = drive.length_ms();
        Try { failed_ms: end_ms, fired: drive.events.iter().map(|_| Some(0)).collect(), ..Try::default() }
    }

    #[test]
    fn a_drive_downhill_comes_down_to_a_slope_with_the_foot_off() {
        let drive =
            shrunk(|d| d.steps.len() == 1 && d.steps[0].grade == -SLOPE && d.steps[0].demand == Demand::Pedal(0));
        assert_eq!((drive.steps.len(), drive.events.len()), (1, 0));
    }

    #[test]
    fn the_foot_goes_off_just_after_the_last_event() {
        let lifts: fn(&Drive) -> bool = |d| {
            let before = Event { when: When::At(3500), what: GATE };
            d.steps.len() == 2 && d.steps[1].demand == Demand::Pedal(0) && d.steps[0].ms == 4000 && d.events == [before]
        };
        let drive = shrunk(lifts);
        assert!(lifts(&drive), "{drive:?}");
    }

    #[test]
    fn a_drive_with_the_cruise_control_on_comes_down_to_that() {
        let cruise: fn(&Drive) -> bool = |d| d.steps.len() == 1 && d.steps[0].demand == Demand::Cruise(CRUISE);
        let with = |last: Demand| {
            let steps = vec![plain(4000, Demand::Pedal(730)), plain(9000, Demand::Pedal(0)), plain(9000, last)];
            let found = Drive { start: Start::default(), steps: steps.clone(), events: Vec::new() };
            let mut oracle = |d: &Drive| (d.steps == steps || cruise(d)).then(|| late(d));
            shrink(&found, late(&found), 2000, &|_| 1, &mut oracle).drive
        };
        assert!(cruise(&with(Demand::Cruise(650))));
        assert_eq!(with(Demand::Hold(650)).steps.len(), 3, "nothing in it has to do with the cruise control");
    }

    /// Seven lines that fail as found; the short form fails on a dry road alone.
    #[test]
    fn what_stays_long_on_an_icy_road_is_tried_on_a_dry_one() {
        let steps: Vec<Step> = (0..7).map(|at| plain(2000, Demand::Pedal(810 + at))).collect();
        let icy = Start { grip: 30, ..Start::default() };
        let found = Drive { start: icy.clone(), steps: steps.clone(), events: Vec::new() };
        let mut oracle = |d: &Drive| {
            let short = d.start.grip == Start::default().grip && d.steps.len() == 1;
            (d.steps == steps && d.start == icy || short).then(|| late(d))
        };
        let drive = shrink(&found, late(&found), 2000, &|_| 1, &mut oracle).drive;
        assert_eq!((drive.start, drive.steps.len()), (Start::default(), 1));
    }

    /// It fails as found, and with the foot off just before the lever comes back from N; from D never.
    #[test]
    fn what_stays_long_is_tried_with_the_lever_in_another_place() {
        let lever = |ms, lever| Event { when: When::At(ms), what: Happening::Lever(lever) };
        let events = vec![lever(1300, Lever::Gate), lever(5200, Lever::D), lever(6100, Lever::Gate)];
        let steps: Vec<Step> = (0..5).map(|at| plain(2000, Demand::Pedal(810 + at))).collect();
        let found = Drive { start: Start::default(), steps, events };
        let as_found = found.clone();
        let mut oracle = |d: &Drive| {
            let lifts = d.steps.len() == 2 && d.steps[1].demand == Demand::Pedal(0);
            let by_n = d.events.len() == 3 && d.events[1].what == Happening::Lever(Lever::N);
            (*d == as_found || lifts && by_n).then(|| late(d))
        };
        let drive = shrink(&found, late(&found), 2000, &|_| 1, &mut oracle).drive;
        assert_eq!((drive.steps.len(), drive.events.len()), (2, 3));
        assert_eq!(drive.events[1].what, Happening::Lever(Lever::N));
    }

    #[test]
    fn times_come_just_before_a_bend_and_keep_their_order() {
        assert_eq!(just_before(&[1000, 2000, 3000], 1, 4000), [1000, 2000, 3500]);
        assert_eq!(just_before(&[1000, 2000, 3000], 2, 4000), [1000, 3000, 3500]);
        assert_eq!(just_before(&[1000, 2000, 3000], 1, 2000), [500, 1000, 1500]);
    }
}
