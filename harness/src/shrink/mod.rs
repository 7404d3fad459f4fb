//! The shortest drive that still fails: fewest events and steps, plainest words and numbers, soonest failure.
//!
//! The oracle is a closure that says whether a drive still breaks the same rule for the same cause; the shrinker knows
//! no rule, manoeuvre or fault. Whatever a pass proposes becomes the best if it fails and costs less (`cost`), so the
//! order of passes can only cost drives. Its budget is counted in drives, so a result never depends on the machine. In
//! the end leaving out any one step or event makes the rule kept (unless the budget ended first).

mod cost;
mod forms;
mod leave_out;
mod places;
mod plain;
mod prelude;
mod slack;
mod widen;

use crate::drive::{Drive, When};
use cost::{class, cost};
use std::collections::BTreeSet;
pub use widen::{Span, widen};

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
#[derive(Debug, Clone, Default)]
pub struct Try {
    /// When the failure came, ms.
    pub failed_ms: u32,
    /// When each event came, ms.
    pub fired: Vec<Option<u32>>,
    /// How the vehicle stood now and then until the failure.
    pub states: Vec<State>,
    /// It fails so only where it ends then, ms: driven on, it fails in another way that counts for more.
    pub ends_ms: Option<u32>,
}

/// How the vehicle stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct State {
    /// When, ms.
    pub at_ms: u32,
    /// Road speed, 0.1 km/h.
    pub speed: u16,
    /// Gear.
    pub gear: u8,
}

/// Whether a drive still fails in the same way.
pub type Oracle<'a> = &'a mut dyn FnMut(&Drive) -> Option<Try>;

/// A plainer drive may fail later: it is driven on for so long, ms.
const ROOM_MS: u32 = 10_000;
/// No drive is driven for longer than the one before and this, ms.
pub const END_MS: u32 = 20;
/// Drives kept back for the last look at whether something can be left out.
const LAST_LOOK: u32 = 30;
/// A drive that has come down to so many lines is given a quarter of the budget only.
const FEW_LINES: usize = 4;
/// One that hasn't come down to so many is given all of it.
const MANY_LINES: usize = 6;
const SHARES: u32 = 4;
/// So much later the end may always be, to be round, ms.
const LITTLE_MS: u32 = 50;

struct Shrinker<'a> {
    best: Drive,
    last: Try,
    left: u32,
    spent: u32,
    tried: BTreeSet<Drive>,
    oracle: Oracle<'a>,
    /// The gear in which one usually drives at a speed of 0.1 km/h.
    gears: &'a dyn Fn(u16) -> u8,
}

/// Shrinks a failing drive. `gears` tells the gear in which one usually drives at a speed (0.1 km/h).
pub fn shrink(drive: &Drive, first: Try, budget: u32, gears: &dyn Fn(u16) -> u8, oracle: Oracle<'_>) -> Shrunk {
    let tried = BTreeSet::from([drive.clone()]);
    let kept_back = LAST_LOOK.min(budget / 10);
    let share = (budget - kept_back) / SHARES;
    let left = budget - kept_back - share * (SHARES - 1);
    let mut s = Shrinker { best: drive.clone(), last: first.clone(), left, spent: 0, tried, oracle, gears };
    s.cut_tail();
    s.in_order();
    s.shortest_forms();
    s.whittle();
    if s.best.size() > FEW_LINES {
        s.once_more(drive, first, share);
    }
    if s.left == 0 && s.best.size() > MANY_LINES {
        s.left = share;
        s.whittle();
    }
    if s.best.size() > MANY_LINES {
        s.left += share;
        s.with_more_patience();
    }
    let stopped_by_budget = s.left == 0;
    s.left += kept_back;
    loop {
        s.in_order();
        s.round_the_end();
        // The end has moved: what could not be left out before is asked once more.
        if !s.leave_one_out() {
            break;
        }
        if !stopped_by_budget {
            s.whittle();
        }
    }
    Shrunk { drive: s.best, drives: s.spent, stopped_by_budget: stopped_by_budget || s.left == 0 }
}

