//! The ways in which a drive becomes another.

use super::archive::Archive;
use super::lesson::Moment;
use crate::drive::{Demand, Drive, Event, Happening, LONGEST_MS, Step, When};
use crate::drive_check::check;
use crate::make::{Dice, Trouble, Troubles, cut, dealt};
use crate::signal::Lever;
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// Where beside a moment something comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Beside {
    /// Before it, within a few polls of the link.
    Polls,
    /// Before it, by up to some seconds.
    Long,
    /// After it, within a pulse or a shift.
    Later,
}

/// The slots for what a box can know at once: at the tick and one tick to either side, so that ties and short windows are
/// met.
const EXACT: [(Moment, i32); 18] = [
    (Moment::Closes, 0),
    (Moment::Closes, -1),
    (Moment::Closes, 1),
    (Moment::Opens, 0),
    (Moment::Opens, -1),
    (Moment::Opens, 1),
    (Moment::ShiftBegins, 0),
    (Moment::ShiftEnds, 0),
    (Moment::ShiftEnds, -1),
    (Moment::Engages, 0),
    (Moment::Engages, -1),
    (Moment::Engages, 1),
    (Moment::Gate, 0),
    (Moment::Gate, -1),
    (Moment::Asks, 0),
    (Moment::Happens, 0),
    (Moment::Happens, 1),
    (Moment::Answer, 0),
];

/// The slots for any trouble: so long before that it is known when the moment comes, inside what begins then, or after.
const ABOUT: [(Moment, Beside); 14] = [
    (Moment::Closes, Beside::Polls),
    (Moment::Closes, Beside::Long),
    (Moment::Closes, Beside::Later),
    (Moment::Opens, Beside::Later),
    (Moment::ShiftBegins, Beside::Later),
    (Moment::ShiftEnds, Beside::Later),
    (Moment::Engages, Beside::Polls),
    (Moment::Engages, Beside::Later),
    (Moment::Gate, Beside::Polls),
    (Moment::Gate, Beside::Later),
    (Moment::Asks, Beside::Polls),
    (Moment::Asks, Beside::Long),
    (Moment::Happens, Beside::Later),
    (Moment::Wakes, Beside::Later),
];

/// What is inserted into one drive lies at least so far apart, ms: the driver hands over again in between.
const APART_MS: u32 = 6000;

/// From the lever in the gate to an engagement, at most about, ms.
const HAND_OVER_MS: u32 = 1500;

/// About one insertion in this time, ms.
const INSERT_MS: u32 = 15_000;

/// Numbers are changed that count from so long before a margin on, ms.
const BEFORE_MS: u32 = 10_000;

/// No step may become longer, ms.
const LONGEST_STEP_MS: u32 = 20_000;

/// Changes of one search drive.
pub struct Changes<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// Seed of the campaign.
    pub seed: u64,
    /// Number of the search drive.
    pub number: u32,
    /// Length of a drive, ms; of a child at most twice that.
    pub length_ms: u32,
    /// Chance.
    pub dice: Dice,
}

