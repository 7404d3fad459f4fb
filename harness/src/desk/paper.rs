//! A map laid out at every pedal code that the port can show.

use crate::spec::Spec;
use crate::spec::map::Line;
use crate::spec::written::Grid;
use crate::spec::written::WrittenMap;
use crate::vehicle::Steady;

/// Pedal codes: a byte (SAE J1979, accelerator pedal position).
pub const CODES: u16 = 256;

/// The pedal position (%) of a code.
#[must_use]
pub fn pedal_pct(code: u16) -> f64 {
    f64::from(code) * 100.0 / f64::from(CODES - 1)
}

/// The lowest code that shows this pedal position or more.
#[must_use]
pub fn code_at_or_above(pct: f64) -> u16 {
    (0..CODES).find(|&code| pedal_pct(code) >= pct).unwrap_or(CODES - 1)
}

/// What all checks look at.
pub struct Paper<'a> {
    /// The spec, its map perhaps already cured in part.
    pub spec: &'a Spec,
    /// The map as it is written, where there is a text.
    pub written: Option<&'a WrittenMap>,
    /// The vehicle without dynamics.
    pub steady: Steady,
    /// The same with the trailer that the spec names.
    pub towing: Option<Steady>,
}

impl<'a> Paper<'a> {
    /// Lays out a spec.
    #[must_use]
    pub fn new(spec: &'a Spec, written: Option<&'a WrittenMap>) -> Self {
        let towing = spec.vehicle.towing.map(|towing| {
            let mut both = spec.clone();
            (both.vehicle.mass, both.vehicle.drag_area) = (towing.mass, towing.drag_area);
            Steady::new(&both)
        });
        Self { spec, written, steady: Steady::new(spec), towing }
    }

    /// The lowest gear that the box commands.
    #[must_use]
    pub fn lowest(&self) -> u8 {
        self.spec.facts.lowest_gear.max(1)
    }

    /// The lowest gear out of which the box commands up.
    #[must_use]
    pub fn lowest_up_from(&self) -> u8 {
        self.spec.facts.lowest_up_from().max(1)
    }

    /// The gears below the top one out of which the box commands up: each has an up line.
    #[must_use]
    pub fn lower_gears(&self) -> std::ops::Range<u8> {
        self.lowest_up_from()..self.top()
    }

    /// The top gear of map and vehicle.
    #[must_use]
    pub fn top(&self) -> u8 {
        self.spec.map.top_gear().min(self.spec.gears())
    }

    /// The up line out of a gear at a code, km/h.
    #[must_use]
    pub fn up(&self, gear: u8, code: u16) -> Option<f64> {
        self.spec.map.up_kmh(gear, pedal_pct(code))
    }

    /// The down line out of a gear at a code, km/h.
    #[must_use]
    pub fn down(&self, gear: u8, code: u16) -> Option<f64> {
        self.spec.map.down_kmh(gear, pedal_pct(code))
    }

    /// A line of the map.
    #[must_use]
    pub fn line(&self, from: u8, to: u8) -> Option<&Line> {
        self.spec.map.lines.iter().find(|l| (l.from, l.to) == (from, to))
    }

    /// The speed of a line at one of the map's own pedal positions, km/h.
    #[must_use]
    pub fn at(&self, from: u8, to: u8, position: usize) -> Option<f64> {
        self.line(from, to)?.speeds.get(position).map(|s| s.0)
    }

    /// The two positions of the map around a pedal, each with its share of the speed read there.
    #[must_use]
    pub fn around(&self, pct: f64) -> [(usize, f64); 2] {
        let pedal = &self.spec.map.pedal;
        let above = pedal.partition_point(|p| p.0 <= pct);
        let last = pedal.len().saturating_sub(1);
        match (above.checked_sub(1), pedal.get(above)) {
            (Some(below), Some(high)) => {
                let low = pedal.get(below).map_or(0.0, |p| p.0);
                let share = (pct - low) / (high.0 - low);
                [(below, 1.0 - share), (above, share)]
            }
            (None, _) => [(0, 1.0), (0, 0.0)],
            (_, None) => [(last, 1.0), (last, 0.0)],
        }
    }

    /// The position of the map nearest to a pedal.
    #[must_use]
    pub fn nearest(&self, pct: f64) -> usize {
        let [low, high] = self.around(pct);
        if high.1 > low.1 { high.0 } else { low.0 }
    }

    /// The grid on which a speed is written.
    #[must_use]
    pub fn grid(&self, from: u8, to: u8, position: usize) -> Grid {
        self.written.and_then(|w| w.grid(from, to, position)).unwrap_or(Grid::WHOLE_KMH)
    }
}
