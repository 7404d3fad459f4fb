//! Quantities with units: every number a person writes carries its unit, and prints with it.
//!
//! Each type wraps one `f64` in its canonical unit. The inner loop works on plain `f64` whose names end in the unit;
//! these types stand where numbers are read, kept and shown.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};
use std::borrow::Cow;
use std::fmt;

/// A number together with the unit it is written in.
pub trait Quantity: Copy + fmt::Display {
    /// What is measured, for messages: "speed", "mass".
    const WHAT: &'static str;
    /// Accepted unit names and the factor that turns a number in that unit into the canonical one; canonical first.
    const UNITS: &'static [(&'static str, f64)];
    /// A correct example for messages.
    const EXAMPLE: &'static str;
    /// Wraps a number in the canonical unit.
    fn from_canonical(value: f64) -> Self;
    /// The number in the canonical unit.
    fn canonical(self) -> f64;

    /// Reads "62 mph".
    ///
    /// # Errors
    /// A sentence that says what is wrong and what would be right.
    fn parse(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let split = text
            .char_indices()
            .find(|&(_, c)| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
            .map_or(text.len(), |(at, _)| at);
        let (number, unit) = (&text[..split], text[split..].trim());
        let wanted = || {
            let names: Vec<&str> = Self::UNITS.iter().map(|&(name, _)| name).filter(|n| !n.is_empty()).collect();
            if names.is_empty() {
                format!("write a plain number, for example \"{}\"", Self::EXAMPLE)
            } else {
                format!("write a number and its unit ({}), for example \"{}\"", names.join(", "), Self::EXAMPLE)
            }
        };
        let value: f64 = number.parse().map_err(|_| format!("\"{text}\" is no {}: {}", Self::WHAT, wanted()))?;
        if !value.is_finite() {
            return Err(format!("\"{text}\" is no finite {}", Self::WHAT));
        }
        match Self::UNITS.iter().find(|&&(name, _)| name == unit) {
            Some(&(_, factor)) => Ok(Self::from_canonical(value * factor)),
            None if unit.is_empty() => Err(format!("\"{text}\" has no unit: {}", wanted())),
            None => Err(format!("\"{unit}\" is no unit of {}: {}", Self::WHAT, wanted())),
        }
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $what:literal, $example:literal, [$($unit:literal = $factor:expr),+ $(,)?]) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(pub f64);

        impl Quantity for $name {
            const WHAT: &'static str = $what;
            const UNITS: &'static [(&'static str, f64)] = &[$(($unit, $factor)),+];
            const EXAMPLE: &'static str = $example;
            fn from_canonical(value: f64) -> Self {
                Self(value)
            }
            fn canonical(self) -> f64 {
                self.0
            }
        }

        written!($name, $what, $example);
    };
}

/// How a quantity is written: with its unit, in text as in files.
macro_rules! written {
    ($name:ident, $what:literal, $example:literal) => {
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                if let Some(decimals) = f.precision() {
                    write!(f, "{:.*}", decimals, self.canonical())?;
                } else {
                    write!(f, "{}", self.canonical())?;
                }
                let unit = <Self as Quantity>::UNITS[0].0;
                if unit.is_empty() { Ok(()) } else { write!(f, " {unit}") }
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                let units: Vec<String> = <Self as Quantity>::UNITS.iter().map(|(u, _)| u.replace('/', "\\/")).collect();
                json_schema!({
                    "type": "string",
                    "description": concat!("A ", $what, ", for example \"", $example, "\""),
                    "pattern": format!("^\\s*[-+]?[0-9]*\\.?[0-9]+\\s*({})\\s*$", units.join("|")),
                })
            }
        }
    };
}

