//! What nobody states of a vehicle, filled in by its class: each number with a spread and the origin 'assumed'.
//!
//! The numbers are common practice of the trade or invented, as the table says; none has a source. The spreads are
//! invented, and meant to be wide enough that a vehicle of the class lies within them.

use super::known::{Known, Origin};
use super::vehicle::{CapacityPoint, Class, TorquePoint};
use crate::units::{KgM2, Kw, Metre, Ms, Nm, Percent, Plain, Rpm, SquareMetre};
use schemars::JsonSchema;
use serde::Serialize;

/// A number and its spread, %.
type Guess = (f64, f64);

/// What is assumed of a class.
#[derive(Debug, Clone, Copy)]
pub struct Assumed {
    drag_area: Guess,
    rolling_resistance: Guess,
    wheel_inertia: Guess,
    driven_share: Guess,
    engine_drag: Guess,
    engine_drag_per_1000rpm: Guess,
    engine_inertia: Guess,
    pedal_law: Guess,
    lag_up: Guess,
    lag_down: Guess,
    /// Engine speed at full pedal with the wheels held, r/min.
    stall_rpm: f64,
    /// Torque at idle over the greatest torque, at full pedal.
    idle_share: f64,
    /// Torque at the redline over that at rated power.
    redline_share: f64,
    lockup_above: Guess,
    efficiency: Guess,
}

// Common practice, no source: drag_area, rolling_resistance, driven_share, pedal_law, efficiency, stall_rpm.
// Invented: all others.
const LIGHT_PETROL: Assumed = Assumed {
    drag_area: (0.70, 15.0),
    rolling_resistance: (0.011, 20.0),
    wheel_inertia: (3.5, 30.0),
    driven_share: (58.0, 10.0),
    engine_drag: (10.0, 30.0),
    engine_drag_per_1000rpm: (5.0, 30.0),
    engine_inertia: (0.15, 30.0),
    pedal_law: (1.4, 20.0),
    lag_up: (150.0, 40.0),
    lag_down: (80.0, 40.0),
    stall_rpm: 2_300.0,
    idle_share: 0.55,
    redline_share: 0.85,
    lockup_above: (1_200.0, 15.0),
    efficiency: (92.0, 4.0),
};

const DIESEL_VAN: Assumed = Assumed {
    drag_area: (1.30, 20.0),
    rolling_resistance: (0.012, 20.0),
    wheel_inertia: (6.0, 30.0),
    driven_share: (55.0, 15.0),
    engine_drag: (20.0, 30.0),
    engine_drag_per_1000rpm: (10.0, 30.0),
    engine_inertia: (0.30, 30.0),
    pedal_law: (1.4, 20.0),
    lag_up: (250.0, 40.0),
    lag_down: (100.0, 40.0),
    stall_rpm: 2_400.0,
    idle_share: 0.48,
    redline_share: 0.66,
    lockup_above: (1_050.0, 15.0),
    efficiency: (92.0, 4.0),
};

const HEAVY_DIESEL: Assumed = Assumed {
    drag_area: (6.0, 25.0),
    rolling_resistance: (0.008, 30.0),
    wheel_inertia: (60.0, 40.0),
    driven_share: (65.0, 15.0),
    engine_drag: (90.0, 30.0),
    engine_drag_per_1000rpm: (60.0, 30.0),
    engine_inertia: (2.5, 40.0),
    pedal_law: (1.3, 20.0),
    lag_up: (400.0, 40.0),
    lag_down: (150.0, 40.0),
    stall_rpm: 1_600.0,
    idle_share: 0.50,
    redline_share: 0.60,
    lockup_above: (900.0, 15.0),
    efficiency: (90.0, 4.0),
};

/// K over its stall value, by speed ratio: invented, the shape of a usual three-element converter.
const CAPACITY_SHAPE: [(f64, f64); 6] = [(0.0, 1.0), (0.5, 1.06), (0.8, 1.2), (0.9, 1.44), (0.95, 1.88), (0.98, 2.88)];

/// How far an assumed full-load curve may be off, %: invented.
pub const CURVE_SPREAD_PCT: f64 = 10.0;
/// How far an assumed converter capacity may be off, %: invented.
pub const CAPACITY_SPREAD_PCT: f64 = 15.0;

impl Assumed {
    /// The numbers of a class.
    #[must_use]
    pub const fn of(class: Class) -> Self {
        match class {
            Class::LightPetrol => LIGHT_PETROL,
            Class::DieselVan => DIESEL_VAN,
            Class::HeavyDiesel => HEAVY_DIESEL,
        }
    }
}

