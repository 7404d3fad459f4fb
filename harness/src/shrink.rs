//! The shortest drive that still fails: fewest events and steps, shortest time, roundest numbers.
//!
//! The oracle is a closure that says whether a drive still breaks the same rule for the same cause; the shrinker knows
//! no rule, manoeuvre or fault. Its budget is counted in drives, so a result never depends on the machine. In the end
//! leaving out any one step or event makes the rule kept (unless the budget ended first).

use crate::drive::{Demand, Drive, Event, Happening, Start, Step, When};

/// What came of it.
#[derive(Debug, Clone)]
pub struct Shrunk {
    /// The smallest drive found.
    pub drive: Drive,
    /// Drives spent.
    pub drives: u32,
    /// The budget ended before nothing was left to try.
    pub stopped_by_budget: bool,
}

/// What a try tells: whether the drive still fails, and what is known of the failing run.
pub struct Try {
    /// When the failure came, ms.
    pub failed_ms: u32,
    /// When each event came, ms.
    pub fired: Vec<Option<u32>>,
}

struct Shrinker<'a> {
    best: Drive,
    last: Try,
    left: u32,
    spent: u32,
    oracle: &'a mut dyn FnMut(&Drive) -> Option<Try>,
    kept: &'a mut dyn FnMut(&Drive),
}

/// Shrinks a failing drive. `kept` is told each better drive, so that it can be saved at once.
pub fn shrink(
    drive: &Drive,
    first: Try,
    budget: u32,
    oracle: &mut dyn FnMut(&Drive) -> Option<Try>,
    kept: &mut dyn FnMut(&Drive),
) -> Shrunk {
    let mut s = Shrinker { best: drive.clone(), last: first, left: budget, spent: 0, oracle, kept };
    s.cut_tail();
    loop {
        let before = s.best.clone();
        s.leave_out();
        s.merge_steps();
        s.start();
        s.plain_steps();
        s.plain_times();
        s.numbers();
        s.cut_tail();
        if s.best == before || s.left == 0 {
            break;
        }
    }
    Shrunk { drive: s.best, drives: s.spent, stopped_by_budget: s.left == 0 }
}

