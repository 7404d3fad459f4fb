//! Random drives that know the spec: where its lines, ceiling and limits are, and what a driver does near them.
//!
//! A drive is a row of scenes: the driver hands over, pulls away, holds the speed of a line, lifts off, brakes; and in
//! between something goes wrong, on an interesting tick where it can. Whatever ended the engagement, the driver soon
//! slows down and hands over again, so that a minute holds many trials. A drive depends on the spec, the seed, its
//! number and its length alone.

use super::dice::Dice;
use super::draft::{ceiling_kmh, gain_s, gear_for, highest_line_kmh, lowest_gear, tenths, top_gear};
use super::happenings::Happenings;
use crate::drive::{Condition, Demand, Drive, Event, Happening, LONGEST_MS, Start, Step, When};
use crate::drive_check::MOST_LINES;
use crate::signal::{Direction, Lever, Range};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// Name and version of this generator; whatever changes its drives raises the number.
pub const GENERATOR: &str = "random 3";

/// The random drive of this seed and number, of this length (1 s at least, a day at most).
#[must_use]
pub fn random_drive(spec: &Spec, seed: u64, number: u32, length_ms: u32) -> Drive {
    let length_ms = length_ms.clamp(1000, LONGEST_MS);
    let mut writer = Writer::new(spec, Dice::new(GENERATOR, seed, number));
    writer.start();
    writer.hand_over(true);
    // More than a drive may hold is cut by its last step, which goes on.
    while writer.now_ms < length_ms && writer.steps.len().max(writer.events.len()) < MOST_LINES - 50 {
        writer.scene();
    }
    writer.finish(length_ms)
}

/// Where the drive is driven.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Never much faster than the box may take over: many hand-overs.
    Town,
    /// Over the whole map.
    Road,
}

struct Writer<'a> {
    spec: &'a Spec,
    dice: Dice,
    happenings: Happenings<'a>,
    place: Place,
    /// Grade of the whole drive, 0.1 %.
    grade: i16,
    start: Start,
    steps: Vec<Step>,
    events: Vec<Event>,
    now_ms: u32,
    /// About where the speed is, km/h.
    speed_kmh: f64,
    /// Something has ended the engagement, most likely.
    let_go: bool,
    /// Conditions fire once, so each waits for one event alone.
    waited: Vec<Condition>,
}

impl<'a> Writer<'a> {
    fn new(spec: &'a Spec, mut dice: Dice) -> Self {
        let place = if dice.chance(60) { Place::Town } else { Place::Road };
        let grade = if dice.chance(60) { 0 } else { dice.within(-80, 80) as i16 };
        Self {
            spec,
            happenings: Happenings::new(spec),
            dice,
            place,
            grade,
            start: Start::default(),
            steps: Vec::new(),
            events: Vec::new(),
            now_ms: 0,
            speed_kmh: 0.0,
            let_go: false,
            waited: Vec::new(),
        }
    }

    /// Where things stand at power-up.
    fn start(&mut self) {
        let dice = &mut self.dice;
        let ceiling = i32::from(tenths(ceiling_kmh(self.spec)));
        let speed = match dice.weighted(&[5, 4, 1, 1]) {
            0 => 0,
            1 => dice.within(0, ceiling),
            2 => ceiling + dice.within(-1, 1) * 10,
            _ => dice.within(ceiling, ceiling + 600),
        };
        let speed = speed.clamp(0, 2000) as u16;
        self.speed_kmh = f64::from(speed) / 10.0;
        let clock_ms = if dice.chance(90) {
            0
        } else {
            dice.one([1_u64 << 16, 1 << 31, 1 << 32]) - u64::from(dice.ms(10, 40_000))
        };
        let grip = match dice.weighted(&[8, 1, 1]) {
            0 => 90,
            1 => 30,
            _ => dice.within(12, 60) as u8,
        };
        let gear = if dice.chance(90) { gear_for(self.spec, self.speed_kmh) } else { dice.within(1, 6) as u8 };
        let lever = if dice.chance(5) { Lever::Gate } else { Lever::D };
        let (poll_phase_ms, link_key) = (dice.below(100) as u16, dice.bits());
        let gear = gear.clamp(1, top_gear(self.spec).max(1));
        self.start = Start { speed, gear, lever, range: Range::High, clock_ms, poll_phase_ms, link_key, grip };
        if self.dice.chance(20) {
            // Something is wrong from the first tick on.
            let what = if self.dice.chance(50) {
                self.happenings.silence(&mut self.dice)
            } else {
                self.happenings.of_link(&mut self.dice)
            };
            self.event(When::At(0), what);
        }
    }

