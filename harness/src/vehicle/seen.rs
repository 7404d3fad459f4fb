//! What can be seen of the vehicle at an instant: the truth for the recording, and what the port shows of it.

use super::engine::RPM_PER_RAD_S;
use super::{Controls, Vehicle};
use crate::recording::Truth;
use crate::signal::Lever;
use crate::spec::link::SpeedSource;

impl Vehicle {
    /// What the vehicle does now.
    #[inline]
    #[must_use]
    pub fn truth(&self, controls: &Controls) -> Truth {
        let rpm = self.engine_rad_s * RPM_PER_RAD_S;
        let share = self.gearbox.course(0.0).asked * self.engine.share(self.effective_pedal);
        Truth {
            speed_kmh: self.speed_mps * 3.6,
            accel_mps2: self.gained.0 * 1000.0 / self.gained.1,
            wheel_kmh: self.wheel_kmh(controls),
            engine_rpm: rpm,
            engine_on: self.engine_on,
            load: self.engine.load(self.engine_rad_s, share, self.engine_on),
            gear: self.gearbox.gear(),
            target_gear: self.gearbox.target(),
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

    /// Engine speed, r/min, and gear.
    #[must_use]
    pub fn engine_rpm_and_gear(&self) -> (f64, u8) {
        (self.engine_rad_s * RPM_PER_RAD_S, self.gearbox.gear())
    }

    /// Road speed as its source measures it, km/h: without a sign, misled by wheel lock and spin.
    #[must_use]
    pub fn shown_speed_kmh(&self, source: SpeedSource, controls: &Controls) -> f64 {
        let driven = self.wheel_kmh(controls);
        match source {
            SpeedSource::AllWheels if controls.wheel_lock => 0.0,
            SpeedSource::AllWheels => (0.5 * (driven + self.speed_mps * 3.6)).abs(),
            SpeedSource::DrivenAxle => driven.abs(),
            SpeedSource::OutputShaft => (driven * self.range_ratio(controls.range)).abs(),
        }
    }

    fn wheel_kmh(&self, controls: &Controls) -> f64 {
        if controls.wheel_lock { 0.0 } else { self.speed_mps * 3.6 + spin_kmh(controls) }
    }
}

/// What the driven wheels turn faster by, with the sign of forward motion.
#[inline]
pub(super) fn spin_kmh(controls: &Controls) -> f64 {
    if controls.lever == Lever::R { -controls.wheel_spin_kmh } else { controls.wheel_spin_kmh }
}
