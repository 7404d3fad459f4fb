//! The vehicle: engine, converter, gearbox and road, stepped in fixed time. It knows no controller.
//!
//! Only + − × ÷ √ and tables, so that a run is the same to the bit wherever it runs.

mod body;
mod converter;
mod driveline;
mod engine;
#[cfg(test)]
mod gate_tests;
mod gearbox;
#[cfg(test)]
mod gearbox_tests;
#[cfg(test)]
mod halving;
mod road;
mod schedule;
mod seen;
mod shift;
mod steady;
mod table;
mod taps;
#[cfg(test)]
mod test_van;
#[cfg(test)]
mod tests;

use crate::drive::Start;
use crate::signal::{Contacts, Lever, Range};
use crate::spec::Spec;
use crate::units::RAD_S_PER_RPM;
pub use body::Body;
use converter::Converter;
use driveline::{Driveline, OnRoad};
pub use engine::limits_at;
use engine::{Engine, RPM_PER_RAD_S};
pub use gearbox::{Gearbox, View};
use road::{GRAVITY, RoadLoad};
use seen::spin_kmh;
pub use steady::Steady;

/// Length of a vehicle step, ms: the longest that a 10 ms tick allows; halving it moves v(t) and the crossings of the
/// map's lines by less than 0.05 km/h over 60 s drives. Steps are finer while the lock-up clutch slips and while a shift
/// runs: their torques turn within 10 ms.
///
/// Measured with steps of 10 ms: on scripted drives at most 0.031 km/h; of 100 random drives of 60 s on each of the van,
/// the hatch and the truck the median moves by 0.010, 0.014 and 0.010 km/h, and 0, 4 and 5 move by more than 0.05 (at
/// most 2.4). Where a drive creeps up to a speed at which the gearbox shifts by itself, the shift may come in another of
/// the gearbox's cycles whatever the step: each failure is therefore driven again at half the step.
pub const STEP_MS: f64 = 10.0;

/// So many fine steps go into a whole one where fine steps are taken.
const FINE: u32 = 4;

/// Version of the vehicle model: raised whenever a drive may come out differently.
pub const MODEL: u32 = 3;

/// The lock-up clutch holds this many times the engine's greatest torque (invented).
const LOCKUP_CAPACITY: f64 = 1.5;

/// It holds its full capacity from this slip on, and in proportion below, rad/s (invented; 19 r/min).
const LOCKUP_SLIP: f64 = 2.0;

/// It closes this far above the speed below which it opens, rad/s (invented; 100 r/min).
const LOCKUP_APART: f64 = 100.0 * RAD_S_PER_RPM;

/// Above this speed against the gear chosen, reverse and park don't take hold, m/s (invented).
const INHIBIT_MPS: f64 = 1.5;

/// The rest of a step after a standstill within it is taken no shorter than this part of the step.
const LEAST_PART: f64 = 1e-6;

/// What acts on the vehicle during a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Controls {
    /// Pedal as the driver holds it (shown on the port), %.
    pub pedal_pct: f64,
    /// Pedal that the engine obeys, %; differs under cruise control.
    pub torque_pedal_pct: f64,
    /// Braking demanded, m/s², 0 or more.
    pub brake_mps2: f64,
    /// Grade, %; up is positive.
    pub grade_pct: f64,
    /// Lever position.
    pub lever: Lever,
    /// Transfer case.
    pub range: Range,
    /// Contacts of the box, as they are now.
    pub contacts: Contacts,
    /// The driver's own taps.
    pub driver_taps: Contacts,
    /// The wheels stand still although the vehicle moves.
    pub wheel_lock: bool,
    /// The driven wheels turn faster by this, km/h.
    pub wheel_spin_kmh: f64,
}

