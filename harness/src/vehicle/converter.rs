//! The torque converter with its lock-up clutch.

use super::table::{Table, between};
use crate::spec::vehicle::Converter as Spec;
use crate::units::RAD_S_PER_RPM;

/// On overrun the roles are reversed and K is this much larger (common practice, no source).
const OVERRUN_K: f64 = 1.3;
/// The clutch's torque rises to its capacity within this slip, rad/s (numeric, not physical: about 20 r/min).
const CLUTCH_SLIP_RAD_S: f64 = 2.0;
/// The clutch carries this times the engine's largest torque (invented).
const CLUTCH_RESERVE: f64 = 1.3;
/// Speed ratio from which 1/K falls linearly to 0 at 1.
const LAST_POINT: f64 = 0.98;

/// The converter's numbers and state.
#[derive(Debug, Clone)]
pub struct Converter {
    /// 1/K over the speed ratio.
    inverse_k: Table,
    stall_ratio: f64,
    coupling: f64,
    lockup_from_gear: u8,
    lockup_above_rpm: f64,
    lockup_s: f64,
    capacity_nm: f64,
    /// How far the clutch is closed, 0 to 1.
    pub closed: f64,
}

/// What passes through.
#[derive(Debug, Clone, Copy)]
pub struct Passed {
    /// Torque taken from the engine, N m.
    pub from_engine: f64,
    /// Torque given to the gearbox, N m.
    pub to_gearbox: f64,
    /// Slope of the torque taken over the engine's speed, N m per rad/s.
    pub slope: f64,
}

impl Converter {
    /// The converter of a spec, behind an engine with this largest torque.
    #[must_use]
    pub fn new(spec: &Spec, most_nm: f64) -> Self {
        let points: Vec<(f64, f64)> = spec.capacity.iter().map(|p| (p.speed_ratio.0, p.k.0)).collect();
        let last = 1.0 / between(&points, LAST_POINT);
        let inverse = |sr: f64| {
            if sr >= LAST_POINT { last * (1.0 - sr).max(0.0) / (1.0 - LAST_POINT) } else { 1.0 / between(&points, sr) }
        };
        Self {
            inverse_k: Table::sampled(0.0, 1.0, 400, inverse),
            stall_ratio: spec.stall_torque_ratio.get(),
            coupling: spec.coupling_point.get(),
            lockup_from_gear: spec.lockup_from_gear,
            lockup_above_rpm: spec.lockup_above.get(),
            lockup_s: (spec.lockup_time.get() / 1000.0).max(0.001),
            capacity_nm: most_nm * CLUTCH_RESERVE,
            closed: 0.0,
        }
    }

    /// The clutch closes or opens.
    pub fn clutch(&mut self, gear: u8, shifting: bool, turbine_rpm: f64, dt_s: f64) {
        let close = gear >= self.lockup_from_gear && !shifting && turbine_rpm > self.lockup_above_rpm;
        let step = dt_s / self.lockup_s;
        self.closed = if close { (self.closed + step).min(1.0) } else { (self.closed - step).max(0.0) };
    }

    /// Torque through converter and clutch at these speeds, rad/s.
    #[must_use]
    pub fn pass(&self, engine: f64, turbine: f64) -> Passed {
        let n_e = engine / RAD_S_PER_RPM;
        let n_t = turbine / RAD_S_PER_RPM;
        let mut passed = if n_t > n_e {
            let (inverse, slope) = self.inverse_k.at(n_e / n_t);
            let inverse = inverse / OVERRUN_K;
            let torque = n_t * inverse * (n_t * inverse);
            // d/dn_e of (n_t·c(n_e/n_t))² = 2·n_t·c·c'.
            let slope = -2.0 * n_t * inverse * (slope / OVERRUN_K) / RAD_S_PER_RPM;
            Passed { from_engine: -torque, to_gearbox: -torque, slope }
        } else if n_e > 0.0 {
            let sr = (n_t / n_e).max(0.0);
            let (inverse, slope) = self.inverse_k.at(sr);
            let torque = n_e * inverse * (n_e * inverse);
            let ratio = (self.stall_ratio + (1.0 - self.stall_ratio) * sr / self.coupling).max(1.0);
            let slope = 2.0 * n_e * inverse * (inverse - slope * sr) / RAD_S_PER_RPM;
            Passed { from_engine: torque, to_gearbox: torque * ratio, slope }
        } else {
            Passed { from_engine: 0.0, to_gearbox: 0.0, slope: 0.0 }
        };
        if self.closed > 0.0 {
            let capacity = self.capacity_nm * self.closed;
            let slip = (engine - turbine) / CLUTCH_SLIP_RAD_S;
            let torque = capacity * slip.clamp(-1.0, 1.0);
            passed.from_engine += torque;
            passed.to_gearbox += torque;
            if slip.abs() < 1.0 {
                passed.slope += capacity / CLUTCH_SLIP_RAD_S;
            }
        }
        passed
    }
}
