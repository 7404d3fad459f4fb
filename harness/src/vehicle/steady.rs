//! Steady driving on paper: the vehicle's own engine and road, converter locked, no lag, nothing slipping.

use super::engine::Engine;
use super::road::{GRAVITY, RoadLoad};
use crate::spec::Spec;
use crate::units::RAD_S_PER_RPM;

/// Halvings in which a pedal or a speed is found: 2⁻⁵⁰ of its range.
const HALVINGS: u32 = 50;

/// A vehicle at work without dynamics.
#[derive(Debug, Clone)]
pub struct Steady {
    engine: Engine,
    /// Engine speed over road speed, rad/s per m/s, from first gear on.
    engine_per_mps: Vec<f64>,
    efficiency: f64,
    mass_kg: f64,
    moved_kg: f64,
    rolling: f64,
    drag_area_m2: f64,
}

impl Steady {
    /// Of a spec's vehicle in the high range.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let vehicle = &spec.vehicle;
        let radius = vehicle.wheel_radius.get();
        Self {
            engine: Engine::new(&vehicle.engine),
            engine_per_mps: (1..=spec.gears()).map(|g| spec.rpm_per_kmh(g) * RAD_S_PER_RPM * 3.6).collect(),
            efficiency: vehicle.gearbox.efficiency.get() * 0.01,
            mass_kg: vehicle.mass.get(),
            moved_kg: vehicle.mass.get() + vehicle.wheel_inertia.get() / (radius * radius),
            rolling: vehicle.rolling_resistance.get(),
            drag_area_m2: vehicle.drag_area.get(),
        }
    }

    fn per_mps(&self, gear: u8) -> f64 {
        self.engine_per_mps.get(usize::from(gear.max(1)) - 1).copied().unwrap_or(0.0)
    }

    /// Engine speed in a gear, r/min.
    #[must_use]
    pub fn rpm(&self, gear: u8, speed_kmh: f64) -> f64 {
        self.per_mps(gear) * speed_kmh / (3.6 * RAD_S_PER_RPM)
    }

    /// Force at the driven wheels, N; `pedal` from 0 to 1. Losses take from torque in either direction.
    #[must_use]
    pub fn force_n(&self, gear: u8, speed_kmh: f64, pedal: f64) -> f64 {
        let per_mps = self.per_mps(gear);
        let torque = self.engine.torque(per_mps * speed_kmh / 3.6, self.engine.share(pedal), true).nm;
        let efficiency = if torque > 0.0 { self.efficiency } else { 1.0 / self.efficiency };
        torque * per_mps * efficiency
    }

    /// The pedal (0 to 1) with which a gear gives this force; `None` where not even the full pedal does. A released pedal
    /// where even that gives more.
    #[must_use]
    pub fn pedal(&self, gear: u8, speed_kmh: f64, force_n: f64) -> Option<f64> {
        if self.force_n(gear, speed_kmh, 1.0) < force_n {
            return None;
        }
        let (mut low, mut high) = (0.0, 1.0);
        if self.force_n(gear, speed_kmh, low) >= force_n {
            return Some(low);
        }
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.force_n(gear, speed_kmh, middle) < force_n { low = middle } else { high = middle }
        }
        Some(high)
    }

    /// What the road takes at a speed on a grade, N.
    #[must_use]
    pub fn road_load_n(&self, speed_kmh: f64, grade_pct: f64) -> f64 {
        RoadLoad::new(self.mass_kg, self.rolling, self.drag_area_m2, grade_pct * 0.01).against_n(speed_kmh / 3.6, 1.0)
    }

    /// Weight, N.
    #[must_use]
    pub fn weight_n(&self) -> f64 {
        self.mass_kg * GRAVITY
    }

    /// Mass, kg.
    #[must_use]
    pub fn mass_kg(&self) -> f64 {
        self.mass_kg
    }

    /// The engine's drag torque at an engine speed, N m.
    #[must_use]
    pub fn drag_nm(&self, rpm: f64) -> f64 {
        -self.engine.torque(rpm * RAD_S_PER_RPM, 0.0, false).nm
    }

    /// Acceleration on the level, m/s²: wheels and engine turn faster too.
    #[must_use]
    pub fn acceleration_mps2(&self, gear: u8, speed_kmh: f64, pedal: f64) -> f64 {
        let per_mps = self.per_mps(gear);
        let moved_kg = self.moved_kg + self.engine.inertia * per_mps * per_mps;
        (self.force_n(gear, speed_kmh, pedal) - self.road_load_n(speed_kmh, 0.0)) / moved_kg
    }

    /// The grade (%) on which this force just holds this speed.
    #[must_use]
    pub fn grade_held_pct(&self, speed_kmh: f64, force_n: f64) -> f64 {
        let sine = (force_n - self.road_load_n(speed_kmh, 0.0)) / self.weight_n();
        let sine = sine.clamp(-0.7, 0.7);
        100.0 * sine / (1.0 - sine * sine).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn van() -> Steady {
        Steady::new(&super::super::test_van::van())
    }

    /// The van in third at 65.40 km/h turns 2,499 rpm: full load 400 N m, ·1.46·3.70·0.92/0.375 = 5,301 N. Released:
    /// drag 20 + 0.010·2,499 = 45.0 N m, the other way through the losses: 45.0·1.46·3.70/(0.92·0.375) = 704.6 N.
    #[test]
    fn force_by_hand() {
        let van = van();
        assert!((van.rpm(3, 65.40) - 2499.0).abs() < 1.0, "{}", van.rpm(3, 65.40));
        assert!((van.force_n(3, 65.40, 1.0) - 5301.0).abs() < 1.0);
        assert!((van.force_n(3, 65.40, 0.0) + 704.6).abs() < 0.5);
    }

    /// Half pedal asks for 0.6 of what lies between drag and full load: 0.6·445 − 45 = 222 N m, ·13.253 N per N m.
    #[test]
    fn a_pedal_comes_back_from_its_force() {
        let van = van();
        let force_n = van.force_n(3, 65.40, 0.5);
        assert!((force_n - 222.0 * 13.253).abs() < 2.0, "{force_n}");
        assert!((van.pedal(3, 65.40, force_n).unwrap() - 0.5).abs() < 1e-9);
        assert_eq!(van.pedal(3, 65.40, 6000.0), None);
        assert_eq!(van.pedal(3, 65.40, -5000.0), Some(0.0));
    }

    /// 2,600 kg at 36 km/h: 2600·9.80665·0.012 + 0.6·1.3·100 = 306.0 + 78 = 384.0 N on the level.
    #[test]
    fn road_load_and_the_grade_that_a_force_holds() {
        let van = van();
        assert!((van.road_load_n(36.0, 0.0) - 384.0).abs() < 0.1);
        let force_n = van.road_load_n(36.0, 8.0);
        // The rolling resistance on the slope is that of the level here: 0.3 % of it less.
        assert!((van.grade_held_pct(36.0, force_n) - 8.0).abs() < 0.01);
    }

    /// In second at 2,000 rpm (34.58 km/h): 400·8.177·0.92/0.375 = 8,024 N less 378 N, over 2600 + 6/0.1406 +
    /// 0.3·(8.177/0.375)² = 2,785 kg.
    #[test]
    fn acceleration_by_hand() {
        let a = van().acceleration_mps2(2, 34.58, 1.0);
        assert!((a - 2.745).abs() < 0.01, "{a}");
    }
}
