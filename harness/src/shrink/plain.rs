//! Words and numbers: plainer ones where the failure still comes, always from the same end of the same ladder.

use super::Shrinker;
use super::cost::{INSTANTS_MS, LASTING_MS, odd_number};
use super::leave_out::move_events;
use super::places::{Kind, Place};
use crate::drive::{Condition, Demand, Drive, Event, Happening, Start, Step, When, Which};
use crate::signal::{Direction, Lever, Range};

/// Speeds at the start, 0.1 km/h.
const STARTS: [u16; 10] = [0, 100, 200, 300, 400, 500, 600, 350, 250, 800];
/// Highest round speed that is tried, 0.1 km/h.
const TOP_SPEED: i64 = 1500;

impl Shrinker<'_> {
    /// The start as usual, or near it.
    pub(super) fn plain_start(&mut self) {
        let plain = Start::default();
        let start = self.best.start.clone();
        self.with(|d| d.start = plain.clone());
        self.with(|d| {
            d.start =
                Start { speed: start.speed, gear: start.gear, lever: start.lever, range: start.range, ..plain.clone() }
        });
        self.with(|d| d.start.link_key = 0);
        self.with(|d| d.start.poll_phase_ms = 0);
        self.with(|d| d.start.clock_ms = 0);
        self.with(|d| d.start.grip = plain.grip);
        self.with(|d| d.start.range = plain.range);
        self.with(|d| d.start.lever = plain.lever);
        self.so_from_the_start();
        if self.best.start.poll_phase_ms > 0 {
            for phase_ms in (10..100).step_by(10) {
                self.with(|d| d.start.poll_phase_ms = phase_ms);
            }
        }
        if self.best.start.grip != plain.grip {
            for grip in [20, 50, 10, 30, 40] {
                self.with(|d| d.start.grip = grip);
            }
        }
        for speed in STARTS {
            let gear = self.gear(speed);
            self.with(|d| (d.start.speed, d.start.gear) = (speed, gear));
        }
        let gear = self.gear(self.best.start.speed);
        self.with(|d| d.start.gear = gear);
        if odd_number(Place::StartSpeed, self.best.start.speed.into()) > 0 {
            self.number(Place::StartSpeed);
        }
    }

    /// What is moved on the way stands so from the start, and isn't moved.
    fn so_from_the_start(&mut self) {
        for at in (0..self.best.events.len()).rev() {
            // Where it begins so it may fail so soon that later events have gone with the end.
            let Some(what) = self.best.events.get(at).map(|event| event.what) else { continue };
            let mut drive = self.best.clone();
            drive.events.remove(at);
            match what {
                Happening::Lever(lever) => drive.start.lever = lever,
                Happening::Range(range) => drive.start.range = range,
                _ => continue,
            }
            self.attempt(drive);
        }
    }

    fn step(&mut self, at: usize, change: impl FnOnce(&mut Step)) -> bool {
        self.with(|d| {
            if let Some(step) = d.steps.get_mut(at) {
                change(step);
            }
        })
    }

    fn event(&mut self, at: usize, change: impl FnOnce(&mut Event)) -> bool {
        self.with(|d| {
            if let Some(event) = d.events.get_mut(at) {
                change(event);
            }
        })
    }

    /// What the driver does, and for how long.
    pub(super) fn plain_steps(&mut self) {
        for at in 0..self.best.steps.len() {
            self.step(at, |step| (step.brake, step.grade) = (0, 0));
            self.step(at, |step| step.brake = 0);
            self.step(at, |step| step.grade = 0);
            for pedal in [0, 1000, 500, 200] {
                self.step(at, |step| step.demand = Demand::Pedal(pedal));
            }
            match self.best.steps.get(at).map(|step| step.demand) {
                Some(Demand::PedalTo(pedal)) => {
                    self.step(at, |step| step.demand = Demand::Pedal(pedal));
                }
                Some(Demand::Cruise(kept)) => {
                    self.step(at, |step| step.demand = Demand::Hold(kept));
                }
                _ => {}
            }
            for place in [
                Place::Pedal(at),
                Place::OtherPedal(at),
                Place::Kept(at),
                Place::EveryMs(at),
                Place::Brake(at),
                Place::Grade(at),
            ] {
                self.number(place);
            }
            if at + 1 < self.best.steps.len() {
                self.shorten(at);
            }
        }
    }

    /// A step that ends sooner, with all that comes after it, or without the events.
    fn shorten(&mut self, at: usize) {
        let Some(step) = self.best.steps.get(at).copied() else { return };
        let end_ms = self.begins_ms(at).saturating_add(step.ms);
        for ms in LASTING_MS.into_iter().take_while(|&ms| ms < step.ms) {
            let shorter = |events: bool| {
                move |d: &mut Drive| {
                    if let Some(step) = d.steps.get_mut(at) {
                        step.ms = ms;
                    }
                    if events {
                        move_events(d, end_ms, step.ms - ms);
                    }
                }
            };
            if self.with(shorter(true)) || self.with(shorter(false)) {
                return;
            }
        }
        self.number(Place::StepMs(at));
    }

    /// What else happens, and when.
    pub(super) fn plain_events(&mut self) {
        for at in 0..self.best.events.len() {
            self.plain_what(at);
            self.plain_when(at);
            self.number(Place::EventMs(at));
            self.number(Place::EventKmh(at));
        }
    }

    /// The plainest that does the same.
    fn plain_what(&mut self, at: usize) {
        let Some(event) = self.best.events.get(at) else { return };
        let plainer: Vec<Happening> = match event.what {
            Happening::Lever(_) => vec![Happening::Lever(Lever::D)],
            Happening::Range(_) => vec![Happening::Range(Range::Low)],
            Happening::Supply(..) => vec![Happening::Reset],
            Happening::Refuse(_) => vec![Happening::Refuse(1)],
            Happening::Lost(_, ms) => vec![Happening::Lost(Which::All, ms)],
            Happening::Frozen(which, ms) => vec![Happening::Lost(which, ms), Happening::Frozen(Which::All, ms)],
            Happening::Negative(which, ms) => vec![Happening::Lost(which, ms), Happening::Negative(Which::All, ms)],
            Happening::Delayed(which, by_ms, ms) => {
                vec![Happening::Lost(which, ms), Happening::Delayed(Which::All, by_ms, ms)]
            }
            Happening::Garbled(which, beyond, ms) => {
                vec![Happening::Lost(which, ms), Happening::Garbled(Which::All, beyond, ms)]
            }
            Happening::Duplicated(_, ms) => vec![Happening::Duplicated(Which::All, ms)],
            _ => Vec::new(),
        };
        for what in plainer {
            self.event(at, |event| event.what = what);
        }
    }

    /// A plain time where one does; else a condition rather than an odd time.
    fn plain_when(&mut self, at: usize) {
        let Some(Event { when, .. }) = self.best.events.get(at).copied() else { return };
        if let (When::After(..), Some(Some(ms))) = (when, self.last.fired.get(at).copied()) {
            self.event(at, |event| event.when = When::At(ms));
        }
        let Some(Event { when: When::At(ms) | When::After(_, ms), .. }) = self.best.events.get(at).copied() else {
            return;
        };
        let odd = odd_number(Place::EventAt(at), ms.into());
        let latest_ms = if odd > 0 { self.last.failed_ms } else { ms };
        for ms in INSTANTS_MS.into_iter().take_while(|&ms| ms < latest_ms) {
            if self.event(at, |event| event.when = with_ms(event.when, ms)) {
                return;
            }
        }
        if odd < 4 {
            self.number(Place::EventAt(at));
            return;
        }
        let conditions = [
            Condition::Closes(Direction::Up),
            Condition::Closes(Direction::Down),
            Condition::ShiftBegins,
            Condition::ShiftEnds,
        ];
        let done =
            conditions.into_iter().any(|condition| self.event(at, |event| event.when = When::After(condition, 0)));
        if !done {
            self.number(Place::EventAt(at));
        }
    }

    /// A number at a round value: the first of its ladder that costs less, else the nearest round ones.
    fn number(&mut self, place: Place) {
        let Some(value) = place.get(&self.best) else { return };
        let odd = odd_number(place, value);
        let sign = if value < 0 { -1 } else { 1 };
        let ladder: Vec<i64> = match place.kind() {
            Kind::Pedal => vec![1000, 500, 200, 0],
            Kind::Speed => (0..=TOP_SPEED / 100).map(|at| at * 100 * sign).collect(),
            Kind::Share => [0, 50, 100, 150, 200, 300].map(|share| share * sign).to_vec(),
            Kind::Time if matches!(place, Place::EventAt(_)) => Vec::new(),
            Kind::Time => LASTING_MS.into_iter().map(i64::from).filter(|&ms| odd > 0 || ms < value).collect(),
        };
        for round in ladder {
            if self.with(|d| place.set(d, round)) && place.kind() == Kind::Time {
                return;
            }
        }
        let Some(value) = place.get(&self.best) else { return };
        if odd_number(place, value) == 0 {
            return;
        }
        let units: &[i64] = if place.kind() == Kind::Time { &[500, 100, 10] } else { &[100, 50, 10] };
        for &unit in units {
            let floor = value.div_euclid(unit) * unit;
            for near in [floor, floor + unit, floor - unit] {
                if self.with(|d| place.set(d, near)) {
                    return;
                }
            }
        }
    }
}

fn with_ms(when: When, ms: u32) -> When {
    match when {
        When::At(_) => When::At(ms),
        When::After(condition, _) => When::After(condition, ms),
    }
}
