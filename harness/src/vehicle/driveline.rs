//! One step of engine and wheels together: a linearised implicit step, since converter, lock-up clutch, governor and
//! limiter can be far stiffer than the step is long.
//!
//! The end of a step weighs θ = max(1/2, 1 − 1/z) against its start, with z the stiffness times the step over the
//! engine's inertia: the trapezoidal rule where the step is short enough for it; where it is not, the engine comes to
//! rest within the step, where the trapezoidal rule would make it tremble (with θ = 1 − 1/z a step leaves
//! (1 − (1 − θ)z)/(1 + θz) = 0 of what is out of balance).

use super::converter::Slip;
use super::engine::Torque;

/// Weight of the end of a step against its start in the trapezoidal rule.
const TRAPEZOIDAL: f64 = 0.5;

/// The driveline at the start of a step.
#[derive(Debug, Clone, Copy)]
pub struct Driveline {
    /// The engine's torque.
    pub engine: Torque,
    /// The engine's moment of inertia, kg m².
    pub inertia: f64,
    /// Torques in the converter.
    pub slip: Slip,
    /// Torque of the lock-up clutch, N m.
    pub clutch_nm: f64,
    /// The same over the slip, N m s.
    pub clutch_stiffness: f64,
    /// Turbine speed over road speed, rad/s per m/s; negative in reverse.
    pub turbine_per_mps: f64,
    /// Share of torque that the gearbox passes on.
    pub passed: f64,
    /// Efficiency from converter to wheel.
    pub efficiency: f64,
    /// The wheels roll alone: in neutral, or locked while the vehicle slides.
    pub apart: bool,
}

/// The vehicle on the road at the start of a step, for motion in one direction.
#[derive(Debug, Clone, Copy)]
pub struct OnRoad {
    /// +1 for motion forwards, −1 for backwards.
    pub sign: f64,
    /// Mass with what the wheels' inertia adds, kg.
    pub moved_kg: f64,
    /// Road load and brake, N against forward motion.
    pub against_n: f64,
    /// Their slope over speed, N/(m/s).
    pub against_slope: f64,
    /// What the driven tyres carry, N.
    pub most_drive_n: f64,
}

/// What a step changes.
#[derive(Debug, Clone, Copy)]
pub struct Change {
    /// Engine speed, rad/s.
    pub engine_rad_s: f64,
    /// Road speed, m/s.
    pub speed_mps: f64,
}

impl Driveline {
    /// One step of both.
    #[inline]
    #[must_use]
    pub fn change(&self, road: &OnRoad, steps_per_s: f64) -> Change {
        let mass_per_s = road.moved_kg * steps_per_s + TRAPEZOIDAL * road.against_slope;
        if self.apart {
            return Change { speed_mps: -road.against_n / mass_per_s, ..self.change_at_rest(steps_per_s) };
        }
        let end = self.end_weight(steps_per_s);
        let k = self.turbine_per_mps;
        let turbine_nm = self.slip.turbine + self.clutch_nm;
        // Losses take from torque that goes to the wheels and from torque that comes from them.
        let to_wheels = turbine_nm * k * road.sign > 0.0;
        let efficiency = if to_wheels { self.efficiency } else { 1.0 / self.efficiency };
        let force_per_nm = k * efficiency * self.passed;
        let force = force_per_nm * turbine_nm;
        let force_by_engine = end * force_per_nm * (self.slip.turbine_by_engine + self.clutch_stiffness);
        let force_by_speed = end * force_per_nm * (self.slip.turbine_by_turbine - self.clutch_stiffness) * k;
        let drag_by_speed = end * (self.slip.pump_by_turbine - self.clutch_stiffness) * k;
        // Two equations: engine (a, drag_by_speed | engine_net), vehicle (−force_by_engine, d | net).
        let (a, d) = (self.inertia * steps_per_s + end * self.engine_stiffness(), mass_per_s - force_by_speed);
        let (engine_net, net) = (self.engine_net(), force - road.against_n);
        let per_determinant = 1.0 / (a * d + drag_by_speed * force_by_engine);
        let engine_rad_s = (engine_net * d - drag_by_speed * net) * per_determinant;
        let speed_mps = (a * net + force_by_engine * engine_net) * per_determinant;
        let mean_force = force + force_by_engine * engine_rad_s + force_by_speed * speed_mps;
        if mean_force.abs() <= road.most_drive_n {
            return Change { engine_rad_s, speed_mps };
        }
        // The tyres carry no more.
        let carried = mean_force.clamp(-road.most_drive_n, road.most_drive_n);
        Change { engine_rad_s, speed_mps: (carried - road.against_n) / mass_per_s }
    }

    /// One step of the engine against a turbine that keeps its speed.
    #[inline]
    #[must_use]
    pub fn change_at_rest(&self, steps_per_s: f64) -> Change {
        let diagonal = self.inertia * steps_per_s + self.end_weight(steps_per_s) * self.engine_stiffness();
        Change { engine_rad_s: self.engine_net() / diagonal, speed_mps: 0.0 }
    }

    #[inline]
    fn engine_net(&self) -> f64 {
        self.engine.nm - self.slip.pump - self.clutch_nm
    }

    /// How much a faster engine is held back, N m s.
    #[inline]
    fn engine_stiffness(&self) -> f64 {
        self.slip.pump_by_engine + self.clutch_stiffness - self.engine.slope
    }

    #[inline]
    fn end_weight(&self, steps_per_s: f64) -> f64 {
        let (stiffness, inertia_per_s) = (self.engine_stiffness(), self.inertia * steps_per_s);
        if stiffness > 2.0 * inertia_per_s { 1.0 - inertia_per_s / stiffness } else { TRAPEZOIDAL }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 0.2 kg m², 10 N m too much, held back by k. By hand, k = 20 at 10 ms: z = 1, the trapezoidal rule gives
    /// 10/(20 + 10) = 1/3 rad/s; k = 400: z = 20, and the engine ends where k holds the 10 N m, at 10/400 = 0.025 rad/s,
    /// where the trapezoidal rule would go on to 10/(20 + 200) = 0.045.
    #[test]
    fn a_stiff_engine_comes_to_rest_within_its_step() {
        for (stiffness, change) in [(20.0, 1.0 / 3.0), (400.0, 0.025)] {
            let line = Driveline {
                engine: Torque { nm: 10.0, slope: 0.0 },
                inertia: 0.2,
                slip: Slip::default(),
                clutch_nm: 0.0,
                clutch_stiffness: stiffness,
                turbine_per_mps: 0.0,
                passed: 1.0,
                efficiency: 1.0,
                apart: false,
            };
            let got = line.change_at_rest(100.0).engine_rad_s;
            assert!((got - change).abs() < 1e-12, "{stiffness}: {got}, not {change}");
        }
    }
}