    fn event(&mut self, when: When, what: Happening) {
        self.events.push(Event { when, what });
    }

    fn step(&mut self, ms: u32, demand: Demand, brake: u16) {
        let grade = self.grade;
        self.steps.push(Step { ms: ms.max(10), demand, brake, grade });
        self.now_ms += ms.max(10);
    }

    fn hold(&mut self, ms: u32, kmh: f64) {
        self.speed_kmh = kmh;
        if kmh < 1.0 { self.step(ms, Demand::Pedal(0), 150) } else { self.step(ms, Demand::Hold(tenths(kmh)), 0) }
    }

    /// The driver hands over: slow enough, or just not; now and then something is missing, or comes on the very tick.
    fn hand_over(&mut self, first: bool) {
        let ceiling = ceiling_kmh(self.spec);
        let aim_kmh = match self.dice.weighted(&[3, 4, 2, 1]) {
            0 if first => self.speed_kmh,
            0 => 0.0,
            1 => f64::from(self.dice.within(0, ceiling as i32)),
            2 => ceiling + f64::from(self.dice.within(-2, 2)),
            _ => ceiling + f64::from(self.dice.within(0, 40)),
        };
        if aim_kmh < self.speed_kmh {
            self.go_to(aim_kmh);
        }
        let (from_ms, out_ms) = (self.now_ms, if first { 0 } else { self.dice.ms(300, 1500) });
        // Now and then the driver is there before the box is.
        let (soonest_ms, latest_ms) = if !first {
            (300, 1200)
        } else if self.dice.chance(20) {
            (0, 300)
        } else {
            (300, 2500)
        };
        let settle_ms = self.dice.ms(soonest_ms, latest_ms);
        let gate_ms = from_ms + settle_ms + out_ms;
        if !first {
            self.event(When::At(from_ms + settle_ms), Happening::Lever(Lever::D));
        }
        let mut due_ms = gate_ms;
        if self.dice.chance(97) {
            self.event(When::At(gate_ms), Happening::Lever(Lever::Gate));
        }
        if self.spec.facts.take_over == TakeOver::Button {
            due_ms += self.dice.ms(50, 800);
            let ms = self.dice.ms(50, 600) as u16;
            self.event(When::At(due_ms), Happening::Button(ms));
        }
        // Held long enough, the edge and its bounce included, give or take five ticks.
        due_ms += self.spec.limits.conditions_held.ms() + self.spec.limits.lever_bounce.ms();
        let tick_ms = self.spec.facts.tick.ms().max(1);
        self.let_go = false;
        let plain = if self.place == Place::Road { 30 } else { 5 };
        match self.dice.weighted(&[plain, 2, 2, 1]) {
            0 => {}
            // Missing at the edge, and for a while after.
            1 => {
                let before_ms = self.dice.ms(0, 1500);
                self.trouble(When::At(gate_ms.saturating_sub(before_ms)));
            }
            // On the tick on which it would engage, or near it.
            2 => {
                let off = self.dice.within(-5, 5);
                self.trouble(When::At((due_ms + 5 * tick_ms).saturating_add_signed((off - 5) * tick_ms as i32)));
            }
            _ => self.fidget(gate_ms),
        }
        let ms = settle_ms + out_ms + self.dice.ms(400, 1500);
        self.hold(ms, aim_kmh);
    }

    /// The lever goes out and in again several times.
    fn fidget(&mut self, from_ms: u32) {
        let mut at_ms = from_ms;
        let (out_ms, in_ms) = (self.dice.ms(20, 700), self.dice.ms(20, 1300));
        for _ in 0..self.dice.within(1, 7) {
            at_ms += in_ms;
            let out = self.dice.one([Lever::D, Lever::D, Lever::N, Lever::R]);
            self.event(When::At(at_ms), Happening::Lever(out));
            at_ms += out_ms;
            self.event(When::At(at_ms), Happening::Lever(Lever::Gate));
        }
    }