quantity!(
    /// Speed, km/h.
    Kmh, "speed", "62 km/h", ["km/h" = 1.0, "mph" = KMH_PER_MPH, "m/s" = 3.6]
);
quantity!(
    /// Rate of change of speed, km/h per second.
    KmhPerS, "rate of speed", "40 km/h/s", ["km/h/s" = 1.0, "m/s2" = 3.6]
);
quantity!(
    /// Engine speed, r/min.
    Rpm, "engine speed", "1500 rpm", ["rpm" = 1.0]
);
quantity!(
    /// Mass, kg.
    Kg, "mass", "2600 kg", ["kg" = 1.0, "t" = 1000.0, "lb" = 0.453_592_37]
);
quantity!(
    /// Length, m.
    Metre, "length", "0.375 m", ["m" = 1.0, "mm" = 0.001, "in" = 0.0254]
);
quantity!(
    /// Torque, N m.
    Nm, "torque", "400 Nm", ["Nm" = 1.0, "lb-ft" = 1.355_817_948_331_400_4]
);
quantity!(
    /// Power, kW.
    Kw, "power", "127 kW", ["kW" = 1.0, "hp" = 0.745_699_871_582_270_2]
);
quantity!(
    /// A share, %.
    Percent, "percentage", "35 %", ["%" = 1.0]
);
quantity!(
    /// Area, m².
    SquareMetre, "area", "1.3 m2", ["m2" = 1.0]
);
quantity!(
    /// Moment of inertia, kg m².
    KgM2, "moment of inertia", "0.3 kgm2", ["kgm2" = 1.0]
);
quantity!(
    /// Voltage, V.
    Volt, "voltage", "6 V", ["V" = 1.0]
);
quantity!(
    /// A bare number: gear ratio, coefficient.
    Plain, "number", "3.7", ["" = 1.0]
);

/// Time, ms; drives and limits live on the grid of whole milliseconds, which the rules ask for in each tick.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Ms {
    value: f64,
    whole: u32,
}

impl Ms {
    /// So many milliseconds.
    #[must_use]
    pub const fn new(ms: f64) -> Self {
        // The cast takes the whole part, keeps to the ends of the range, and makes 0 of what is no number.
        Self { value: ms, whole: (ms + 0.5) as u32 }
    }

    /// The milliseconds as they were written.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.value
    }

    /// Whole milliseconds, for the tick grid.
    #[must_use]
    pub const fn ms(self) -> u32 {
        self.whole
    }
}

impl Quantity for Ms {
    const WHAT: &'static str = "time";
    const UNITS: &'static [(&'static str, f64)] = &[("ms", 1.0), ("s", 1000.0), ("min", 60_000.0)];
    const EXAMPLE: &'static str = "250 ms";
    fn from_canonical(value: f64) -> Self {
        Self::new(value)
    }
    fn canonical(self) -> f64 {
        self.value
    }
}

written!(Ms, "time", "250 ms");

/// km/h in one mph: exact by the definition of the international mile (1.609344 km).
pub const KMH_PER_MPH: f64 = 1.609_344;

/// 2π/60: rad/s in one r/min.
pub const RAD_S_PER_RPM: f64 = std::f64::consts::TAU / 60.0;

/// Engine speed with nothing slipping, r/min per km/h of road speed, for one total ratio and a rolling radius in m.
///
/// n = v/(3.6·r)·i·60/2π, the usual form (for example MAN, "Calculations", 2000, formula 1).
#[must_use]
pub fn rpm_per_kmh(total_ratio: f64, wheel_radius_m: f64) -> f64 {
    total_ratio / (3.6 * wheel_radius_m * RAD_S_PER_RPM)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_speed_reads_in_every_unit() {
        assert_eq!(Kmh::parse("62 km/h"), Ok(Kmh(62.0)));
        assert_eq!(Kmh::parse("10mph"), Ok(Kmh(16.09344)));
        assert_eq!(Kmh::parse("10 m/s"), Ok(Kmh(36.0)));
    }

    #[test]
    fn a_number_without_its_unit_is_refused_with_an_example() {
        let error = Kmh::parse("62").unwrap_err();
        assert_eq!(error, "\"62\" has no unit: write a number and its unit (km/h, mph, m/s), for example \"62 km/h\"");
        assert!(Rpm::parse("1500 1/min").unwrap_err().contains("\"1/min\" is no unit of engine speed"));
        assert!(Rpm::parse("").is_err());
        assert!(Plain::parse("3.7").is_ok());
    }

    #[test]
    fn what_is_printed_reads_back_the_same() {
        for v in [0.1, 99.779_328, 1e-7, 123_456.789] {
            assert_eq!(Kmh::parse(&Kmh(v).to_string()), Ok(Kmh(v)));
        }
    }

    /// The demo van's gears by hand: 60·3.70·i/(3.6·2π·0.375) = 26.1718·i.
    #[test]
    fn rpm_per_kmh_of_the_demo_van() {
        for (ratio, rpm) in [(3.80, 99.45), (2.21, 57.84), (1.46, 38.21), (1.08, 28.27), (0.83, 21.72), (0.72, 18.84)] {
            assert!((rpm_per_kmh(3.70 * ratio, 0.375) - rpm).abs() < 0.01);
        }
    }
}
