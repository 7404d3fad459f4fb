//! Resolution of the standard identifiers (SAE J1979 / ISO 15031-5): 0D speed, 0C engine speed, 49, 4A and 5A pedal.
//!
//! A cast takes the whole part and keeps to the ends of the range.

use crate::spec::link::Rounding;
use crate::spec::pedal::PedalStops;

/// Identifier 0D: one byte, km/h; unsigned.
#[must_use]
pub fn speed_raw(speed_kmh: f64, rounding: Rounding) -> u8 {
    let magnitude = speed_kmh.abs();
    match rounding {
        Rounding::Floor => magnitude as u8,
        Rounding::Nearest => (magnitude + 0.5) as u8,
    }
}

/// Identifier 0D decoded, km/h.
#[must_use]
pub fn speed_kmh(raw: u8) -> f64 {
    f64::from(raw)
}

/// Identifiers 49, 4A, 5A: one byte; a share of the travel between the stops, %, to the nearest code.
#[must_use]
pub fn pedal_raw(travel_pct: f64, stops: PedalStops) -> u8 {
    (stops.code_at(travel_pct) + 0.5) as u8
}

/// Identifiers 49, 4A, 5A decoded, %: 100/255 % a code, whatever the stops are.
#[must_use]
pub fn pedal_pct(raw: u8) -> f64 {
    f64::from(raw) * 100.0 / 255.0
}

/// Identifier 0C: two bytes, 1/4 r/min.
#[must_use]
pub fn engine_raw(engine_rpm: f64) -> u16 {
    (engine_rpm * 4.0 + 0.5) as u16
}

/// Identifier 0C decoded, r/min.
#[must_use]
pub fn engine_rpm(raw: u16) -> f64 {
    f64::from(raw) / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Examples of the identifier tables: 41 0C 1A F8 is 1726 rpm, 41 0D 3C is 60 km/h, 41 49 80 is 50.196 %.
    #[test]
    fn printed_examples_decode() {
        assert_eq!(engine_rpm(0x1AF8), 1726.0);
        assert_eq!(engine_rpm(0x0C80), 800.0);
        assert_eq!(speed_kmh(0x3C), 60.0);
        assert!((pedal_pct(0x80) - 50.196_078_43).abs() < 1e-8);
    }

    #[test]
    fn every_raw_value_encodes_back_to_itself() {
        for raw in 0..=255u8 {
            assert_eq!(speed_raw(speed_kmh(raw), Rounding::Floor), raw);
            assert_eq!(speed_raw(speed_kmh(raw), Rounding::Nearest), raw);
            assert_eq!(pedal_raw(pedal_pct(raw), PedalStops::WHOLE), raw);
        }
        for raw in 0..=65535u16 {
            assert_eq!(engine_raw(engine_rpm(raw)), raw);
        }
    }

    #[test]
    fn speed_is_unsigned_whole_and_bounded() {
        assert_eq!(speed_raw(50.99, Rounding::Floor), 50);
        assert_eq!(speed_raw(50.5, Rounding::Nearest), 51);
        assert_eq!(speed_raw(-8.2, Rounding::Floor), 8);
        assert_eq!(speed_raw(300.0, Rounding::Floor), 255);
        assert_eq!(speed_raw(f64::NAN, Rounding::Floor), 0);
    }

    /// Stops at 38 and 217: 179 codes of travel; half of it is 127.5, which rounds to 128.
    #[test]
    fn the_pedal_moves_between_its_stops() {
        let stops = PedalStops { released: 38, floored: 217 };
        assert_eq!([0.0, 50.0, 100.0].map(|pct| pedal_raw(pct, stops)), [38, 128, 217]);
    }
}
