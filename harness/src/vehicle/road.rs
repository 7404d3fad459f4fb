//! Road load: rolling, grade, air.

/// Standard gravity, m/s².
pub const G_MPS2: f64 = 9.806_65;
/// Density of air, kg/m³.
pub const AIR_KG_M3: f64 = 1.2;

/// Sine and cosine of a grade given as rise over run (0.12 = 12 %).
#[must_use]
pub fn slope(grade: f64) -> (f64, f64) {
    let length = (1.0 + grade * grade).sqrt();
    (grade / length, 1.0 / length)
}

/// Rolling resistance, N, without its sign: m·g·C_rr·cosθ.
#[must_use]
pub fn rolling_n(mass_kg: f64, coefficient: f64, cosine: f64) -> f64 {
    mass_kg * G_MPS2 * coefficient * cosine
}

/// Grade resistance, N: m·g·sinθ.
#[must_use]
pub fn grade_n(mass_kg: f64, sine: f64) -> f64 {
    mass_kg * G_MPS2 * sine
}

/// Air resistance, N, against the movement: ½·ρ·c_d·A·v².
#[must_use]
pub fn air_n(density_kg_m3: f64, drag_area_m2: f64, v_mps: f64) -> f64 {
    0.5 * density_kg_m3 * drag_area_m2 * v_mps * v_mps.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mannering, Washburn, Kilareski, Principles of Highway Engineering and Traffic Analysis, 4th edition, solutions
    /// manual (Wiley 2008), problem 2.31: C_d 0.35, A 20 ft², ρ 0.002045 slug/ft³, 70 mph, 2000 lb: R_a 75.44 lb,
    /// R_g = W·G = 100 lb at 5 %, R_rl 33.97 lb with f = 0.01·(1 + V/147), F 209.41 lb.
    #[test]
    fn the_printed_road_load_example() {
        const LB_N: f64 = 4.448_221_615_260_5;
        const FT_M: f64 = 0.3048;
        let v_mps = 70.0 * 0.447_04;
        let density = 0.002_045 * 515.378_818_4;
        let air_lb = air_n(density, 0.35 * 20.0 * FT_M * FT_M, v_mps) / LB_N;
        assert!((air_lb - 75.44).abs() < 0.01, "{air_lb}");
        let mass_kg = 2000.0 * 0.453_592_37;
        let f = 0.01 * (1.0 + v_mps / FT_M / 147.0);
        let rolling_lb = rolling_n(mass_kg, f, 1.0) / LB_N;
        assert!((rolling_lb - 33.97).abs() < 0.01, "{rolling_lb}");
        // The book takes W·G; exact is W·sin(atan G) = 99.8752 lb.
        let grade_lb = grade_n(mass_kg, slope(0.05).0) / LB_N;
        assert!((grade_lb - 99.8752).abs() < 0.001, "{grade_lb}");
    }
}
