//! The engine: full-load curve, drag, pedal law, lag, idle governor and limiter.

use super::table::{Table, between};
use crate::spec::vehicle;
use crate::units::RAD_S_PER_RPM;

/// 60/2π: r/min in one rad/s.
pub const RPM_PER_RAD_S: f64 = 1.0 / RAD_S_PER_RPM;

/// The limiter takes the torque away over this band below the redline, r/min (invented).
const LIMITER_RPM: f64 = 50.0;

/// The limiter of an engine with this redline is at work, r/min.
#[inline]
#[must_use]
pub fn limits_at(redline_rpm: f64, rpm: f64) -> bool {
    rpm >= redline_rpm - LIMITER_RPM
}

/// The idle governor gives its all when the engine is this far below idle, r/min (invented).
const GOVERNOR_RPM: f64 = 50.0;

/// An engine ready for the loop.
#[derive(Debug, Clone)]
pub struct Engine {
    /// Idle speed, r/min.
    pub idle_rpm: f64,
    /// Redline, r/min.
    pub redline_rpm: f64,
    /// Moment of inertia, kg m².
    pub inertia: f64,
    /// Greatest torque, N m.
    pub peak_nm: f64,
    full_load: Table,
    drag_nm: f64,
    drag_per_rpm: f64,
    law: f64,
    lag_up_ms: f64,
    lag_down_ms: f64,
    governor_per_rpm: f64,
}

/// Engine torque (N m) and its slope over engine speed (N m s).
#[derive(Debug, Clone, Copy)]
pub struct Torque {
    /// Torque at the crankshaft.
    pub nm: f64,
    /// Its slope.
    pub slope: f64,
}

impl Engine {
    /// Lays out the tables.
    #[must_use]
    pub fn new(spec: &vehicle::Engine) -> Self {
        let points: Vec<(f64, f64)> = spec.full_load.iter().map(|p| (p.speed.0, p.torque.0)).collect();
        let (idle_rpm, redline_rpm) = (spec.idle.get(), spec.redline.get());
        Self {
            idle_rpm,
            redline_rpm,
            inertia: spec.inertia.get(),
            peak_nm: points.iter().map(|p| p.1).fold(0.0, f64::max),
            // 10 r/min a cell: the corners of curves written in whole tens are exact.
            full_load: Table::new(0.0, 12_000.0, 1200, |rpm| between(&points, rpm)),
            drag_nm: spec.drag.get(),
            drag_per_rpm: spec.drag_per_1000rpm.get() / 1000.0,
            law: spec.pedal_law.get(),
            lag_up_ms: spec.lag_up.get(),
            lag_down_ms: spec.lag_down.get(),
            governor_per_rpm: between(&points, idle_rpm) / GOVERNOR_RPM,
        }
    }

    /// Share of the full-load torque that a pedal (0 to 1) asks for: p·(k − (k−1)·p).
    #[inline]
    #[must_use]
    pub fn share(&self, pedal: f64) -> f64 {
        pedal * (self.law - (self.law - 1.0) * pedal)
    }

    /// The pedal that the engine has got to, a step later: first-order lag by the trapezoidal rule.
    #[inline]
    #[must_use]
    pub fn follow(&self, effective: f64, pedal: f64, step_ms: f64) -> f64 {
        let lag_ms = if pedal > effective { self.lag_up_ms } else { self.lag_down_ms };
        if lag_ms < step_ms { pedal } else { effective + (pedal - effective) * step_ms / (lag_ms + 0.5 * step_ms) }
    }

    /// Torque at an engine speed (rad/s) with this share of full load asked for.
    #[inline]
    #[must_use]
    pub fn torque(&self, speed_rad_s: f64, share: f64, on: bool) -> Torque {
        let rpm = speed_rad_s * RPM_PER_RAD_S;
        self.torque_at(rpm, self.full_load.at(rpm), share, on)
    }

    /// Share of the full-load torque that it gives at an engine speed (rad/s), 0 to 1.
    #[inline]
    #[must_use]
    pub fn load(&self, speed_rad_s: f64, share: f64, on: bool) -> f64 {
        let rpm = speed_rad_s * RPM_PER_RAD_S;
        let full = self.full_load.at(rpm);
        (self.torque_at(rpm, full, share, on).nm / full.0).clamp(0.0, 1.0)
    }