impl Shrinker<'_> {
    /// Tries a drive; a failing one becomes the best.
    fn attempt(&mut self, drive: Drive) -> bool {
        if self.left == 0 || drive == self.best || crate::drive_check::check(&drive).is_err() {
            return false;
        }
        self.left -= 1;
        self.spent += 1;
        match (self.oracle)(&drive) {
            Some(found) => {
                self.best = drive;
                self.last = found;
                (self.kept)(&self.best);
                true
            }
            None => false,
        }
    }

    fn with(&mut self, change: impl FnOnce(&mut Drive)) -> bool {
        let mut drive = self.best.clone();
        change(&mut drive);
        self.attempt(drive)
    }

    /// What comes after the failure goes: steps and events that never came in time.
    fn cut_tail(&mut self) {
        let failed_ms = self.last.failed_ms;
        for more_ms in [0, 500, 2000, 5000] {
            let end_ms = failed_ms.saturating_add(20 + more_ms);
            if end_ms >= self.best.length_ms() {
                return;
            }
            let fired = self.last.fired.clone();
            let done = self.with(|d| {
                let mut at_ms = 0;
                d.steps.retain_mut(|step| {
                    let from_ms = at_ms;
                    at_ms += step.ms;
                    step.ms = step.ms.min(end_ms.saturating_sub(from_ms));
                    step.ms > 0
                });
                let mut fired = fired.iter();
                d.events.retain(|_| fired.next().is_none_or(|f| f.is_some_and(|at| at <= end_ms)));
            });
            if done {
                return;
            }
        }
    }

    /// Leaves out events and steps: halves first, then one by one from the back, until each one left is needed.
    fn leave_out(&mut self) {
        for chunk in [8, 4, 2, 1] {
            let mut at = self.best.events.len();
            while at > 0 {
                let from = at.saturating_sub(chunk);
                self.with(|d| {
                    d.events.drain(from..at.min(d.events.len()));
                });
                at = from.min(self.best.events.len());
            }
        }
        for chunk in [8, 4, 2, 1] {
            let mut at = self.best.steps.len();
            while at > 0 {
                let from = at.saturating_sub(chunk);
                let gone = self.best.steps.len() > chunk
                    && self.with(|d| {
                        d.steps.drain(from..at.min(d.steps.len()));
                    });
                if !gone && self.best.steps.len() > 1 && chunk == 1 {
                    // Without its driving but with its time, so that later events stay where they are.
                    let (ms, into) = (self.best.steps[from].ms, if from > 0 { from - 1 } else { 0 });
                    self.with(|d| {
                        d.steps.remove(from);
                        if let Some(step) = d.steps.get_mut(into) {
                            step.ms += ms;
                        }
                    });
                }
                at = from.min(self.best.steps.len());
            }
        }
    }

    /// Two neighbours as one, driven like either.
    fn merge_steps(&mut self) {
        let mut at = 1;
        while at < self.best.steps.len() {
            let merged = [at - 1, at].into_iter().any(|like| {
                self.with(|d| {
                    let ms = d.steps[at - 1].ms + d.steps[at].ms;
                    d.steps[at - 1] = Step { ms, ..d.steps[like] };
                    d.steps.remove(at);
                })
            });
            if !merged {
                at += 1;
            }
        }
    }

    fn start(&mut self) {
        let plain = Start::default();
        let start = self.best.start.clone();
        self.with(|d| {
            d.start =
                Start { speed: start.speed, gear: start.gear, lever: start.lever, range: start.range, ..plain.clone() }
        });
        self.with(|d| d.start = plain.clone());
        self.with(|d| d.start.link_key = 0);
        self.with(|d| d.start.poll_phase_ms = 0);
        self.with(|d| d.start.clock_ms = 0);
        self.with(|d| d.start.grip = plain.grip);
        self.with(|d| (d.start.speed, d.start.gear) = (0, 1));
        let speed = u32::from(self.best.start.speed);
        self.number(speed, 0, &[500, 100, 50, 10], |d, v| d.start.speed = u16::try_from(v).unwrap_or(0));
    }

    fn plain_steps(&mut self) {
        for at in 0..self.best.steps.len() {
            self.with(|d| (d.steps[at].brake, d.steps[at].grade) = (0, 0));
            self.with(|d| d.steps[at].brake = 0);
            self.with(|d| d.steps[at].grade = 0);
            if self.best.steps[at].demand != Demand::Pedal(0) {
                let target = match self.best.steps[at].demand {
                    Demand::Pedal(p) | Demand::PedalTo(p) => p,
                    Demand::Hold(_) | Demand::Cruise(_) => 1000,
                };
                let _ = self.with(|d| d.steps[at].demand = Demand::Pedal(0))
                    || self.with(|d| d.steps[at].demand = Demand::Pedal(target));
            }
        }
    }

    /// Conditions become the times at which they came.
    fn plain_times(&mut self) {
        for at in 0..self.best.events.len() {
            if let (When::After(..), Some(Some(ms))) = (self.best.events[at].when, self.last.fired.get(at).copied()) {
                self.with(|d| d.events[at].when = When::At(ms));
            }
        }
    }

    fn numbers(&mut self) {
        for at in 0..self.best.steps.len() {
            let step = self.best.steps[at];
            self.number(step.ms, 0, &[10_000, 5000, 1000, 500, 100, 10], |d, v| d.steps[at].ms = v);
            self.number(u32::from(step.brake), 0, &[100, 50, 10], |d, v| {
                d.steps[at].brake = u16::try_from(v).unwrap_or(0)
            });
            let sign = if step.grade < 0 { -1 } else { 1 };
            self.number(u32::from(step.grade.unsigned_abs()), 0, &[50, 10], |d, v| {
                d.steps[at].grade = sign * i16::try_from(v).unwrap_or(0);
            });
            match step.demand {
                Demand::Pedal(p) | Demand::PedalTo(p) => {
                    self.number(u32::from(p), 0, &[500, 100, 50, 10], |d, v| set_demand(d, at, v));
                    // The other round end, for what isn't round yet: the pedal to the floor.
                    let round =
                        matches!(self.best.steps[at].demand, Demand::Pedal(p) | Demand::PedalTo(p) if p % 100 == 0);
                    if !round {
                        self.with(|d| set_demand(d, at, 1000));
                    }
                }
                Demand::Hold(v) | Demand::Cruise(v) => {
                    self.number(u32::from(v), 0, &[100, 50, 10], |d, v| set_demand(d, at, v));
                }
            }
        }
        for at in 0..self.best.events.len() {
            let event = self.best.events[at];
            let (When::At(ms) | When::After(_, ms)) = event.when;
            self.number(ms, 0, &[10_000, 5000, 1000, 500, 100, 10], |d, v| set_when(&mut d.events[at], v));
            if let Some(ms) = duration_ms(event.what) {
                self.number(ms, 0, &[1000, 500, 100, 50, 10], |d, v| set_duration(&mut d.events[at], v));
            }
        }
    }

    /// A number towards its plainest value, at ever finer round steps; the roundest that still fails stays.
    fn number(&mut self, value: u32, plain: u32, units: &[u32], set: impl Fn(&mut Drive, u32)) {
        if value == plain || self.with(|d| set(d, plain)) {
            return;
        }
        for &unit in units {
            // The smallest multiple that still fails, by bisection from below.
            let (mut low, mut high) = (plain / unit, value.div_ceil(unit));
            let top_fails = value.is_multiple_of(unit) || self.with(|d| set(d, high * unit));
            if !top_fails {
                let floor = value / unit;
                if floor > low && self.with(|d| set(d, floor * unit)) {
                    high = floor;
                } else {
                    continue;
                }
            }
            while high - low > 1 && self.left > 0 {
                let middle = low + (high - low) / 2;
                if self.with(|d| set(d, middle * unit)) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            return;
        }
    }
}