    fn scene(&mut self) {
        if self.let_go && self.dice.chance(75) {
            return self.hand_over(false);
        }
        // On the road most drives go their way undisturbed: only so the high gears are ever reached.
        let weights = if self.place == Place::Road { [8, 4, 1, 0] } else { [3, 4, 3, 1] };
        match self.dice.weighted(&weights) {
            0 => self.drive(),
            1 => {
                let trouble = self.troubles();
                self.shuttle(trouble);
            }
            2 => {
                let when = self.interesting();
                self.trouble(when);
                self.drive();
            }
            _ => {
                let fast = self.speed_kmh > ceiling_kmh(self.spec) * 1.6;
                if !fast || self.dice.chance(30) { self.hand_over(false) } else { self.drive() }
            }
        }
    }

    /// In town two scenes of three have something go wrong.
    fn troubles(&mut self) -> bool {
        let percent = if self.place == Place::Road { 20 } else { 66 };
        self.dice.chance(percent)
    }

    /// At a speed at which the pedal alone decides between two gears: down to the floor and off again, in turns; most
    /// that goes wrong then does so just as a shift is asked for, or while it is made.
    fn shuttle(&mut self, trouble: bool) {
        let (low_kmh, high_kmh) = self.between_lines();
        let kmh = low_kmh + (high_kmh - low_kmh) * f64::from(self.dice.below(1001)) / 1000.0;
        self.go_to(kmh);
        let turns = self.dice.within(1, 3) as u32;
        let at = self.dice.below(2 * turns);
        for turn in 0..turns {
            for part in 0..2 {
                if trouble && at == 2 * turn + part {
                    let later_ms = self.dice.ms(0, 600);
                    let when = if self.dice.chance(75) { When::At(self.now_ms + later_ms) } else { self.interesting() };
                    self.trouble(when);
                }
                let (ms, pedal) = if part == 0 {
                    (self.dice.ms(500, 2500), if self.dice.chance(60) { 1000 } else { self.pedal() })
                } else {
                    (self.dice.ms(800, 3500), if self.dice.chance(50) { 0 } else { self.dice.within(0, 300) as u16 })
                };
                self.step(ms, Demand::Pedal(pedal), 0);
            }
        }
    }

    /// The speeds between a pair's up line with a light pedal and its down line with the pedal on the floor.
    fn between_lines(&mut self) -> (f64, f64) {
        let (lowest, top) = (lowest_gear(self.spec), top_gear(self.spec));
        let pairs = match self.place {
            Place::Town => 1,
            Place::Road => i32::from(top.saturating_sub(lowest)).max(1),
        };
        let low = lowest + self.dice.within(0, pairs - 1) as u8;
        let light_kmh = self.spec.map.up_kmh(low, 10.0).unwrap_or(40.0);
        let floored_kmh = self.spec.map.down_kmh(low + 1, 100.0).unwrap_or(light_kmh + 10.0);
        (light_kmh.min(floored_kmh - 4.0).max(3.0), floored_kmh.max(5.0))
    }

    /// Goes to a speed: full-hearted up, on the brake down.
    fn go_to(&mut self, kmh: f64) {
        let off_kmh = kmh - self.speed_kmh;
        if off_kmh < -8.0 {
            let ms = (-off_kmh / 9.0 * 1000.0).min(12_000.0) as u32 / 10 * 10;
            self.step(ms, Demand::Pedal(0), 260);
        }
        let gain_s = if off_kmh > 8.0 { gain_s(self.spec, self.speed_kmh, kmh, 0.45) } else { 0.0 };
        let ms = (gain_s * 100.0).min(3000.0) as u32 * 10;
        let settle_ms = self.dice.ms(200, 1500);
        self.hold(ms + settle_ms, kmh);
    }