impl Changes<'_> {
    fn tick_ms(&self) -> u32 {
        self.spec.facts.tick.ms().max(1)
    }

    /// Something more happens, at moments of a parent. What and where is dealt: each kind of trouble comes into each slot
    /// once before any comes there again, over the search drives of all islands. The first insertion is exact, as up to
    /// it the child drives as its parent did; what follows is about.
    pub fn insert(&mut self, archive: &Archive) -> Option<Drive> {
        let troubles = Troubles::new(self.spec);
        let at_once: Vec<Trouble> = troubles.kinds.iter().copied().filter(|kind| kind.at_once()).collect();
        let number = u64::from(self.number);
        let card = dealt("exact", self.seed, at_once.len() * EXACT.len(), number)?;
        let (&trouble, &(moment, ticks)) = (at_once.get(card / EXACT.len())?, EXACT.get(card % EXACT.len())?);
        let parent = archive.with(moment, &mut self.dice)?;
        let mut drive = parent.drive.clone();
        let gates: Vec<u32> = parent.times(Moment::Gate).collect();
        // Among the first half, so that the rest of the drive shows what comes of it.
        let times: Vec<u32> = parent.times(moment).collect();
        let first_ms = *times.get(self.dice.below(times.len().div_ceil(2) as u32) as usize)?;
        self.put(&mut drive, &troubles, trouble, first_ms.saturating_add_signed(ticks * self.tick_ms() as i32));
        let mut taken = vec![first_ms];
        let more = u64::from((self.length_ms / INSERT_MS).clamp(1, 12));
        for place in number * more..(number + 1) * more {
            let Some(card) = dealt("about", self.seed, troubles.kinds.len() * ABOUT.len(), place) else { continue };
            let (Some(&trouble), Some(&(moment, beside))) =
                (troubles.kinds.get(card / ABOUT.len()), ABOUT.get(card % ABOUT.len()))
            else {
                continue;
            };
            // Later than the first, and the driver hands over in between.
            let apart = |one: u32, other: u32| {
                one.abs_diff(other) >= APART_MS
                    && gates.iter().any(|gate| *gate > one.min(other) && gate + HAND_OVER_MS < one.max(other))
            };
            let fits = |ms: &u32| *ms > first_ms && taken.iter().all(|other| apart(*ms, *other));
            let free: Vec<u32> = parent.times(moment).filter(fits).collect();
            let at = self.dice.below(u32::try_from(free.len()).unwrap_or(0)) as usize;
            let Some(&moment_ms) = free.get(at) else { continue };
            taken.push(moment_ms);
            let at_ms = moment_ms.saturating_add_signed(self.off_ms(beside));
            self.put(&mut drive, &troubles, trouble, at_ms);
        }
        self.child(drive)
    }

    fn off_ms(&mut self, beside: Beside) -> i32 {
        let (tick, poll) = (self.tick_ms() as i32, self.spec.link.period.ms().max(10) as i32);
        match beside {
            Beside::Polls => -self.dice.within(1, (3 * poll / tick).max(1)) * tick,
            Beside::Long => -self.dice.within(3 * poll / tick, (4000 / tick).max(1)) * tick,
            Beside::Later => self.dice.within(2, (800 / tick).max(2)) * tick,
        }
    }

    /// A trouble at a time; what lasts is mended later, most times.
    fn put(&mut self, drive: &mut Drive, troubles: &Troubles<'_>, trouble: Trouble, at_ms: u32) {
        let what = troubles.happening(trouble, &mut self.dice);
        drive.events.push(Event { when: When::At(at_ms), what });
        let lasts_ms = match self.dice.below(3) {
            0 => self.dice.ms(20, 1000),
            1 => self.dice.ms(500, 4000),
            _ => self.dice.ms(4000, 15_000),
        };
        let mended = self.dice.chance(85);
        if let Some(back) = trouble.mended_by().filter(|_| mended) {
            drive.events.push(Event { when: When::At(at_ms + lasts_ms), what: back });
            if back == Happening::Lever(Lever::Gate) && self.spec.facts.take_over == TakeOver::Button {
                drive.events.push(Event { when: When::At(at_ms + lasts_ms + 400), what: Happening::Button(300) });
            }
        }
    }

    /// Numbers change that count for the smallest margin of a rule: by the least there is, or by a lot.
    pub fn nudge(&mut self, archive: &Archive) -> Option<Drive> {
        let (record, parent) = archive.record(&mut self.dice)?;
        let mut drive = parent.drive.clone();
        let from_ms = record.at_ms.saturating_sub(BEFORE_MS);
        let mut now_ms = 0;
        let mut steps = Vec::new();
        for (at, step) in drive.steps.iter().enumerate() {
            if now_ms <= record.at_ms && now_ms + step.ms >= from_ms {
                steps.push(at);
            }
            now_ms += step.ms;
        }
        let counts = |event: &Event| !matches!(event.when, When::At(ms) if ms < from_ms || ms > record.at_ms + 100);
        let events: Vec<usize> = (0..drive.events.len()).filter(|&at| counts(&drive.events[at])).collect();
        for _ in 0..self.dice.within(1, 3) {
            let places = steps.len() + events.len() + 1;
            let at = self.dice.below(places as u32) as usize;
            if let Some(step) = steps.get(at).and_then(|&at| drive.steps.get_mut(at)) {
                self.nudge_step(step);
            } else if let Some(&event) = events.get(at.wrapping_sub(steps.len())) {
                if let Some(event) = drive.events.get_mut(event) {
                    self.nudge_event(event);
                }
            } else {
                self.nudge_start(&mut drive);
            }
        }
        self.child(drive)
    }

    fn nudge_start(&mut self, drive: &mut Drive) {
        let length_ms = drive.length_ms().clamp(20, 65_000);
        let start = &mut drive.start;
        match self.dice.below(4) {
            0 => start.poll_phase_ms = self.dice.below(100) as u16,
            1 => start.link_key = self.dice.bits(),
            2 => {
                let wrap = self.dice.one([1_u64 << 16, 1 << 31, 1 << 32]);
                start.clock_ms = wrap - u64::from(self.dice.ms(10, length_ms));
            }
            _ => start.grip = self.dice.one([12, 20, 30, 60, 90]),
        }
    }

    /// By one, by one count of the link, or far.
    fn by(&mut self, count: i32, far: i32) -> i32 {
        let by = match self.dice.below(4) {
            0 => 1,
            1 | 2 => count,
            _ => self.dice.within(count, far.max(count)),
        };
        if self.dice.chance(50) { by } else { -by }
    }

    fn nudge_step(&mut self, step: &mut Step) {
        // 1 km/h, and 1 of 255 of the pedal.
        let (speed, pedal) = (10, 4);
        match self.dice.below(4) {
            0 => {
                let tick = self.tick_ms() as i32;
                let by_ms = self.by(1, 200) * tick;
                step.ms = step.ms.saturating_add_signed(by_ms).clamp(10, LONGEST_STEP_MS.max(step.ms));
            }
            1 if self.dice.chance(50) => step.brake = moved(step.brake, self.by(10, 300), 1000),
            1 => step.grade = i32::from(step.grade).saturating_add(self.by(5, 60)).clamp(-250, 250) as i16,
            _ => {
                step.demand = match step.demand {
                    Demand::Pedal(p) => Demand::Pedal(moved(p, self.by(pedal, 400), 1000)),
                    Demand::PedalTo(p) => Demand::PedalTo(moved(p, self.by(pedal, 400), 1000)),
                    Demand::InTurn(a, b, ms) => Demand::InTurn(moved(a, self.by(pedal, 400), 1000), b, ms),
                    Demand::Hold(v) => Demand::Hold(moved(v, self.by(speed, 200), 2500)),
                    Demand::Cruise(v) => Demand::Cruise(moved(v, self.by(speed, 200), 2500)),
                };
            }
        }
    }

    fn nudge_event(&mut self, event: &mut Event) {
        let tick = self.tick_ms() as i32;
        if let Some(ms) = event.what.lasts_ms().filter(|_| self.dice.chance(40)) {
            let new_ms = ms.saturating_add_signed(self.by(1, 100) * tick).clamp(10, LONGEST_MS);
            event.what.relast(&mut |_| new_ms.into());
            return;
        }
        let by_ms = self.by(1, 100) * tick;
        let (When::At(ms) | When::After(_, ms)) = &mut event.when;
        *ms = ms.saturating_add_signed(by_ms);
    }

    /// The beginning of one drive, and the end of another from about the same speed on.
    pub fn splice(&mut self, archive: &Archive) -> Option<Drive> {
        let (first, second) = (archive.any(&mut self.dice)?, archive.any(&mut self.dice)?);
        let (head, head_ms) = self.cut_at(&first.drive);
        let (tail, tail_ms) = self.cut_at(&second.drive);
        let before = |event: &&Event| !matches!(event.when, When::At(ms) if ms >= head_ms);
        let after = |event: &&Event| matches!(event.when, When::At(ms) if ms >= tail_ms);
        let moved = |event: &Event| match event.when {
            When::At(ms) => Event { when: When::At(ms - tail_ms + head_ms), ..*event },
            When::After(..) => *event,
        };
        let steps = first.drive.steps.iter().take(head).chain(second.drive.steps.iter().skip(tail)).copied().collect();
        let events = first.drive.events.iter().filter(before).copied();
        let events = events.chain(second.drive.events.iter().filter(after).map(moved)).collect();
        self.child(Drive { start: first.drive.start.clone(), steps, events })
    }

    /// A step between the first quarter and the last, and when it begins, ms.
    fn cut_at(&mut self, drive: &Drive) -> (usize, u32) {
        let count = drive.steps.len() as i32;
        let at = self.dice.within(count / 4, (count * 3 / 4).max(count / 4)).clamp(0, count) as usize;
        (at, drive.steps.iter().take(at).map(|step| step.ms).sum())
    }

    /// Something less happens.
    pub fn leave_out(&mut self, archive: &Archive) -> Option<Drive> {
        let mut drive = archive.any(&mut self.dice)?.drive.clone();
        for _ in 0..self.dice.within(1, 3) {
            if !drive.events.is_empty() && self.dice.chance(60) {
                let at = self.dice.below(drive.events.len() as u32) as usize;
                drive.events.remove(at);
            } else if drive.steps.len() > 1 {
                let at = self.dice.below(drive.steps.len() as u32) as usize;
                drive.steps.remove(at);
            }
        }
        self.child(drive)
    }

    /// Cut to length, and within bounds.
    fn child(&self, mut drive: Drive) -> Option<Drive> {
        if drive.length_ms() > self.length_ms.saturating_mul(2) {
            cut(&mut drive.steps, self.length_ms);
        }
        let end_ms = drive.length_ms();
        drive.events.retain(|event| !matches!(event.when, When::At(ms) if ms >= end_ms));
        check(&drive).is_ok().then_some(drive)
    }
}

fn moved(value: u16, by: i32, most: u16) -> u16 {
    i32::from(value).saturating_add(by).clamp(0, most.into()) as u16
}

#[cfg(test)]
mod tests;
