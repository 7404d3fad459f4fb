//! The vehicle: engine, converter, gearbox, road. It knows no controller.
//!
//! Fixed step, f64, + − × ÷ √ and tables only, so that the same build gives the same bits everywhere it runs.

pub mod converter;
pub mod engine;
pub mod gearbox;
pub mod road;
pub mod table;
#[cfg(test)]
mod tests;

use crate::drive::Start;
use crate::recording::Truth;
use crate::signal::{Contacts, Lever, Range};
use crate::spec::Spec;
use crate::spec::link::SpeedSource;
use crate::units::RAD_S_PER_RPM;
use converter::Converter;
use engine::Engine;
use gearbox::{Around, Gearbox};

/// The vehicle step, ms: halving it moves v(t) by less than 0.05 km/h over 60 s drives (tests).
pub const STEP_MS: f64 = 2.0;

/// Version of the vehicle model.
pub const MODEL: u32 = 1;

/// What acts on the vehicle during a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Controls {
    /// Pedal as the driver holds it and as the port shows it, %.
    pub pedal_pct: f64,
    /// Pedal that the engine obeys, %: cruise control drives with the foot off.
    pub torque_pedal_pct: f64,
    /// Braking demanded, m/s².
    pub brake_mps2: f64,
    /// Grade, %.
    pub grade_pct: f64,
    /// Lever.
    pub lever: Lever,
    /// Transfer case.
    pub range: Range,
    /// The box's contacts.
    pub contacts: Contacts,
    /// The driver's own taps.
    pub driver_taps: Contacts,
    /// The wheels stand still although the vehicle moves.
    pub wheel_lock: bool,
    /// The driven wheels turn this much faster than the road, km/h.
    pub wheel_spin_kmh: f64,
}

/// A vehicle in one run.
#[derive(Debug, Clone)]
pub struct Vehicle {
    mass_kg: f64,
    effective_kg: f64,
    rolling: f64,
    drag_area_m2: f64,
    radius_m: f64,
    driven_share: f64,
    low_range: f64,
    blind_in_lock: bool,
    step_ms: f64,
    engine: Engine,
    converter: Converter,
    gearbox: Gearbox,

    v_mps: f64,
    accel_mps2: f64,
    engine_rad_s: f64,
    grip: f64,
}

impl Vehicle {
    /// The vehicle of a spec at a start state, run at this step (ms).
    #[must_use]
    pub fn new(spec: &Spec, start: &Start, step_ms: f64) -> Self {
        let v = &spec.vehicle;
        let radius_m = v.wheel_radius.get();
        let engine = Engine::new(&v.engine);
        let mut vehicle = Self {
            mass_kg: v.mass.get(),
            effective_kg: v.mass.get() + v.wheel_inertia.get() / (radius_m * radius_m),
            rolling: v.rolling_resistance.get(),
            drag_area_m2: v.drag_area.get(),
            radius_m,
            driven_share: v.driven_share.get() / 100.0,
            low_range: v.gearbox.low_range.map_or(1.0, |r| r.get()),
            blind_in_lock: v.gearbox.protection.blind_in_wheel_lock,
            step_ms,
            converter: Converter::new(&v.converter, engine.most_nm),
            gearbox: Gearbox::new(&v.gearbox, radius_m, engine.idle_rpm, engine.redline_rpm),
            engine,
            v_mps: 0.0,
            accel_mps2: 0.0,
            engine_rad_s: 0.0,
            grip: 1.0,
        };
        vehicle.restart(start);
        vehicle
    }

    /// Back to a start state.
    pub fn restart(&mut self, start: &Start) {
        self.v_mps = f64::from(start.speed) / 36.0;
        self.accel_mps2 = 0.0;
        self.grip = f64::from(start.grip) / 100.0;
        self.engine.on = true;
        self.engine.pedal = 0.0;
        self.converter.closed = 0.0;
        self.gearbox.restart(start);
        let turbine = self
            .gearbox
            .drive(start.lever, start.range)
            .map_or(0.0, |(ratio, _)| ratio.abs() * self.v_mps / self.radius_m);
        self.engine_rad_s = turbine.max(self.engine.idle_rpm * RAD_S_PER_RPM);
    }

    /// Runs for a time, ms; in steps of the vehicle step, the last one shorter where it has to be.
    pub fn run(&mut self, controls: &Controls, ms: f64) {
        let mut left = ms;
        while left > 1e-9 {
            let dt_ms = left.min(self.step_ms);
            self.step(controls, dt_ms);
            left -= dt_ms;
        }
    }

    fn wheel_mps(&self, controls: &Controls) -> f64 {
        if controls.wheel_lock { 0.0 } else { self.v_mps + controls.wheel_spin_kmh / 3.6 }
    }