fn set_demand(drive: &mut Drive, at: usize, value: u32) {
    let value = u16::try_from(value).unwrap_or(0);
    let demand = &mut drive.steps[at].demand;
    *demand = match *demand {
        Demand::Pedal(_) => Demand::Pedal(value),
        Demand::PedalTo(_) => Demand::PedalTo(value),
        Demand::Hold(_) => Demand::Hold(value),
        Demand::Cruise(_) => Demand::Cruise(value),
    };
}

fn set_when(event: &mut Event, ms: u32) {
    event.when = match event.when {
        When::At(_) => When::At(ms),
        When::After(condition, _) => When::After(condition, ms),
    };
}

fn duration_ms(what: Happening) -> Option<u32> {
    match what {
        Happening::Tap(_, ms)
        | Happening::Button(ms)
        | Happening::WheelLock(ms)
        | Happening::WheelSpin(_, ms)
        | Happening::Supply(_, ms) => Some(u32::from(ms)),
        Happening::Lost(_, ms)
        | Happening::Frozen(_, ms)
        | Happening::Delayed(_, _, ms)
        | Happening::Negative(_, ms)
        | Happening::Garbled(_, _, ms)
        | Happening::Duplicated(_, ms)
        | Happening::SecondSpeed(_, ms) => Some(ms),
        Happening::Lever(_)
        | Happening::Range(_)
        | Happening::Ignition(_)
        | Happening::Engine(_)
        | Happening::Reset
        | Happening::Refuse(_)
        | Happening::SlowShifts(_)
        | Happening::SelfShift(_)
        | Happening::Swapped(_)
        | Happening::SpeedOff(_) => None,
    }
}

