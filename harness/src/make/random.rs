//! Random drives that know the spec: where its lines, ceiling and limits are, and what a driver does near them.
//!
//! Three drives of five stay in town, near the speeds at which the box may take over: one trouble follows the other, and
//! the driver hands over again after each. Two of five go over the whole map, from one gear to the next. What happens
//! when is dealt, not drawn: each kind of trouble comes before any comes again, each at another moment each time, and
//! each pair of gears is passed in each way. Numbers are drawn. A drive depends on the spec, the seed, its number and
//! its length alone.

use super::dice::Dice;
use super::draft::{ceiling_kmh, gain_s, gear_for, tenths, top_gear};
use super::happenings::{Trouble, Troubles};
use crate::drive::{Demand, Drive, Event, Happening, LONGEST_MS, Start, Step, When};
use crate::drive_check::MOST_LINES;
use crate::signal::{Lever, Range};
use crate::spec::Spec;

/// Name and version of this generator; whatever changes its drives raises the number.
pub const GENERATOR: &str = "random 4";

/// The random drive of this seed and number, of this length (1 s at least, a day at most).
#[must_use]
pub fn random_drive(spec: &Spec, seed: u64, number: u32, length_ms: u32) -> Drive {
    let length_ms = length_ms.clamp(1000, LONGEST_MS);
    let mut writer = Writer::new(spec, Dice::new(GENERATOR, seed, number));
    let (five, place) = (number / 5, number % 5);
    writer.start(place);
    // In one drive of five something is wrong with the link from the first tick on.
    if place == 3 {
        let kind = writer.troubles.of_link(&mut writer.dice);
        writer.trouble(kind, 0);
    }
    // Town, road, town, town, road.
    let mut turn = match place {
        1 => five * 2,
        4 => five * 2 + 1,
        0 => five * 3,
        _ => five * 3 + place - 1,
    };
    // Far from what a drive may hold, as one more turn adds hundreds; the last step goes on to the end.
    while writer.now_ms < length_ms && writer.steps.len().max(writer.events.len()) < MOST_LINES - 1000 {
        if place == 1 || place == 4 {
            writer.road(seed, turn)
        } else {
            writer.town(seed, turn, length_ms)
        }
        // A long drive goes on with what a drive far from its neighbours would hold.
        turn = turn.wrapping_add(1 << 20);
    }
    writer.finish(length_ms)
}

/// A drive being written.
pub(super) struct Writer<'a> {
    pub(super) spec: &'a Spec,
    pub(super) dice: Dice,
    pub(super) troubles: Troubles<'a>,
    /// Grade, 0.1 %.
    pub(super) grade: i16,
    start: Start,
    steps: Vec<Step>,
    events: Vec<Event>,
    pub(super) now_ms: u32,
    /// About where the speed is, km/h.
    pub(super) speed_kmh: f64,
    /// Something has ended the engagement, most likely.
    pub(super) let_go: bool,
    /// The lever was in the gate before the first hand-over.
    pub(super) in_gate: bool,
}

impl<'a> Writer<'a> {
    pub(super) fn new(spec: &'a Spec, mut dice: Dice) -> Self {
        let grade = if dice.chance(70) { 0 } else { dice.within(-60, 60) as i16 };
        Self {
            spec,
            troubles: Troubles::new(spec),
            dice,
            grade,
            start: Start::default(),
            steps: Vec::new(),
            events: Vec::new(),
            now_ms: 0,
            speed_kmh: 0.0,
            let_go: true,
            in_gate: false,
        }
    }