/// A vehicle in motion.
#[derive(Debug, Clone)]
pub struct Vehicle {
    engine: Engine,
    converter: Converter,
    gearbox: Gearbox,
    whole: Pace,
    fine: Pace,
    /// The lock-up clutch slips: fine steps are taken.
    slips: bool,
    mass_kg: f64,
    /// Mass with what the wheels' inertia adds.
    moved_kg: f64,
    rolling: f64,
    drag_area_m2: f64,
    wheel_radius_m: f64,
    driven_share: f64,
    efficiency: f64,
    low_range: f64,
    lockup_from_gear: u8,
    lockup_above: f64,
    lockup_ms: f64,
    grip: f64,
    engine_on: bool,
    speed_mps: f64,
    /// Gain of speed in the last call of `run`, m/s, and its length, ms.
    gained: (f64, f64),
    engine_rad_s: f64,
    /// Where the pedal's lag has got to, 0 to 1.
    effective_pedal: f64,
    /// Share of the lock-up clutch's capacity.
    lockup: f64,
    /// The last grade, %, and what it costs: grades stand for seconds.
    load: (f64, RoadLoad),
    /// The last total ratio, and turbine speed over road speed in it.
    geared: (f64, f64),
}

/// What stays the same during one call of `run`.
struct Stretch {
    load: RoadLoad,
    brake_n: f64,
    most_drive_n: f64,
    pedal: f64,
    range: f64,
    connected: bool,
    contacts: Contacts,
    spin_mps: f64,
}

/// The length of a step.
#[derive(Debug, Clone, Copy)]
struct Pace {
    ms: f64,
    per_s: f64,
}

impl Pace {
    fn new(ms: f64) -> Self {
        Self { ms, per_s: 1000.0 / ms }
    }
}

impl Vehicle {
    /// A vehicle in a start state; `step_ms` divides every length that `run` is asked for.
    #[must_use]
    pub fn new(spec: &Spec, start: &Start, step_ms: f64) -> Self {
        let vehicle = &spec.vehicle;
        let radius = vehicle.wheel_radius.get();
        let mut new = Self {
            engine: Engine::new(&vehicle.engine),
            converter: Converter::new(&vehicle.converter),
            gearbox: Gearbox::new(spec),
            whole: Pace::new(step_ms),
            fine: Pace::new(step_ms / f64::from(FINE)),
            slips: false,
            mass_kg: vehicle.mass.get(),
            moved_kg: vehicle.mass.get() + vehicle.wheel_inertia.get() / (radius * radius),
            rolling: vehicle.rolling_resistance.get(),
            drag_area_m2: vehicle.drag_area.get(),
            wheel_radius_m: radius,
            driven_share: vehicle.driven_share.get() * 0.01,
            efficiency: vehicle.gearbox.efficiency.get() * 0.01,
            low_range: vehicle.gearbox.low_range.map_or(1.0, |r| r.get()),
            lockup_from_gear: vehicle.converter.lockup_from_gear,
            lockup_above: vehicle.converter.lockup_above.get() * RAD_S_PER_RPM,
            lockup_ms: vehicle.converter.lockup_time.get(),
            grip: 0.0,
            engine_on: true,
            speed_mps: 0.0,
            gained: (0.0, 1.0),
            engine_rad_s: 0.0,
            effective_pedal: 0.0,
            lockup: 0.0,
            load: (f64::NAN, RoadLoad::new(0.0, 0.0, 0.0, 0.0)),
            geared: (f64::NAN, 0.0),
        };
        new.restart(start);
        new
    }

    /// Back to a start state, without allocating.
    pub fn restart(&mut self, start: &Start) {
        let range = self.range_ratio(start.range);
        self.grip = f64::from(start.grip) * 0.01;
        self.engine_on = true;
        self.speed_mps = f64::from(start.speed) * 0.1 / 3.6;
        self.gained = (0.0, 1.0);
        self.effective_pedal = 0.0;
        self.gearbox.restart(start, self.speed_mps * 3.6 * range);
        let idle = self.engine.idle_rpm * RAD_S_PER_RPM;
        let drives = matches!(start.lever, Lever::D | Lever::Gate) && start.range != Range::Transit;
        let turbine =
            if drives { self.turbine_per_mps(range, self.gearbox.course(0.0).ratio) * self.speed_mps } else { 0.0 };
        self.engine_rad_s = turbine.max(idle);
        let locked = self.gearbox.gear() >= self.lockup_from_gear && turbine > self.lockup_above + LOCKUP_APART;
        self.lockup = if locked { 1.0 } else { 0.0 };
        self.slips = false;
    }