impl Shrinker<'_> {
    /// From the drive as it was found again, the other way: it begins anew first, and then what isn't needed is left out.
    /// The smaller of the two is kept.
    fn once_more(&mut self, drive: &Drive, first: Try, share: u32) {
        let best = std::mem::replace(&mut self.best, drive.clone());
        let last = std::mem::replace(&mut self.last, first);
        let tried = std::mem::replace(&mut self.tried, BTreeSet::from([drive.clone()]));
        let left = std::mem::replace(&mut self.left, share);
        self.cut_tail();
        self.in_order();
        self.begin_before_an_event();
        self.whittle();
        if cost(&best, last.failed_ms) <= cost(&self.best, self.last.failed_ms) {
            (self.best, self.last, self.tried, self.left) = (best, last, tried, left);
        }
    }

    /// All passes in turn, until none of them finds anything.
    fn whittle(&mut self) {
        let mut forms_tried = 0;
        loop {
            let before = self.best.clone();
            self.leave_out();
            self.merge_steps();
            self.fold();
            self.plain_start();
            if forms_tried != self.best.size() {
                forms_tried = self.best.size();
                self.short_forms();
                self.leave_out();
            }
            self.begin_before_an_event();
            self.skip_prelude();
            self.hold_prelude();
            self.hold_from_the_start();
            self.plain_steps();
            self.plain_events();
            self.cut_tail();
            if self.best == before || self.left == 0 {
                return;
            }
        }
    }

    fn gear(&self, speed: u16) -> u8 {
        (self.gears)(speed)
    }

    /// Tries a drive; it becomes the best if it fails and costs less. One that is plainer gets more time to fail, one
    /// that is as plain none that it can't use.
    fn attempt(&mut self, mut drive: Drive) -> bool {
        let (new, old) = (class(&drive), class(&self.best));
        if new > old {
            return false;
        }
        if new == old {
            cut(&mut drive, self.best.length_ms());
        } else {
            let room_ms = (self.best.length_ms() + ROOM_MS).saturating_sub(drive.length_ms());
            if let Some(last) = drive.steps.last_mut() {
                last.ms = last.ms.saturating_add(room_ms);
            }
        }
        self.exactly(drive)
    }

    /// The ways that take many drives, for what has stayed long.
    fn with_more_patience(&mut self) {
        self.usual_forms();
        self.forms_with_lever_elsewhere();
        self.leave_out_with_slack();
        self.whittle();
    }

    /// The same with the drive just as it is.
    fn exactly(&mut self, mut drive: Drive) -> bool {
        if self.left == 0 || crate::drive_check::check(&drive).is_err() || class(&drive) > class(&self.best) {
            return false;
        }
        if !self.tried.insert(drive.clone()) {
            return false;
        }
        self.left -= 1;
        self.spent += 1;
        let Some(found) = (self.oracle)(&drive) else { return false };
        if let Some(ends_ms) = found.ends_ms {
            cut(&mut drive, ends_ms);
        }
        if cost(&drive, found.failed_ms) >= cost(&self.best, self.last.failed_ms) {
            return false;
        }
        self.best = drive;
        self.last = found;
        if self.best.length_ms() > self.last.failed_ms.saturating_add(1000) {
            self.cut_tail();
        }
        true
    }

    fn with(&mut self, change: impl FnOnce(&mut Drive)) -> bool {
        let mut drive = self.best.clone();
        change(&mut drive);
        self.attempt(drive)
    }

    /// What comes after the failure goes: steps and events that never came in time.
    fn cut_tail(&mut self) {
        for more_ms in [0, 500, 2000, 5000] {
            let end_ms = self.last.failed_ms.saturating_add(END_MS + more_ms);
            if end_ms >= self.best.length_ms() {
                return;
            }
            let mut drive = self.best.clone();
            cut(&mut drive, end_ms);
            let mut fired = self.last.fired.iter();
            drive.events.retain(|_| fired.next().is_none_or(|f| f.is_some_and(|at| at <= end_ms)));
            if self.exactly(drive) {
                return;
            }
        }
    }

    /// The end at a round time, where that is a little later only.
    fn round_the_end(&mut self) {
        let Some(last_ms) = self.best.steps.last().map(|step| step.ms) else { return };
        let later_ms = (self.best.length_ms() / 20).max(LITTLE_MS);
        for unit_ms in [10_000, 5000, 1000, 500, 100, 50] {
            let round_ms = last_ms.div_ceil(unit_ms) * unit_ms;
            if round_ms > last_ms + later_ms {
                continue;
            }
            let mut drive = self.best.clone();
            if let Some(last) = drive.steps.last_mut() {
                last.ms = round_ms;
            }
            if round_ms == last_ms || self.instead(drive) {
                return;
            }
        }
    }

    /// Events in the order in which they come.
    fn in_order(&mut self) {
        let mut drive = self.best.clone();
        drive.events.sort_by_key(|event| match event.when {
            When::At(ms) => ms,
            When::After(..) => u32::MAX,
        });
        if drive.events != self.best.events {
            self.instead(drive);
        }
    }

    /// Takes a drive that says the same, if it fails.
    fn instead(&mut self, drive: Drive) -> bool {
        if self.left == 0 {
            return false;
        }
        self.left -= 1;
        self.spent += 1;
        let found = (self.oracle)(&drive).filter(|found| found.ends_ms.is_none());
        found.map(|found| (self.best, self.last) = (drive, found)).is_some()
    }
}