fn set_duration(event: &mut Event, value: u32) {
    let short = u16::try_from(value).unwrap_or(u16::MAX);
    match &mut event.what {
        Happening::Tap(_, ms)
        | Happening::Button(ms)
        | Happening::WheelLock(ms)
        | Happening::WheelSpin(_, ms)
        | Happening::Supply(_, ms) => *ms = short,
        Happening::Lost(_, ms)
        | Happening::Frozen(_, ms)
        | Happening::Delayed(_, _, ms)
        | Happening::Negative(_, ms)
        | Happening::Garbled(_, _, ms)
        | Happening::Duplicated(_, ms)
        | Happening::SecondSpeed(_, ms) => *ms = value,
        Happening::Lever(_)
        | Happening::Range(_)
        | Happening::Ignition(_)
        | Happening::Engine(_)
        | Happening::Reset
        | Happening::Refuse(_)
        | Happening::SlowShifts(_)
        | Happening::SelfShift(_)
        | Happening::Swapped(_)
        | Happening::SpeedOff(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::Lever;

    fn step(ms: u32, pedal: u16) -> Step {
        Step { ms, demand: Demand::Pedal(pedal), brake: 30, grade: -12 }
    }

    fn run(drive: &Drive, oracle: fn(&Drive) -> Option<u32>) -> Shrunk {
        let attempt =
            |d: &Drive| oracle(d).map(|failed_ms| Try { failed_ms, fired: d.events.iter().map(|_| Some(0)).collect() });
        let first = attempt(drive).expect("the drive fails");
        shrink(drive, first, 2000, &mut { attempt }, &mut |_| {})
    }

    /// Fails when the pedal is at 63.7 % or more at some time and the lever has moved to the gate.
    fn pedal_and_gate(drive: &Drive) -> Option<u32> {
        let gate = drive.events.iter().any(|e| e.what == Happening::Lever(Lever::Gate));
        let mut at_ms = 0;
        for s in &drive.steps {
            if matches!(s.demand, Demand::Pedal(p) if p >= 637) && gate {
                return Some(at_ms);
            }
            at_ms += s.ms;
        }
        None
    }

    #[test]
    fn what_the_failure_does_not_need_goes_and_numbers_become_round() {
        let lever = |ms, lever| Event { when: When::At(ms), what: Happening::Lever(lever) };
        let drive = Drive {
            start: Start { speed: 312, gear: 3, link_key: 77, poll_phase_ms: 13, ..Start::default() },
            steps: vec![step(7300, 120), step(4210, 871), step(9000, 400), step(1000, 990)],
            events: vec![lever(40, Lever::N), lever(2110, Lever::Gate), lever(5000, Lever::D)],
        };
        let shrunk = run(&drive, pedal_and_gate);
        assert_eq!(shrunk.drive.start, Start::default());
        assert_eq!(shrunk.drive.events, vec![lever(0, Lever::Gate)]);
        // It fails at once, so 20 ms, two ticks, are left; the pedal to the floor is rounder than 63.7 %.
        assert_eq!(shrunk.drive.steps, vec![Step { ms: 20, demand: Demand::Pedal(1000), brake: 0, grade: 0 }]);
        assert!(!shrunk.stopped_by_budget);
    }

    #[test]
    fn the_budget_ends_it_and_says_so() {
        let drive = Drive { start: Start::default(), steps: vec![step(7300, 900); 40], events: Vec::new() };
        let mut oracle = |d: &Drive| (d.steps.len() >= 3).then(|| Try { failed_ms: 100_000_000, fired: Vec::new() });
        let shrunk = shrink(&drive, Try { failed_ms: 100_000_000, fired: Vec::new() }, 7, &mut oracle, &mut |_| {});
        assert_eq!(shrunk.drives, 7);
        assert!(shrunk.stopped_by_budget);
    }
}