    /// Where things stand at power-up.
    pub(super) fn start(&mut self, place: u32) {
        let dice = &mut self.dice;
        let ceiling = i32::from(tenths(ceiling_kmh(self.spec)));
        let speed = match dice.weighted(&[6, 4, 1, 1]) {
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
        let grip = match dice.weighted(&[6, 2, 1]) {
            0 => 90,
            1 => 30,
            _ => dice.within(12, 60) as u8,
        };
        let gear = if dice.chance(90) { gear_for(self.spec, self.speed_kmh) } else { dice.within(1, 6) as u8 };
        // In one drive of five the lever is in the gate when the box wakes.
        let lever = if place == 2 { Lever::Gate } else { Lever::D };
        self.in_gate = lever == Lever::Gate;
        let (poll_phase_ms, link_key) = (dice.below(100) as u16, dice.bits());
        let gear = gear.clamp(1, top_gear(self.spec).max(1));
        self.start = Start { speed, gear, lever, range: Range::High, clock_ms, poll_phase_ms, link_key, grip };
    }

    pub(super) fn event(&mut self, when: When, what: Happening) {
        self.events.push(Event { when, what });
    }

    pub(super) fn step(&mut self, ms: u32, demand: Demand, brake: u16) {
        let grade = self.grade;
        self.steps.push(Step { ms: ms.max(10), demand, brake, grade });
        self.now_ms += ms.max(10);
    }

    pub(super) fn pedal(&mut self, ms: u32, pedal: u16) {
        self.step(ms, Demand::Pedal(pedal), 0);
    }

    /// The driver holds a speed; at rest on the brake.
    pub(super) fn hold(&mut self, ms: u32, kmh: f64) {
        self.speed_kmh = kmh;
        if kmh < 1.0 { self.step(ms, Demand::Pedal(0), 150) } else { self.step(ms, Demand::Hold(tenths(kmh)), 0) }
    }

    /// Goes to a speed: full-hearted up, on the brake down.
    pub(super) fn go_to(&mut self, kmh: f64) {
        let off_kmh = kmh - self.speed_kmh;
        if off_kmh < -8.0 {
            // A brake of 26 % takes off 9 km/h a second.
            let ms = (-off_kmh / 9.0 * 1000.0).min(12_000.0) as u32 / 10 * 10;
            self.step(ms, Demand::Pedal(0), 260);
        }
        let gain_s = if off_kmh > 8.0 { gain_s(self.spec, self.speed_kmh, kmh, 0.45) } else { 0.0 };
        let ms = (gain_s * 100.0).min(3000.0) as u32 * 10;
        let settle_ms = self.dice.ms(200, 300);
        self.hold(ms + settle_ms, kmh);
    }

    /// Goes to a speed; where that is far above, flat out for as long as it takes.
    pub(super) fn climb_to(&mut self, kmh: f64) {
        if kmh > self.speed_kmh + 15.0 {
            let gain_s = gain_s(self.spec, self.speed_kmh, kmh - 5.0, 0.75);
            self.pedal((gain_s * 100.0).min(4000.0) as u32 * 10, 1000);
            self.speed_kmh = kmh - 5.0;
        }
        self.go_to(kmh);
    }

    /// Something goes wrong; what lasts is mostly mended a little later; and now and then a second thing comes with it.
    pub(super) fn trouble(&mut self, kind: Trouble, at_ms: u32) {
        self.trouble_for(kind, at_ms, 20, 4000);
        if self.dice.chance(15) {
            let second = self.troubles.any(&mut self.dice);
            let later_ms = if self.dice.chance(50) { 0 } else { self.dice.ms(10, 800) };
            let what = self.troubles.happening(second, &mut self.dice);
            self.event(When::At(at_ms + later_ms), what);
            self.let_go |= second.ends_engagement();
        }
    }

    /// Something goes wrong; what lasts is mostly mended after so long, ms.
    pub(super) fn trouble_for(&mut self, kind: Trouble, at_ms: u32, least_ms: u32, most_ms: u32) {
        let what = self.troubles.happening(kind, &mut self.dice);
        self.event(When::At(at_ms), what);
        self.let_go |= kind.ends_engagement();
        let (lasts_ms, mended) = (self.dice.ms(least_ms, most_ms), self.dice.chance(85));
        if let Some(back) = kind.mended_by().filter(|_| mended) {
            self.event(When::At(at_ms + lasts_ms), back);
        }
    }

    /// Grip of the road, 0.01.
    pub(super) fn grip(&mut self, grip: u8) {
        self.start.grip = grip;
    }

    pub(super) fn finish(mut self, length_ms: u32) -> Drive {
        cut(&mut self.steps, length_ms);
        let in_time = |event: &Event| !matches!(event.when, When::At(ms) if ms >= length_ms);
        self.events.retain(in_time);
        Drive { start: self.start, steps: self.steps, events: self.events }
    }
}

/// Cuts the steps to this length, or makes the last longer.
pub fn cut(steps: &mut Vec<Step>, length_ms: u32) {
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
    use crate::spec::facts::TakeOver;
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
        assert!(steps().all(|step| step.grade.abs() <= 150));
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
        assert_eq!(hex, "82844e5055ffe717abcc3f698a52b78da59a76677f133f8e3c9c376696480a30");
    }
}