macro_rules! guesses {
    ($($(#[$doc:meta])* $name:ident: $unit:ty;)+) => {
        impl Assumed {
            $($(#[$doc])*
            #[must_use]
            pub fn $name(&self) -> Known<$unit> {
                Known::assumed(self.$name.0, self.$name.1)
            })+
        }
    };
}

guesses! {
    /// Drag area.
    drag_area: SquareMetre;
    /// Rolling resistance.
    rolling_resistance: Plain;
    /// Inertia of the wheels.
    wheel_inertia: KgM2;
    /// Share of the weight on the driven axle.
    driven_share: Percent;
    /// Engine drag at standstill.
    engine_drag: Nm;
    /// Engine drag per 1,000 rpm.
    engine_drag_per_1000rpm: Nm;
    /// Engine inertia.
    engine_inertia: KgM2;
    /// Pedal law.
    pedal_law: Plain;
    /// Lag of rising torque.
    lag_up: Ms;
    /// Lag of falling torque.
    lag_down: Ms;
    /// Turbine speed below which the lock-up clutch is open.
    lockup_above: Rpm;
    /// Efficiency.
    efficiency: Percent;
}

/// Rated power and the speed at which it is given: `rated-power` in a file, from which a curve follows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct RatedPower {
    /// Power.
    pub power: Kw,
    /// At this engine speed.
    pub speed: Rpm,
}

/// Rated torque and the lowest speed at which it is given: `rated-torque` in a file.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct RatedTorque {
    /// Torque.
    pub torque: Nm,
    /// At this engine speed.
    pub speed: Rpm,
}

/// N m per kW/rpm: 60,000/2π.
const NM_PER_KW_BY_RPM: f64 = 30_000.0 / std::f64::consts::PI;

impl RatedPower {
    /// The torque that gives the rated power.
    #[must_use]
    pub fn torque_nm(&self) -> f64 {
        self.power.0 * NM_PER_KW_BY_RPM / self.speed.0
    }
}

impl Assumed {
    /// A full-load curve of the class's shape through rated torque and rated power: rising from idle to the rated
    /// torque, falling to the torque of the rated power, and on to the redline.
    ///
    /// # Errors
    /// A sentence that says why no curve goes through these numbers.
    pub fn curve(
        &self,
        idle_rpm: f64,
        redline_rpm: f64,
        power: RatedPower,
        torque: RatedTorque,
    ) -> Result<Vec<TorquePoint>, String> {
        let (low, high) = (torque.speed.0, power.speed.0);
        if !(idle_rpm < low && low < high && high <= redline_rpm) {
            return Err(format!(
                "no curve: needs idle ({idle_rpm} rpm) < speed of rated torque ({low} rpm) < speed of rated power \
                 ({high} rpm) ≤ redline ({redline_rpm} rpm)"
            ));
        }
        let at_power = power.torque_nm();
        if at_power > torque.torque.0 {
            let most = torque.torque.0;
            return Err(format!(
                "{} at {high} rpm take {at_power:.0} Nm: more than the rated torque of {most} Nm",
                power.power
            ));
        }
        let point = |speed: f64, torque: f64| TorquePoint { speed: Rpm(speed), torque: Nm(torque) };
        let mut curve = vec![
            point(idle_rpm, self.idle_share * torque.torque.0),
            point(low, torque.torque.0),
            point(high, at_power),
        ];
        if high < redline_rpm {
            curve.push(point(redline_rpm, self.redline_share * at_power));
        }
        Ok(curve)
    }

    /// Capacity of a converter that stalls at the class's usual speed under this torque (N m).
    #[must_use]
    pub fn capacity(&self, greatest_torque_nm: f64) -> Vec<CapacityPoint> {
        let stall_k = self.stall_rpm / greatest_torque_nm.sqrt();
        let point =
            |&(ratio, share): &(f64, f64)| CapacityPoint { speed_ratio: Plain(ratio), k: Plain(stall_k * share) };
        CAPACITY_SHAPE.iter().map(point).collect()
    }
}

/// Rolling radii of road vehicles, m.
pub const RADIUS_M: std::ops::RangeInclusive<f64> = 0.15..=0.8;

/// Rolling radius of a tyre written like "235/65 R16".
///
/// Free diameter: rim and twice the side wall. A radial tyre under load rolls 3.05 diameters a turn (common practice
/// of the tyre trade, from memory), so the radius is 3.05/2π of the diameter, or 0.971 of the free radius.
///
/// # Errors
/// A sentence that says how a size is written.
pub fn tyre_radius(text: &str) -> Result<Known<Metre>, String> {
    let wrong = || format!("\"{text}\" is no tyre size: write width/aspect and rim, for example \"235/65 R16\"");
    let (width, rest) = text.split_once('/').ok_or_else(wrong)?;
    let (aspect, rim) = rest.split_once(['R', 'r']).ok_or_else(wrong)?;
    let whole = |part: &str| part.trim().parse::<u16>().map(f64::from).map_err(|_| wrong());
    let rim_digits = rim.trim().trim_end_matches(['C', 'c']);
    let rim_inch: f64 = if rim_digits.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
        rim_digits.parse().map_err(|_| wrong())?
    } else {
        return Err(wrong());
    };
    let (width_mm, aspect_pct) = (whole(width)?, whole(aspect)?);
    let usual = (100.0..=500.0).contains(&width_mm)
        && (20.0..=100.0).contains(&aspect_pct)
        && (10.0..=26.0).contains(&rim_inch);
    if !usual {
        return Err(format!(
            "\"{text}\" is no tyre of a road vehicle: width 100 to 500 mm, aspect 20 to 100 %, rim 10 to 26 in"
        ));
    }
    let diameter_mm = rim_inch * 25.4 + 2.0 * width_mm * aspect_pct / 100.0;
    let radius_m = diameter_mm / 1000.0 * 3.05 / std::f64::consts::TAU;
    if !RADIUS_M.contains(&radius_m) {
        return Err(format!("\"{text}\" gives a rolling radius of {radius_m:.3} m: no road vehicle's"));
    }
    Ok(Known { value: Metre(radius_m), origin: Origin::Assumed, spread: Percent(2.0) })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 16 in = 406.4 mm, side walls 2 · 152.75 mm: 711.9 mm; · 3.05/2π = 345.57 mm.
    #[test]
    fn the_radius_of_a_tyre_by_hand() {
        for text in ["235/65 R16", "235/65R16", " 235/65 R16C"] {
            let radius = tyre_radius(text).unwrap();
            assert!((radius.get() - 0.345_57).abs() < 1e-5);
            assert_eq!((radius.origin, radius.spread), (Origin::Assumed, Percent(2.0)));
        }
        for text in [
            "",
            "235",
            "235/65",
            "235/65 R",
            "2/65 R16",
            "235/65 R99",
            "a/b Rc",
            "235/65 Rinf",
            "500/100 R26",
            "235/65 R1e1",
        ] {
            assert!(tyre_radius(text).is_err(), "{text}");
        }
    }

    /// 100 kW at 3,000 rpm are 100,000/(2π·50) = 318.31 N m.
    #[test]
    fn a_curve_goes_through_the_rated_numbers() {
        let power = RatedPower { power: Kw(100.0), speed: Rpm(3000.0) };
        let torque = RatedTorque { torque: Nm(400.0), speed: Rpm(1500.0) };
        let curve = Assumed::of(Class::DieselVan).curve(750.0, 4000.0, power, torque).unwrap();
        let speeds: Vec<f64> = curve.iter().map(|p| p.speed.0).collect();
        assert_eq!(speeds, [750.0, 1500.0, 3000.0, 4000.0]);
        assert!((curve[2].torque.0 - 318.31).abs() < 0.01);
        assert_eq!(curve[1].torque, Nm(400.0));
        let at_the_redline = Assumed::of(Class::DieselVan).curve(750.0, 3000.0, power, torque).unwrap();
        assert_eq!(at_the_redline.len(), 3);
    }

    #[test]
    fn no_curve_goes_through_contradicting_numbers() {
        let torque = RatedTorque { torque: Nm(300.0), speed: Rpm(1500.0) };
        let too_strong = RatedPower { power: Kw(100.0), speed: Rpm(3000.0) };
        let class = Assumed::of(Class::LightPetrol);
        assert!(class.curve(750.0, 4000.0, too_strong, torque).unwrap_err().contains("take 318 Nm"));
        let too_fast = RatedPower { power: Kw(80.0), speed: Rpm(5000.0) };
        assert!(class.curve(750.0, 4000.0, too_fast, torque).is_err());
    }

    #[test]
    fn an_assumed_converter_stalls_at_the_speed_of_its_class() {
        let capacity = Assumed::of(Class::HeavyDiesel).capacity(1600.0);
        // n = K·√T = K·40 = 1,600 rpm.
        assert_eq!(capacity[0].k, Plain(40.0));
        assert_eq!((capacity[0].speed_ratio, capacity[5].speed_ratio), (Plain(0.0), Plain(0.98)));
    }
}