    /// Something happens; what lasts is mostly mended a little later; and now and then a second thing comes with it.
    fn trouble(&mut self, when: When) {
        let what = self.happenings.any(&mut self.dice);
        self.event(when, what);
        self.let_go |= !matches!(
            what,
            Happening::WheelLock(_) | Happening::WheelSpin(..) | Happening::Refuse(_) | Happening::SlowShifts(_)
        );
        let (lasts_ms, mended) = (self.dice.ms(20, 4000), self.dice.chance(85));
        let later = |ms: u32| match when {
            When::At(at) => When::At(at + ms),
            When::After(condition, at) => When::After(condition, at + ms),
        };
        let back = match what {
            Happening::Lever(lever) if lever != Lever::Gate => Some(Happening::Lever(Lever::Gate)),
            Happening::Range(range) if range != Range::High => Some(Happening::Range(Range::High)),
            Happening::Ignition(false) => Some(Happening::Ignition(true)),
            Happening::Engine(false) => Some(Happening::Engine(true)),
            Happening::Swapped(true) => Some(Happening::Swapped(false)),
            _ => None,
        };
        if let Some(back) = back.filter(|_| mended) {
            self.event(later(lasts_ms), back);
        }
        if self.dice.chance(20) {
            let second = self.happenings.any(&mut self.dice);
            let ms = if self.dice.chance(50) { 0 } else { self.dice.ms(10, 800) };
            self.event(later(ms), second);
        }
    }

    /// A tick on which something may matter: within the next scene, or after the box or gearbox has done something.
    fn interesting(&mut self) -> When {
        let soon = When::At(self.now_ms + self.dice.ms(0, 3000));
        if self.dice.chance(35) {
            return soon;
        }
        let direction = self.dice.one([Direction::Up, Direction::Down]);
        let condition = match self.dice.weighted(&[3, 3, 2, 2, 1, 1]) {
            0 => Condition::Closes(direction),
            1 => Condition::Opens(direction),
            2 => Condition::ShiftBegins,
            3 => Condition::ShiftEnds,
            4 => Condition::SpeedAbove(self.line_speed()),
            _ => Condition::Gear(self.dice.within(1, i32::from(top_gear(self.spec))) as u8),
        };
        if self.waited.contains(&condition) {
            return soon;
        }
        self.waited.push(condition);
        // Inside a pulse or shift, just after it, or within the time in which nothing else may be commanded.
        let ms = match self.dice.weighted(&[3, 2, 2]) {
            0 => self.dice.ms(0, 150),
            1 => self.dice.ms(0, 800),
            _ => self.dice.ms(0, 3000),
        };
        When::After(condition, ms)
    }

    /// A line's speed at some pedal, one count beside it, or a few km/h off, 0.1 km/h.
    fn line_speed(&mut self) -> u16 {
        let lines = &self.spec.map.lines;
        let at = self.dice.below(u32::try_from(lines.len()).unwrap_or(0)) as usize;
        let pedal_pct = self.dice.one([0.0, 10.0, 20.0, 40.0, 70.0, 100.0]);
        let kmh = lines.get(at).and_then(|line| self.spec.map.speed_kmh(line.from, line.to, pedal_pct));
        let off = match self.dice.weighted(&[2, 2, 2]) {
            0 => 0,
            1 => self.dice.within(-1, 1) * 10,
            _ => self.dice.within(-40, 40),
        };
        let speed = i32::from(tenths(kmh.unwrap_or(30.0))) + off;
        speed.clamp(0, i32::from(self.top_speed())) as u16
    }

    fn top_speed(&self) -> u16 {
        let stated = self.spec.runs.values().map(|run| run.top_speed.0).fold(0.0, f64::max);
        let all = if stated > 0.0 { stated } else { highest_line_kmh(self.spec) * 1.05 };
        match self.place {
            // Up to where the pedal decides about the first shift.
            Place::Town => {
                let light_kmh = self.spec.map.up_kmh(lowest_gear(self.spec), 10.0).unwrap_or(0.0);
                tenths(ceiling_kmh(self.spec).max(light_kmh) * 1.3)
            }
            Place::Road => tenths(all).clamp(300, 2500),
        }
    }