    /// Lets time pass: a whole number of steps.
    pub fn run(&mut self, controls: &Controls, ms: f64) {
        let stretch = self.stretch(controls);
        let before = self.speed_mps;
        let steps = (ms / self.whole.ms + 0.5) as u32;
        for _ in 0..steps {
            let fine = self.slips || self.gearbox.opens_lockup();
            let (times, pace) = if fine { (FINE, self.fine) } else { (1, self.whole) };
            for _ in 0..times {
                self.step(controls, &stretch, &pace);
            }
        }
        if steps > 0 {
            self.gained = (self.speed_mps - before, f64::from(steps) * self.whole.ms);
        }
    }

    /// The engine stalls (false) or starts again (true).
    pub fn set_engine(&mut self, on: bool) {
        self.engine_on = on;
    }

    /// The gearbox refuses this many taps from now on.
    pub fn refuse_taps(&mut self, n: u8) {
        self.gearbox.refuse_taps(n);
    }

    /// Shifts take this much longer from now on.
    pub fn slow_shifts(&mut self, more_ms: f64) {
        self.gearbox.slow_shifts(more_ms);
    }

    /// The gearbox goes to this gear by itself, once.
    pub fn self_shift(&mut self, gear: u8) {
        self.gearbox.shift_by_itself(gear);
    }

    fn range_ratio(&self, range: Range) -> f64 {
        if range == Range::Low { self.low_range } else { 1.0 }
    }

    #[inline]
    fn turbine_per_mps(&self, range: f64, ratio: f64) -> f64 {
        ratio * range / self.wheel_radius_m
    }

    fn stretch(&mut self, controls: &Controls) -> Stretch {
        let weight = self.mass_kg * GRAVITY;
        if self.load.0 != controls.grade_pct {
            let grade = controls.grade_pct * 0.01;
            self.load = (controls.grade_pct, RoadLoad::new(self.mass_kg, self.rolling, self.drag_area_m2, grade));
        }
        let load = self.load.1;
        let parked = controls.lever == Lever::P && self.speed_mps.abs() < INHIBIT_MPS;
        let brake = if parked { f64::INFINITY } else { controls.brake_mps2.max(0.0) * self.moved_kg };
        let drives = match controls.lever {
            Lever::P | Lever::N => false,
            Lever::R => self.speed_mps < INHIBIT_MPS,
            Lever::D | Lever::Gate => true,
        };
        Stretch {
            load,
            brake_n: brake.min(self.grip * weight),
            most_drive_n: self.grip * weight * self.driven_share,
            pedal: (controls.torque_pedal_pct * 0.01).clamp(0.0, 1.0),
            range: self.range_ratio(controls.range),
            connected: drives && controls.range != Range::Transit,
            contacts: Contacts {
                up: controls.contacts.up || controls.driver_taps.up,
                down: controls.contacts.down || controls.driver_taps.down,
            },
            spin_mps: if controls.wheel_spin_kmh == 0.0 { 0.0 } else { spin_kmh(controls) / 3.6 },
        }
    }

