//! A drive being written, step after step, as one would tell it to a test driver.

use super::dice::fnv;
use crate::drive::{Condition, Demand, Drive, Event, Happening, Start, Step, When};
use crate::signal::Lever;
use crate::spec::Spec;
use crate::spec::facts::TakeOver;
use crate::units::RAD_S_PER_RPM;

/// A drive in the making, with the speed (km/h) it is expected to have reached.
#[derive(Clone)]
pub(super) struct Draft<'a> {
    spec: &'a Spec,
    pub(super) drive: Drive,
    speed_kmh: f64,
}

/// A speed in km/h or a share in % as a drive keeps it.
pub(super) fn tenths(value: f64) -> u16 {
    // `as` saturates, and the grid is far finer than u16 is wide.
    (value * 10.0).round().clamp(0.0, 3000.0) as u16
}

/// The button is pressed so long after the lever has come into the gate, ms.
pub(super) const PRESSED_MS: u32 = 400;

impl<'a> Draft<'a> {
    /// At rest in first gear, lever in D.
    pub(super) fn at_rest(spec: &'a Spec) -> Self {
        Self::rolling(spec, 0.0)
    }

    /// At this speed in a gear that suits it, lever in D.
    pub(super) fn rolling(spec: &'a Spec, speed_kmh: f64) -> Self {
        let start = Start { speed: tenths(speed_kmh), gear: gear_for(spec, speed_kmh), ..Start::default() };
        Self { spec, drive: Drive { start, steps: Vec::new(), events: Vec::new() }, speed_kmh }
    }

    /// Engaged in the usual way, at rest or rolling below the ceiling by turns; a little later each time, so that the
    /// edge meets the link in every phase.
    pub(super) fn engaged(spec: &'a Spec, turn: u32) -> Self {
        let gate_ms = 1500 + turn * 370 % 1000;
        if turn % 3 == 1 {
            let speed_kmh = (ceiling_kmh(spec) * 0.75).floor();
            Self::rolling(spec, speed_kmh).hold(3500, speed_kmh).gate_at(gate_ms)
        } else {
            Self::at_rest(spec).stand(3500).gate_at(gate_ms)
        }
    }

    /// Length so far.
    pub(super) fn now_ms(&self) -> u32 {
        self.drive.length_ms()
    }

    fn step(mut self, ms: u32, demand: Demand, brake_pct: f64) -> Self {
        if ms > 0 {
            self.drive.steps.push(Step { ms, demand, brake: tenths(brake_pct), grade: 0 });
        }
        self
    }

    /// Pedal at once.
    pub(super) fn pedal(self, ms: u32, pct: f64) -> Self {
        self.step(ms, Demand::Pedal(tenths(pct)), 0.0)
    }

    /// Pedal moving.
    pub(super) fn pedal_to(self, ms: u32, pct: f64) -> Self {
        self.step(ms, Demand::PedalTo(tenths(pct)), 0.0)
    }

    /// Foot off the pedal and on the brake.
    pub(super) fn brake(self, ms: u32, pct: f64) -> Self {
        self.step(ms, Demand::Pedal(0), pct)
    }

    /// Standing on the brake.
    pub(super) fn stand(mut self, ms: u32) -> Self {
        self.speed_kmh = 0.0;
        self.brake(ms, 15.0)
    }

    /// The driver holds a speed.
    pub(super) fn hold(mut self, ms: u32, kmh: f64) -> Self {
        self.speed_kmh = kmh;
        self.step(ms, Demand::Hold(tenths(kmh)), 0.0)
    }

    /// The driver holds a falling speed, on the brake at the same time.
    pub(super) fn hold_braking(mut self, ms: u32, kmh: f64, brake_pct: f64) -> Self {
        self.speed_kmh = kmh;
        self.step(ms, Demand::Hold(tenths(kmh)), brake_pct)
    }

    /// Cruise control holds a speed.
    pub(super) fn cruise(mut self, ms: u32, kmh: f64) -> Self {
        self.speed_kmh = kmh;
        self.step(ms, Demand::Cruise(tenths(kmh)), 0.0)
    }