    /// Torque with what the full-load curve gives there: value and slope.
    #[inline]
    fn torque_at(&self, rpm: f64, (full, full_slope): (f64, f64), share: f64, on: bool) -> Torque {
        let drag = self.drag_nm + self.drag_per_rpm * rpm;
        if !on {
            return Torque { nm: -drag, slope: -self.drag_per_rpm * RPM_PER_RAD_S };
        }
        let (full, full_slope) = (full + drag, full_slope + self.drag_per_rpm);
        let (mut gas, mut slope) = (full * share, full_slope * share);
        // What idling takes by itself, and more the further the engine is pulled below idle.
        let governor = self.drag_nm + self.drag_per_rpm * self.idle_rpm + self.governor_per_rpm * (self.idle_rpm - rpm);
        if governor > gas {
            (gas, slope) = if governor < full { (governor, -self.governor_per_rpm) } else { (full, full_slope) };
        }
        let over = rpm - (self.redline_rpm - LIMITER_RPM);
        if over > 0.0 {
            let left = (1.0 - over / LIMITER_RPM).max(0.0);
            slope = if left > 0.0 { slope * left - gas / LIMITER_RPM } else { 0.0 };
            gas *= left;
        }
        Torque { nm: gas - drag, slope: (slope - self.drag_per_rpm) * RPM_PER_RAD_S }
    }

    /// The limiter is at work.
    #[inline]
    #[must_use]
    pub fn limits_at(&self, rpm: f64) -> bool {
        limits_at(self.redline_rpm, rpm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn van_engine() -> Engine {
        Engine::new(&super::super::test_van::van().vehicle.engine)
    }

    fn torque_nm(rpm: f64, share: f64, on: bool) -> f64 {
        van_engine().torque(rpm * RAD_S_PER_RPM, share, on).nm
    }

    /// Full load 400 N m at 2,000 rpm, drag 20 + 0.010·n = 40: half-way is (400 − 40)/2.
    #[test]
    fn torque_by_hand() {
        for (rpm, share, on, nm) in [
            (2000.0, 1.0, true, 400.0),
            (2000.0, 0.5, true, 180.0),
            (2000.0, 0.0, true, -40.0),
            (2000.0, 1.0, false, -40.0),
            // The governor just carries the drag at idle, and gives all the engine has 50 r/min below.
            (750.0, 0.0, true, 0.0),
            (700.0, 0.0, true, 190.0),
            // The limiter: half-way through its band it leaves half of the gas, at the redline none.
            (4375.0, 1.0, true, 0.5 * (216.5 + 63.75) - 63.75),
            (4400.0, 1.0, true, -64.0),
            (6000.0, 1.0, true, -80.0),
        ] {
            let got = torque_nm(rpm, share, on);
            assert!((got - nm).abs() < 0.5, "{rpm} rpm, {share}: {got}, not {nm}");
        }
    }

    /// p·(1.4 − 0.4·p): 0.5·1.2 = 0.6.
    #[test]
    fn the_pedal_law_by_hand() {
        for (pedal, share) in [(0.0, 0.0), (0.25, 0.325), (0.5, 0.6), (1.0, 1.0)] {
            assert!((van_engine().share(pedal) - share).abs() < 1e-12);
        }
    }

    #[test]
    fn slopes_are_those_of_the_torque() {
        let tiny = 0.01;
        for (rpm, share) in [(1234.0, 0.7), (730.0, 0.0), (4371.0, 1.0), (3333.0, 0.0)] {
            let engine = van_engine();
            let (here, there) = (
                engine.torque(rpm * RAD_S_PER_RPM, share, true),
                engine.torque((rpm + tiny) * RAD_S_PER_RPM, share, true),
            );
            let change = (there.nm - here.nm) / (tiny * RAD_S_PER_RPM);
            assert!((here.slope - change).abs() < 0.01 * change.abs() + 1e-6, "{rpm}: {} {change}", here.slope);
        }
    }

    /// 63.2 % of the way after one time constant, up 250 ms and down 100 ms.
    #[test]
    fn the_pedal_lags_with_its_own_constant_each_way() {
        let engine = van_engine();
        let (mut up, mut down) = (0.0, 1.0);
        for _ in 0..50 {
            up = engine.follow(up, 1.0, 5.0);
        }
        for _ in 0..20 {
            down = engine.follow(down, 0.0, 5.0);
        }
        assert!((up - 0.632).abs() < 0.001 && (down - 0.368).abs() < 0.001, "{up} {down}");
    }
}