    /// One thing a driver does.
    fn drive(&mut self) {
        let grade = self.grade;
        if self.dice.chance(20) {
            self.grade = self.dice.within(-80, 80) as i16;
        }
        let steady = if self.place == Place::Road { 3 } else { 1 };
        match self.dice.weighted(&[4, 2, 3, 3, 2, 2, 1, steady, steady]) {
            0 => self.pull(),
            1 => {
                let speed = self.line_speed();
                let ms = self.dice.ms(1500, 7000);
                self.hold(ms, f64::from(speed) / 10.0);
            }
            2 => self.lift_off(),
            3 => self.brake(),
            4 => self.stab(),
            5 => {
                let (ms, pct) = (self.dice.ms(800, 5000), self.dice.within(0, 1000) as u16);
                self.step(ms, Demand::PedalTo(pct), 0);
            }
            6 => {
                let (ms, speed) = (self.dice.ms(2000, 9000), self.line_speed());
                self.speed_kmh = f64::from(speed) / 10.0;
                self.step(ms, Demand::Cruise(speed), 0);
            }
            7 => {
                let kmh = f64::from(self.line_speed()) / 10.0;
                self.go_to(kmh);
                let ms = self.dice.ms(6000, 16_000);
                self.hold(ms, kmh);
            }
            _ => self.dither(),
        }
        self.grade = grade;
    }

    fn pedal(&mut self) -> u16 {
        match self.dice.weighted(&[2, 2, 1, 2]) {
            0 => self.dice.within(50, 300) as u16,
            1 => self.dice.within(300, 700) as u16,
            2 => self.dice.within(700, 1000) as u16,
            _ => 1000,
        }
    }

    /// Pulls away or overtakes; in town not for long.
    fn pull(&mut self) {
        let pedal = self.pedal();
        let gain_kmh_per_s = f64::from(pedal) / 1000.0 * 8.0;
        let left_kmh = (f64::from(self.top_speed()) / 10.0 - self.speed_kmh).max(4.0);
        let most_ms = (left_kmh / gain_kmh_per_s.max(0.5) * 1000.0).clamp(900.0, 9000.0) as u32;
        let ms = self.dice.ms(800, most_ms);
        self.speed_kmh += gain_kmh_per_s * f64::from(ms) / 1000.0;
        self.step(ms, Demand::Pedal(pedal), 0);
    }

    /// Off the pedal, at once or nearly, as before an upshift with a closed pedal.
    fn lift_off(&mut self) {
        let (ms, pedal) =
            (self.dice.ms(800, 5000), if self.dice.chance(70) { 0 } else { self.dice.within(10, 150) as u16 });
        self.speed_kmh = (self.speed_kmh - f64::from(ms) / 1000.0 * 1.5).max(0.0);
        self.step(ms, Demand::Pedal(pedal), 0);
    }

    fn brake(&mut self) {
        let brake = match self.dice.weighted(&[3, 1, 1]) {
            0 => self.dice.within(50, 300) as u16,
            1 => self.dice.within(300, 1000) as u16,
            _ => self.dice.within(20, 80) as u16,
        };
        let ms = self.dice.ms(500, 5000);
        self.speed_kmh = (self.speed_kmh - f64::from(ms) / 1000.0 * f64::from(brake) * 0.035).max(0.0);
        // A foot on each now and then.
        let pedal = if self.dice.chance(95) { 0 } else { self.pedal() };
        self.step(ms, Demand::Pedal(pedal), brake);
    }

    /// A little above a line and a little below, by turns.
    fn dither(&mut self) {
        let kmh = f64::from(self.line_speed()) / 10.0;
        self.go_to(kmh);
        let (ms, off_kmh) = (self.dice.ms(800, 2500), f64::from(self.dice.within(5, 20)) / 10.0);
        for _ in 0..self.dice.within(2, 5) {
            self.hold(ms, (kmh + off_kmh).max(3.0));
            self.hold(ms, (kmh - off_kmh).max(3.0));
        }
    }

    /// The pedal up and down, quickly.
    fn stab(&mut self) {
        let (low, high) = (if self.dice.chance(50) { 0 } else { self.dice.within(0, 300) as u16 }, self.pedal());
        let ms = self.dice.ms(200, 2500);
        for _ in 0..self.dice.within(1, 4) {
            self.step(ms, Demand::Pedal(high), 0);
            self.step(ms, Demand::Pedal(low), 0);
        }
    }

