//! Which pedal the port shows, and what it reads at the ends of the pedal's travel.

use schemars::JsonSchema;
use serde::Serialize;

/// Which pedal position of SAE J1979 / ISO 15031-5, service 01, the box reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PedalIdentifier {
    /// 49: accelerator pedal position D, the first sensor.
    D,
    /// 4A: accelerator pedal position E, the second sensor.
    E,
    /// 5A: relative accelerator pedal position, counted from the released stop that the vehicle has learned.
    Relative,
}

impl PedalIdentifier {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::D, Self::E, Self::Relative];

    /// The identifier as it is asked for.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self::D => 0x49,
            Self::E => 0x4A,
            Self::Relative => 0x5A,
        }
    }
}

/// A pedal whose stops lie nearer than this can't be read to 2 % (our own choice).
pub const LEAST_TRAVEL: u8 = 64;

/// The codes that the port shows with the pedal released and on the floor.
///
/// Few pedals use the whole byte: released they read some 5 to 20 %, floored 80 to 90 % (common practice, no source).
/// The map's pedal positions are shares of the travel between the stops, and so is what the rules judge by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct PedalStops {
    /// Code of the released pedal, 0 to 255.
    pub released: u8,
    /// Code of the pedal on the floor, at least 64 above.
    pub floored: u8,
}

impl PedalStops {
    /// The whole byte.
    pub const WHOLE: Self = Self { released: 0, floored: 255 };

    /// What the port shows released and floored, %.
    #[must_use]
    pub fn read_pct(self) -> [f64; 2] {
        [self.released, self.floored].map(|code| f64::from(code) * 100.0 / 255.0)
    }

    /// The share of the travel that a reading stands for, 0 to 100 %; with the whole byte the reading itself, to the bit.
    #[must_use]
    pub fn travel_pct(self, read_pct: f64) -> f64 {
        let [released, floored] = self.read_pct();
        ((read_pct - released) / ((floored - released) / 100.0)).clamp(0.0, 100.0)
    }

    /// The code, with its fraction, that a share of the travel comes to.
    #[must_use]
    pub fn code_at(self, travel_pct: f64) -> f64 {
        f64::from(self.released) + travel_pct * f64::from(self.floored.saturating_sub(self.released)) / 100.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// From 20 to 220 are 200 codes, half a percent each; 120 is the middle.
    #[test]
    fn a_reading_becomes_a_share_of_the_travel() {
        let stops = PedalStops { released: 20, floored: 220 };
        for (code, pct) in [(0, 0.0), (20, 0.0), (21, 0.5), (120, 50.0), (200, 90.0), (220, 100.0), (255, 100.0)] {
            let read_pct = f64::from(code) * 100.0 / 255.0;
            assert!((stops.travel_pct(read_pct) - pct).abs() < 1e-9, "{code}");
        }
        assert_eq!([0.0, 50.0, 90.0, 100.0].map(|pct| stops.code_at(pct)), [20.0, 120.0, 200.0, 220.0]);
    }

    #[test]
    fn the_whole_byte_changes_no_bit() {
        for code in 0..=255u8 {
            let read_pct = f64::from(code) * 100.0 / 255.0;
            assert_eq!(PedalStops::WHOLE.travel_pct(read_pct).to_bits(), read_pct.to_bits());
        }
    }
}
