//! The road: what resists the vehicle, and what its tyres can carry.

/// Standard gravity, m/s² (exact by definition: 3rd General Conference on Weights and Measures, 1901).
pub const GRAVITY: f64 = 9.806_65;

/// Density of air, kg/m³: 20 °C at sea level, rounded.
pub const AIR_DENSITY: f64 = 1.2;

/// sin θ and cos θ of a road whose grade is given as a share (0.05 = 5 %).
#[must_use]
pub fn slope(grade: f64) -> (f64, f64) {
    let cos = 1.0 / (1.0 + grade * grade).sqrt();
    (grade * cos, cos)
}

/// Drag of the air, N.
#[inline]
#[must_use]
pub fn air_drag_n(density: f64, drag_area_m2: f64, speed_mps: f64) -> f64 {
    0.5 * density * drag_area_m2 * speed_mps * speed_mps
}

/// Resistance of a vehicle on a stretch of constant grade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadLoad {
    /// Pull of the slope, N; positive uphill.
    pub slope_n: f64,
    /// Rolling resistance, N.
    pub rolling_n: f64,
    /// Air drag over speed squared, N/(m/s)².
    pub air_per_v2: f64,
}

impl RoadLoad {
    /// Of a mass (kg) with a rolling resistance coefficient and a drag area (m²), on a grade (a share).
    #[must_use]
    pub fn new(mass_kg: f64, rolling: f64, drag_area_m2: f64, grade: f64) -> Self {
        let (sin, cos) = slope(grade);
        let weight = mass_kg * GRAVITY;
        Self {
            slope_n: weight * sin,
            rolling_n: weight * rolling * cos,
            air_per_v2: air_drag_n(AIR_DENSITY, drag_area_m2, 1.0),
        }
    }

    /// All of it at a speed (m/s) of the given sign, N against forward motion.
    #[inline]
    #[must_use]
    pub fn against_n(&self, speed_mps: f64, sign: f64) -> f64 {
        self.slope_n + sign * (self.rolling_n + self.air_per_v2 * speed_mps * speed_mps)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mannering, Washburn, Kilareski, "Principles of Highway Engineering and Traffic Analysis", 4th edition,
    /// Problem 2.31: Cd 0.35, 20 ft², 0.002045 slug/ft³, 70 mph, 2,000 lb, 5 %: Ra 75.44 lb, Rg 100 lb (small angle),
    /// rolling 33.97 lb at f = 0.01·(1 + V/147), sum 209.41 lb.
    #[test]
    fn the_printed_road_load_example_comes_out() {
        let v_fps = 70.0 * 5280.0 / 3600.0;
        let air = air_drag_n(0.002_045, 0.35 * 20.0, v_fps);
        assert!((air - 75.44).abs() < 0.005, "{air}");
        let (sin, cos) = slope(0.05);
        // The book takes W·G for the slope; W·sin(atan G) is 99.8752 lb.
        assert!((2000.0 * sin - 99.8752).abs() < 5e-5);
        let rolling = 2000.0 * 0.01 * (1.0 + v_fps / 147.0);
        assert!((rolling - 33.97).abs() < 0.005);
        assert!((air + rolling + 2000.0 * sin / cos - 209.41).abs() < 0.005);
    }

    /// By hand: 1,000 kg, 0.01, 1 m², 10 % up at 10 m/s: 98.0665·cosθ + 9806.65·sinθ + 60, cosθ = 1/√1.01.
    #[test]
    fn road_load_by_hand() {
        let load = RoadLoad::new(1000.0, 0.01, 1.0, 0.1);
        let cos = 0.995_037_190_2;
        assert!((load.against_n(10.0, 1.0) - (98.0665 * cos + 980.665 * cos + 60.0)).abs() < 1e-5);
        assert!((load.against_n(-10.0, -1.0) - (980.665 * cos - 98.0665 * cos - 60.0)).abs() < 1e-5);
    }
}
