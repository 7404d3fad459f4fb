//! The shift map: speeds at which to shift, over the pedal.

use crate::units::{Kmh, Percent};
use schemars::JsonSchema;
use serde::Serialize;

/// One line: the speed at which the shift is due, at each pedal position of the map.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Line {
    /// The gear left.
    pub from: u8,
    /// The gear entered: one above or below.
    pub to: u8,
    /// Speeds, as many as the map has pedal positions.
    pub speeds: Vec<Kmh>,
}

/// A shift map. An up line is due at its speed or above, a down line at its speed or below.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct ShiftMap {
    /// Pedal positions, rising from 0 % to 100 %.
    pub pedal: Vec<Percent>,
    /// The lines, up lines first, each by rising gear.
    pub lines: Vec<Line>,
}

/// Where a pedal position lies among those of the map.
enum Place {
    At(usize),
    /// So far into the cell above one, and the cell's width, %.
    Between {
        below: usize,
        into: f64,
        cell: f64,
    },
}

impl Place {
    fn on(&self, line: &Line) -> Option<f64> {
        match *self {
            Self::At(at) => line.speeds.get(at).map(|s| s.0),
            Self::Between { below, into, cell } => {
                let (v0, v1) = (line.speeds.get(below)?.0, line.speeds.get(below + 1)?.0);
                Some(v0 + (v1 - v0) * into / cell)
            }
        }
    }
}

impl ShiftMap {
    /// The speed (km/h) of the line between two gears at a pedal position (%), linear between the map's positions;
    /// `None` where the map has no such line.
    #[must_use]
    pub fn speed_kmh(&self, from: u8, to: u8, pedal_pct: f64) -> Option<f64> {
        let line = self.lines.iter().find(|l| l.from == from && l.to == to)?;
        self.place(pedal_pct).on(line)
    }

    /// The speeds (km/h) of all lines at a pedal position (%), in the map's order.
    pub fn speeds_kmh(&self, pedal_pct: f64) -> impl Iterator<Item = f64> {
        let place = self.place(pedal_pct);
        self.lines.iter().filter_map(move |line| place.on(line))
    }

    fn place(&self, pedal_pct: f64) -> Place {
        let above = self.pedal.partition_point(|p| p.0 <= pedal_pct);
        match (above.checked_sub(1).map(|below| self.pedal[below].0), self.pedal.get(above)) {
            (None, _) => Place::At(0),
            (Some(_), None) => Place::At(above - 1),
            (Some(p0), Some(p1)) => Place::Between { below: above - 1, into: pedal_pct - p0, cell: p1.0 - p0 },
        }
    }

    /// Speed at which an upshift out of `gear` is due.
    #[must_use]
    pub fn up_kmh(&self, gear: u8, pedal_pct: f64) -> Option<f64> {
        self.speed_kmh(gear, gear + 1, pedal_pct)
    }

    /// Speed at which a downshift out of `gear` is due.
    #[must_use]
    pub fn down_kmh(&self, gear: u8, pedal_pct: f64) -> Option<f64> {
        if gear == 0 { None } else { self.speed_kmh(gear, gear - 1, pedal_pct) }
    }

    /// The highest gear that a line enters.
    #[must_use]
    pub fn top_gear(&self) -> u8 {
        self.lines.iter().map(|l| l.to.max(l.from)).max().unwrap_or(1)
    }
}