    /// The steps from here on lie on this grade: sets it on the last one.
    pub(super) fn grade(mut self, pct: f64) -> Self {
        if let Some(last) = self.drive.steps.last_mut() {
            last.grade = (pct * 10.0).round().clamp(-400.0, 400.0) as i16;
        }
        self
    }

    /// Road grip.
    pub(super) fn grip(mut self, hundredths: u8) -> Self {
        self.drive.start.grip = hundredths;
        self
    }

    /// Goes to a speed: full-hearted by the pedal up, on the brake down.
    pub(super) fn reach(self, kmh: f64) -> Self {
        let (from, to) = (self.speed_kmh, kmh);
        if to >= from {
            let ms = reach_ms(self.spec, from, to);
            return self.hold(ms, to);
        }
        // A brake of 20 % takes off 7 km/h a second.
        let ms = whole_ms((from - to) / 7.0);
        self.brake(ms, 20.0).hold(1000, to)
    }

    /// About so fast now.
    pub(super) fn slowed_to(mut self, kmh: f64) -> Self {
        self.speed_kmh = kmh;
        self
    }

    /// Something happens at a time.
    pub(super) fn at(mut self, ms: u32, what: Happening) -> Self {
        self.drive.events.push(Event { when: When::At(ms), what });
        self
    }

    /// Something happens now.
    pub(super) fn now(self, what: Happening) -> Self {
        let ms = self.now_ms();
        self.at(ms, what)
    }

    /// Something happens after a condition.
    pub(super) fn after(mut self, condition: Condition, ms: u32, what: Happening) -> Self {
        self.drive.events.push(Event { when: When::After(condition, ms), what });
        self
    }

    /// The driver hands over: lever into the gate, and the button where that is the way.
    pub(super) fn gate_at(self, ms: u32) -> Self {
        let draft = self.at(ms, Happening::Lever(Lever::Gate));
        match draft.spec.facts.take_over {
            TakeOver::Lever => draft,
            TakeOver::Button => draft.at(ms + PRESSED_MS, Happening::Button(300)),
        }
    }

    /// The driver hands over after a condition.
    pub(super) fn gate_after(self, condition: Condition, ms: u32) -> Self {
        let draft = self.after(condition, ms, Happening::Lever(Lever::Gate));
        match draft.spec.facts.take_over {
            TakeOver::Lever => draft,
            TakeOver::Button => draft.after(condition, ms + PRESSED_MS, Happening::Button(300)),
        }
    }

    /// Crosses the map up and down, so that a box that wrongly commands is seen to do so.
    pub(super) fn crossing(mut self) -> Self {
        self.speed_kmh = (self.speed_kmh - 5.0).max(10.0);
        self.pedal(3000, 100.0).brake(2500, 20.0).pedal(2500, 50.0)
    }

    /// Slows below the ceiling, moves the lever out of the gate and in again, and pulls away.
    pub(super) fn again(self) -> Self {
        let slow_kmh = (ceiling_kmh(self.spec) * 0.6).floor();
        let brake_ms = whole_ms(((self.speed_kmh + 20.0 - slow_kmh) / 8.0).max(0.5));
        let draft = self.brake(brake_ms, 25.0).hold(4000, slow_kmh);
        let from_ms = draft.now_ms() - 2600;
        draft.at(from_ms, Happening::Lever(Lever::D)).gate_at(from_ms + 900).pedal(6000, 50.0)
    }
}

/// Seconds as whole hundredths in ms.
fn whole_ms(seconds: f64) -> u32 {
    (seconds * 100.0).round().clamp(0.0, 60_000.0) as u32 * 10
}

/// The engagement ceiling.
pub(super) fn ceiling_kmh(spec: &Spec) -> f64 {
    spec.limits.engagement_speed_ceiling.0
}

/// The highest gear that box and map use.
pub(super) fn top_gear(spec: &Spec) -> u8 {
    spec.map.top_gear().min(spec.gears()).clamp(1, 10)
}

/// The lowest gear the box commands.
pub(super) fn lowest_gear(spec: &Spec) -> u8 {
    spec.facts.lowest_gear.clamp(1, top_gear(spec))
}