/// Ends a drive at a time, ms.
pub fn cut(drive: &mut Drive, end_ms: u32) {
    let mut at_ms = 0;
    drive.steps.retain_mut(|step| {
        let from_ms = at_ms;
        at_ms += step.ms;
        step.ms = step.ms.min(end_ms.saturating_sub(from_ms));
        step.ms > 0
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::{Condition, Demand, Event, Happening, Start, Step};
    use crate::signal::{Lever, Range};

    fn step(ms: u32, pedal: u16) -> Step {
        Step { ms, demand: Demand::Pedal(pedal), brake: 30, grade: -12 }
    }

    fn run(drive: &Drive, oracle: fn(&Drive) -> Option<u32>) -> Shrunk {
        let attempt = |d: &Drive| {
            oracle(d).map(|failed_ms| Try {
                failed_ms,
                fired: d.events.iter().map(|_| Some(0)).collect(),
                ..Try::default()
            })
        };
        let first = attempt(drive).expect("the drive fails");
        shrink(drive, first, 2000, &|_| 1, &mut { attempt })
    }

    fn late() -> Try {
        Try { failed_ms: 100_000_000, ..Try::default() }
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

    /// The lever in the gate from the start fails at once; the range after 3 s then never comes, and goes with the end.
    #[test]
    fn events_may_go_with_the_end_when_the_drive_begins_as_one_of_them_left_it() {
        let low = Event { when: When::At(3000), what: Happening::Range(Range::Low) };
        let gate = When::After(Condition::SpeedAbove(100), 0);
        let events = vec![low, Event { when: gate, what: Happening::Lever(Lever::Gate) }];
        let drive = Drive { start: Start::default(), steps: vec![step(5000, 0)], events };
        let mut oracle = |d: &Drive| {
            let begins = d.start.lever == Lever::Gate;
            let failed_ms = if begins { 0 } else { 4000 };
            let fired = d.events.iter().map(|e| (!begins || e.when == gate).then_some(0)).collect();
            let fails = begins || (d.events.contains(&low) && d.events.iter().any(|e| e.when == gate));
            fails.then(|| Try { failed_ms, fired, ..Try::default() })
        };
        let first = oracle(&drive).expect("it fails");
        let shrunk = shrink(&drive, first, 2000, &|_| 1, &mut oracle);
        assert_eq!((shrunk.drive.start.lever, shrunk.drive.events), (Lever::Gate, Vec::new()));
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
        // It fails at once: two ticks are left, and 50 ms are rounder; the pedal to the floor is rounder than 63.7 %.
        assert_eq!(shrunk.drive.steps, vec![Step { ms: 50, demand: Demand::Pedal(1000), brake: 0, grade: 0 }]);
        assert!(!shrunk.stopped_by_budget);
    }

    /// It fails as found, without its first step, and begun anew in gear 3. In gear 3 it only is where nothing was left out.
    #[test]
    fn what_is_left_long_is_tried_once_more_the_other_way_round() {
        let gate = |ms| Event { when: When::At(ms), what: Happening::Lever(Lever::Gate) };
        let steps: Vec<Step> = (0..7).map(|at| step(2000, 810 + at)).collect();
        let drive = Drive { start: Start::default(), steps: steps.clone(), events: vec![gate(12_000)] };
        let mut oracle = |d: &Drive| {
            let as_found = d.start == Start::default() && d.events.len() == 1;
            let less = as_found && [&steps[..], &steps[1..]].contains(&&d.steps[..]);
            let state = State { at_ms: 11_000, speed: 500, gear: if d.steps == steps { 3 } else { 4 } };
            (less || d.start.gear == 3 && d.events == [gate(1000)]).then(|| Try {
                failed_ms: 14_000,
                fired: vec![Some(12_000)],
                states: vec![state],
                ..Try::default()
            })
        };
        let first = oracle(&drive).expect("it fails");
        let shrunk = shrink(&drive, first, 2000, &|_| 1, &mut oracle).drive;
        assert_eq!((shrunk.start.gear, shrunk.steps.len(), shrunk.events), (3, 1, vec![gate(1000)]));
    }

    /// Driven on beyond 9 s it fails in another way: what is tried with more time still counts, and ends there.
    #[test]
    fn a_drive_that_fails_so_only_where_it_ends_sooner_is_ended_there() {
        let drive =
            Drive { start: Start::default(), steps: vec![step(3000, 700), step(6000, 637)], events: Vec::new() };
        let mut oracle = |d: &Drive| {
            let ends_ms = (d.length_ms() > 9000).then_some(9000);
            (d.length_ms() >= 9000).then(|| Try { failed_ms: 9000, ends_ms, ..Try::default() })
        };
        let first = oracle(&drive).expect("it fails");
        let shrunk = shrink(&drive, first, 2000, &|_| 1, &mut oracle).drive;
        assert_eq!((shrunk.steps.len(), shrunk.length_ms()), (1, 9000));
    }

    #[test]
    fn the_budget_ends_it_and_says_so() {
        let drive = Drive { start: Start::default(), steps: vec![step(7300, 900); 40], events: Vec::new() };
        let mut oracle = |d: &Drive| (d.steps.len() >= 3).then(late);
        let shrunk = shrink(&drive, late(), 7, &|_| 1, &mut oracle);
        assert_eq!(shrunk.drives, 7);
        assert!(shrunk.stopped_by_budget);
    }
}