    fn step(&mut self, controls: &Controls, dt_ms: f64) {
        let dt = dt_ms / 1000.0;
        let wheel_mps = self.wheel_mps(controls);
        let judged_mps = if self.blind_in_lock && controls.wheel_lock { 0.0 } else { self.v_mps };
        let pedal = controls.torque_pedal_pct / 100.0;
        let contacts = Contacts {
            up: controls.contacts.up || controls.driver_taps.up,
            down: controls.contacts.down || controls.driver_taps.down,
        };
        let around =
            Around { lever: controls.lever, range: controls.range, contacts, speed_kmh: judged_mps * 3.6, pedal };
        self.gearbox.step(&around, dt_ms);
        self.engine.follow(pedal, dt);

        let drive = self.gearbox.drive(controls.lever, controls.range);
        let turbine = drive.map_or(self.engine_rad_s, |(ratio, _)| ratio * wheel_mps / self.radius_m);
        let forward = matches!(controls.lever, Lever::D | Lever::Gate);
        self.converter.clutch(
            if forward && drive.is_some() { self.gearbox.gear } else { 0 },
            self.gearbox.shifting() || !self.engine.on,
            turbine / RAD_S_PER_RPM,
            dt,
        );
        // Engine speed against converter and clutch is the stiff part: one implicit step along the slopes.
        let passed = self.converter.pass(self.engine_rad_s, turbine);
        let (torque, torque_slope) = self.engine.torque(self.engine_rad_s / RAD_S_PER_RPM);
        let stiff = self.engine.inertia + dt * (passed.slope.max(0.0) - torque_slope);
        self.engine_rad_s = (self.engine_rad_s + dt * (torque - passed.from_engine) / stiff).max(0.0);
        let passed = self.converter.pass(self.engine_rad_s, turbine);

        let drive_n = match drive {
            Some((ratio, share)) if !controls.wheel_lock => {
                let torque = passed.to_gearbox * share;
                let efficiency = self.gearbox.efficiency;
                let at_wheel = if torque >= 0.0 { torque * efficiency } else { torque / efficiency };
                let most = self.grip * self.mass_kg * road::G_MPS2 * self.driven_share;
                (at_wheel * ratio / self.radius_m).clamp(-most, most)
            }
            _ => 0.0,
        };
        let (sine, cosine) = road::slope(controls.grade_pct / 100.0);
        let parked = controls.lever == Lever::P;
        let brake_n = if parked { self.mass_kg * 5.0 } else { self.mass_kg * controls.brake_mps2 }
            .min(self.grip * self.mass_kg * road::G_MPS2 * cosine);
        let free_n =
            drive_n - road::grade_n(self.mass_kg, sine) - road::air_n(road::AIR_KG_M3, self.drag_area_m2, self.v_mps);
        let friction_n = brake_n + road::rolling_n(self.mass_kg, self.rolling, cosine);
        // Friction stops, it never drives.
        let free = self.v_mps + dt * free_n / self.effective_kg;
        let held = dt * friction_n / self.effective_kg;
        let v = if free > held {
            free - held
        } else if free < -held {
            free + held
        } else {
            0.0
        };
        self.accel_mps2 = (v - self.v_mps) / dt;
        self.v_mps = v;
    }

    /// What the vehicle does now.
    #[must_use]
    pub fn truth(&self, controls: &Controls) -> Truth {
        let rpm = self.engine_rad_s / RAD_S_PER_RPM;
        Truth {
            speed_kmh: self.v_mps * 3.6,
            accel_mps2: self.accel_mps2,
            wheel_kmh: self.wheel_mps(controls) * 3.6,
            engine_rpm: rpm,
            engine_on: self.engine.on && Engine::turns(rpm),
            load: self.engine.load(rpm),
            gear: self.gearbox.gear,
            target_gear: self.gearbox.target,
            shifting: self.gearbox.shifting(),
            lever: controls.lever,
            range: controls.range,
            pedal_pct: controls.pedal_pct,
            brake_mps2: controls.brake_mps2,
            grade_pct: controls.grade_pct,
            driver_up: controls.driver_taps.up,
            driver_down: controls.driver_taps.down,
        }
    }

    /// The engine stalls or starts again.
    pub fn set_engine(&mut self, on: bool) {
        self.engine.on = on;
        if on {
            self.engine_rad_s = self.engine_rad_s.max(self.engine.idle_rpm * RAD_S_PER_RPM);
        }
    }

    /// The next taps are refused.
    pub fn refuse_taps(&mut self, taps: u8) {
        self.gearbox.refuse_taps(taps);
    }

    /// Shifts take this much longer from now on, ms.
    pub fn slow_shifts(&mut self, more_ms: f64) {
        self.gearbox.slow_shifts(more_ms);
    }

    /// The gearbox goes to a gear by itself, once.
    pub fn self_shift(&mut self, gear: u8) {
        self.gearbox.self_shift(gear);
    }

    /// The speed on the port before rounding, km/h, unsigned.
    #[must_use]
    pub fn shown_speed_kmh(&self, source: SpeedSource, controls: &Controls) -> f64 {
        let driven = self.wheel_mps(controls);
        let undriven = if controls.wheel_lock { 0.0 } else { self.v_mps };
        let mps = match source {
            SpeedSource::AllWheels => 0.5 * (driven + undriven),
            SpeedSource::DrivenAxle => driven,
            SpeedSource::OutputShaft if controls.range == Range::Low => driven * self.low_range,
            SpeedSource::OutputShaft => driven,
        };
        mps.abs() * 3.6
    }

    /// Road speed, m/s.
    #[must_use]
    pub fn v_mps(&self) -> f64 {
        self.v_mps
    }
}