    fn finish(mut self, length_ms: u32) -> Drive {
        cut(&mut self.steps, length_ms);
        let in_time = |event: &Event| !matches!(event.when, When::At(ms) if ms >= length_ms);
        self.events.retain(in_time);
        Drive { start: self.start, steps: self.steps, events: self.events }
    }
}

/// Cuts the steps to this length, or makes the last longer.
fn cut(steps: &mut Vec<Step>, length_ms: u32) {
    let mut left_ms = length_ms;
    steps.retain_mut(|step| {
        step.ms = step.ms.min(left_ms);
        left_ms -= step.ms;
        step.ms > 0
    });
    if let Some(last) = steps.last_mut() {
        last.ms += left_ms;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive_check::check;
    use crate::drive_text::lines;
    use crate::make::test_spec::van;
    use sha2::{Digest, Sha256};

    fn drives(seed: u64, count: u32, length_ms: u32) -> Vec<Drive> {
        (0..count).map(|number| random_drive(&van(), seed, number, length_ms)).collect()
    }

    #[test]
    fn random_drives_are_within_bounds_and_of_their_length() {
        let mut odd = van();
        odd.map.lines.clear();
        odd.limits.engagement_speed_ceiling = crate::units::Kmh(300.0);
        odd.facts.take_over = TakeOver::Button;
        for spec in [van(), odd] {
            for length_ms in [1000, 5000, 60_000, 600_000] {
                for number in 0..100 {
                    let drive = random_drive(&spec, 7, number, length_ms);
                    assert_eq!(check(&drive), Ok(()), "{}", lines(&drive).join("\n"));
                    assert_eq!(drive.length_ms(), length_ms);
                }
            }
        }
        assert_eq!(check(&random_drive(&van(), 7, 0, u32::MAX)), Ok(()));
    }

    #[test]
    fn a_drive_depends_on_seed_and_number_alone() {
        let forward = drives(3, 20, 60_000);
        let mut backward: Vec<Drive> = (0..20).rev().map(|number| random_drive(&van(), 3, number, 60_000)).collect();
        backward.reverse();
        assert_eq!(forward, backward);
        assert!(forward.iter().zip(drives(4, 20, 60_000)).all(|(a, b)| *a != b));
        assert!(forward.iter().enumerate().all(|(at, drive)| !forward[..at].contains(drive)));
    }

    /// Shares over 2,000 drives, with room for chance.
    #[test]
    fn drives_are_mixed_as_meant() {
        let drives = drives(1, 2000, 60_000);
        let share = |count: usize, of: usize| count as f64 / of as f64;
        let into_gate = |drive: &Drive| drive.events.iter().filter(|e| e.what == Happening::Lever(Lever::Gate)).count();
        // A minute holds several hand-overs, and hardly a drive has none.
        let mean = share(drives.iter().map(into_gate).sum(), drives.len());
        assert!((3.0..12.0).contains(&mean), "{mean}");
        assert!(share(drives.iter().filter(|drive| into_gate(drive) > 0).count(), drives.len()) > 0.95);
        let steps = || drives.iter().flat_map(|drive| &drive.steps);
        let unbraked = share(steps().filter(|step| step.brake == 0).count(), steps().count());
        assert!((0.5..0.9).contains(&unbraked), "{unbraked}");
        assert!(steps().all(|step| step.grade.abs() <= 80));
        // Each kind of happening but the button, which the van's box hasn't.
        let mut kinds = Vec::new();
        for kind in drives.iter().flat_map(|drive| &drive.events).map(|event| std::mem::discriminant(&event.what)) {
            if !kinds.contains(&kind) {
                kinds.push(kind);
            }
        }
        assert_eq!(kinds.len(), 20);
    }

    /// Value stability: whoever changes the drives of a version by accident learns it here. The digest is of the
    /// generator's own output; a meant change raises [`GENERATOR`] and renews it.
    #[test]
    fn the_first_drives_of_this_version_stay_what_they_are() {
        let mut digest = Sha256::new();
        for drive in drives(1, 20, 60_000) {
            digest.update(lines(&drive).join("\n"));
        }
        let hex: String = digest.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hex, "7563fdb4aab124c1e9f922391c21b5829cf5764a2b8e4fbfac7fae21e5ae3983");
    }
}