    #[inline]
    fn step(&mut self, controls: &Controls, stretch: &Stretch, pace: &Pace) {
        let rpm = self.engine_rad_s * RPM_PER_RAD_S;
        // A gearbox with its own wheel speed sees what the wheels do; otherwise it knows the road speed.
        let seen_mps = if controls.wheel_lock && self.gearbox.blind() { 0.0 } else { self.speed_mps.abs() };
        self.gearbox.step(
            &View {
                speed_kmh: seen_mps * 3.6 * stretch.range,
                engine_on: self.engine_on,
                at_limiter: self.engine.limits_at(rpm),
                pedal: stretch.pedal,
                lever: controls.lever,
                contacts: stretch.contacts,
            },
            pace.ms,
        );
        let before = self.effective_pedal;
        self.effective_pedal = self.engine.follow(before, stretch.pedal, pace.ms);
        let course = self.gearbox.course(0.5 * pace.ms);
        let share = course.asked * self.engine.share(0.5 * (before + self.effective_pedal));
        let engine = self.engine.torque(self.engine_rad_s, share, self.engine_on);
        let mut line = Driveline {
            engine,
            inertia: self.engine.inertia,
            slip: converter::Slip::default(),
            clutch_nm: 0.0,
            clutch_stiffness: 0.0,
            turbine_per_mps: 0.0,
            passed: course.passed,
            efficiency: self.efficiency,
            apart: controls.wheel_lock || !stretch.connected,
        };
        if stretch.connected {
            let total = course.ratio * stretch.range;
            if self.geared.0 != total {
                self.geared = (total, self.turbine_per_mps(stretch.range, course.ratio));
            }
            line.turbine_per_mps = self.geared.1;
            let wheel_mps = if controls.wheel_lock { 0.0 } else { self.speed_mps + stretch.spin_mps };
            let turbine = line.turbine_per_mps * wheel_mps;
            self.work_lockup(turbine, pace.ms);
            line.slip = self.converter.slip(self.engine_rad_s, turbine);
            // Capacity over slip, so that the clutch draws the speeds together and never past each other.
            let slip_rad_s = self.engine_rad_s - turbine;
            let most_nm = self.lockup * LOCKUP_CAPACITY * self.engine.peak_nm;
            line.clutch_stiffness = if most_nm > 0.0 { most_nm / slip_rad_s.abs().max(LOCKUP_SLIP) } else { 0.0 };
            line.clutch_nm = line.clutch_stiffness * slip_rad_s;
            self.slips = most_nm > 0.0 && slip_rad_s.abs() > LOCKUP_SLIP;
        } else {
            self.lockup = 0.0;
            self.slips = false;
        }
        let engine_change = self.move_wheels(&line, stretch, pace.per_s);
        self.engine_rad_s = (self.engine_rad_s + engine_change).max(0.0);
    }

    /// Closes the lock-up clutch evenly, opens it at once.
    #[inline]
    fn work_lockup(&mut self, turbine: f64, step_ms: f64) {
        let least = if self.lockup > 0.0 { self.lockup_above } else { self.lockup_above + LOCKUP_APART };
        let closes = turbine > least && self.gearbox.gear() >= self.lockup_from_gear && !self.gearbox.opens_lockup();
        self.lockup = if closes { (self.lockup + step_ms / self.lockup_ms.max(step_ms)).min(1.0) } else { 0.0 };
    }

    /// The road under the vehicle, for motion in one direction.
    #[inline]
    fn towards(&self, stretch: &Stretch, sign: f64) -> OnRoad {
        OnRoad {
            sign,
            moved_kg: self.moved_kg,
            against_n: stretch.load.against_n(self.speed_mps, sign) + sign * stretch.brake_n,
            against_slope: 2.0 * stretch.load.air_per_v2 * self.speed_mps.abs(),
            most_drive_n: stretch.most_drive_n,
        }
    }

    /// Moves the vehicle by one step and gives the change of engine speed.
    #[inline]
    fn move_wheels(&mut self, line: &Driveline, stretch: &Stretch, steps_per_s: f64) -> f64 {
        if self.speed_mps == 0.0 {
            return self.move_from_rest(line, stretch, steps_per_s);
        }
        let change = line.change(&self.towards(stretch, self.speed_mps.signum()), steps_per_s);
        let new = self.speed_mps + change.speed_mps;
        if new * self.speed_mps < 0.0 {
            // It comes to rest within the step; what then holds or moves it has the rest of the step.
            let part = -self.speed_mps / change.speed_mps;
            self.speed_mps = 0.0;
            let left = (1.0 - part).max(LEAST_PART);
            return change.engine_rad_s * part + self.move_from_rest(line, stretch, steps_per_s / left);
        }
        self.speed_mps = new;
        change.engine_rad_s
    }

    /// The same from rest. Apart from what moves, which then has its instructions at one place.
    #[inline(never)]
    fn move_from_rest(&mut self, line: &Driveline, stretch: &Stretch, steps_per_s: f64) -> f64 {
        let mut change = line.change(&self.towards(stretch, 1.0), steps_per_s);
        if change.speed_mps <= 0.0 {
            // Friction turns with the motion: only what overcomes it moves the vehicle.
            change = line.change(&self.towards(stretch, -1.0), steps_per_s);
            if change.speed_mps >= 0.0 {
                change = line.change_at_rest(steps_per_s);
            }
        }
        self.speed_mps += change.speed_mps;
        change.engine_rad_s
    }
}