/// The highest speed of a line.
pub(super) fn highest_line_kmh(spec: &Spec) -> f64 {
    spec.map.lines.iter().flat_map(|line| line.speeds.iter()).map(|speed| speed.0).fold(0.0, f64::max)
}

/// A gear that suits a speed driven lightly: the one the up lines lead to.
pub(super) fn gear_for(spec: &Spec, speed_kmh: f64) -> u8 {
    if speed_kmh < 5.0 {
        return 1;
    }
    let (lowest, top) = (lowest_gear(spec), top_gear(spec));
    (lowest..top).take_while(|&gear| spec.map.up_kmh(gear, 15.0).is_some_and(|line| line <= speed_kmh)).count() as u8
        + lowest
}

/// Time to gain speed with 45 % of the rated power on average, and 2 s to settle.
fn reach_ms(spec: &Spec, from_kmh: f64, to_kmh: f64) -> u32 {
    whole_ms(gain_s(spec, from_kmh, to_kmh, 0.45) + 2.0)
}

/// Time to gain a speed from rest with this share of the rated power.
pub(super) fn gain_ms(spec: &Spec, kmh: f64, share: f64) -> u32 {
    whole_ms(gain_s(spec, 0.0, kmh, share))
}

/// Seconds to go from one speed to a higher one with this share of the rated power.
pub(super) fn gain_s(spec: &Spec, from_kmh: f64, to_kmh: f64, share: f64) -> f64 {
    let curve = &spec.vehicle.engine.full_load;
    let rated_w = curve.iter().map(|point| point.torque.0 * point.speed.0 * RAD_S_PER_RPM).fold(1000.0, f64::max);
    let gain = (to_kmh * to_kmh - from_kmh * from_kmh) / (3.6 * 3.6);
    spec.vehicle.mass.get() * gain / 2.0 / (share * rated_w)
}

/// The grade (%) on which this pedal just holds this speed in this gear, nothing slipping.
pub(super) fn held_grade_pct(spec: &Spec, gear: u8, speed_kmh: f64, pedal_pct: f64) -> f64 {
    let vehicle = &spec.vehicle;
    let rpm = spec.rpm_per_kmh(gear) * speed_kmh;
    let full_nm = full_load_nm(spec, rpm);
    let drag_nm = vehicle.engine.drag.get() + vehicle.engine.drag_per_1000rpm.get() * rpm / 1000.0;
    let (p, k) = (pedal_pct / 100.0, vehicle.engine.pedal_law.get());
    let engine_nm = (full_nm + drag_nm) * p * (k - (k - 1.0) * p) - drag_nm;
    // Wheel force from power: torque times engine speed is force times road speed.
    let speed_mps = (speed_kmh / 3.6).max(0.1);
    let force_n = engine_nm * rpm * RAD_S_PER_RPM * vehicle.gearbox.efficiency.get() / 100.0 / speed_mps;
    let weight_n = vehicle.mass.get() * 9.806_65;
    let air_n = 0.6 * vehicle.drag_area.get() * speed_mps * speed_mps;
    ((force_n - air_n) / weight_n - vehicle.rolling_resistance.get()) * 100.0
}

fn full_load_nm(spec: &Spec, rpm: f64) -> f64 {
    let curve = &spec.vehicle.engine.full_load;
    for pair in curve.windows(2) {
        if let [low, high] = pair
            && rpm <= high.speed.0
        {
            let share = ((rpm - low.speed.0) / (high.speed.0 - low.speed.0)).max(0.0);
            return low.torque.0 + share * (high.torque.0 - low.torque.0);
        }
    }
    curve.last().map_or(0.0, |point| point.torque.0)
}

/// A hash of a name and a number: spreads link keys and phases over drives.
pub(super) fn small_hash(name: &str, index: u32) -> u64 {
    fnv(name.bytes().chain(index.to_le_bytes()))
}

/// A number that follows from a drive's name.
#[must_use]
pub fn name_number(name: &str) -> u32 {
    (small_hash(name, 0) >> 32) as u32
}
