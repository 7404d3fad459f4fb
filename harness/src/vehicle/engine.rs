//! The engine: torque over speed and pedal with lag, idle governor, limiter.

use super::table::{Table, between};
use crate::spec::vehicle::Engine as Spec;
use crate::units::RAD_S_PER_RPM;

/// The idle governor's gain, N m per r/min (invented).
const IDLE_GAIN: f64 = 1.0;
/// Above the redline the limiter takes the torque away over this many r/min (invented).
const LIMITER_RPM: f64 = 60.0;
/// Below this the engine has stalled or is being cranked, r/min.
const TURNS_RPM: f64 = 100.0;

/// The engine's numbers and state.
#[derive(Debug, Clone)]
pub struct Engine {
    full_load: Table,
    drag_nm: f64,
    drag_per_rpm: f64,
    law: f64,
    lag_up_s: f64,
    lag_down_s: f64,
    /// Idle speed, r/min.
    pub idle_rpm: f64,
    /// Redline, r/min.
    pub redline_rpm: f64,
    /// Moment of inertia, kg m².
    pub inertia: f64,
    /// Largest torque, N m.
    pub most_nm: f64,
    /// It runs.
    pub on: bool,
    /// Pedal share that the torque follows, after its lag.
    pub pedal: f64,
}

impl Engine {
    /// The engine of a spec.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let points: Vec<(f64, f64)> = spec.full_load.iter().map(|p| (p.speed.0, p.torque.0)).collect();
        let redline = spec.redline.get();
        Self {
            full_load: Table::sampled(0.0, redline * 1.5, 600, |rpm| between(&points, rpm)),
            drag_nm: spec.drag.get(),
            drag_per_rpm: spec.drag_per_1000rpm.get() / 1000.0,
            law: spec.pedal_law.get(),
            lag_up_s: spec.lag_up.get() / 1000.0,
            lag_down_s: spec.lag_down.get() / 1000.0,
            idle_rpm: spec.idle.get(),
            redline_rpm: redline,
            inertia: spec.inertia.get(),
            most_nm: points.iter().map(|p| p.1).fold(0.0, f64::max),
            on: true,
            pedal: 0.0,
        }
    }

    /// Share of the full-load torque at a pedal share.
    #[must_use]
    pub fn share(&self, pedal: f64) -> f64 {
        pedal * (self.law - (self.law - 1.0) * pedal)
    }

    /// The torque follows the pedal, first order.
    pub fn follow(&mut self, pedal: f64, dt_s: f64) {
        let lag_s = if pedal > self.pedal { self.lag_up_s } else { self.lag_down_s };
        // Implicit, so that a lag shorter than the step is no trouble.
        self.pedal += (pedal - self.pedal) * dt_s / (lag_s + dt_s);
    }

    /// Torque, N m, and its slope over the speed, N m per rad/s (the stiff part only).
    #[must_use]
    pub fn torque(&self, rpm: f64) -> (f64, f64) {
        let drag = -(self.drag_nm + self.drag_per_rpm * rpm);
        if !self.on {
            return if rpm > 0.0 { (drag, 0.0) } else { (0.0, 0.0) };
        }
        let full = self.full_load.at(rpm).0;
        let limit = (1.0 - (rpm - self.redline_rpm) / LIMITER_RPM).clamp(0.0, 1.0);
        let driven = drag + (full - drag) * self.share(self.pedal) * limit;
        let governed = ((self.idle_rpm - rpm) * IDLE_GAIN).min(full);
        if governed > driven {
            (governed, -IDLE_GAIN / RAD_S_PER_RPM)
        } else if rpm > self.redline_rpm {
            (driven, -(full - drag) * self.share(self.pedal) / (LIMITER_RPM * RAD_S_PER_RPM))
        } else {
            (driven, 0.0)
        }
    }

    /// Torque over full-load torque at a speed, 0 to 1.
    #[must_use]
    pub fn load(&self, rpm: f64) -> f64 {
        let full = self.full_load.at(rpm).0;
        if full > 0.0 { (self.torque(rpm).0 / full).clamp(0.0, 1.0) } else { 0.0 }
    }

    /// Whether it turns at all.
    #[must_use]
    pub fn turns(rpm: f64) -> bool {
        rpm > TURNS_RPM
    }
}
