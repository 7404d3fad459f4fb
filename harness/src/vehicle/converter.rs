//! The torque converter: capacity and torque ratio over the speed ratio, and its overrun branch.

use super::table::between;
use crate::spec::vehicle;
use crate::units::RAD_S_PER_RPM;

/// Capacity is this much less (K greater) when the wheels drive the engine (invented).
const OVERRUN_K: f64 = 1.3;

/// Cells over the speed ratio: 0.0025 wide, so that points at whole hundredths are exact.
const CELLS: u16 = 400;

/// Torques of pump and turbine at a pair of speeds, with their slopes over both.
#[derive(Debug, Clone, Copy, Default)]
pub struct Slip {
    /// Torque taken from the engine, N m.
    pub pump: f64,
    /// Its slope over engine speed, N m s.
    pub pump_by_engine: f64,
    /// Its slope over turbine speed.
    pub pump_by_turbine: f64,
    /// Torque given to the gearbox, N m.
    pub turbine: f64,
    /// Its slope over engine speed.
    pub turbine_by_engine: f64,
    /// Its slope over turbine speed.
    pub turbine_by_turbine: f64,
}

/// Torque over engine speed squared, N m/(rad/s)², at the left end of a cell, and the change over the cell.
#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    pump: f64,
    pump_change: f64,
    turbine: f64,
    turbine_change: f64,
}

/// A converter ready for the loop.
#[derive(Debug, Clone)]
pub struct Converter {
    cells: Vec<Cell>,
}

impl Converter {
    /// Lays out the table.
    #[must_use]
    pub fn new(spec: &vehicle::Converter) -> Self {
        let points: Vec<(f64, f64)> = spec.capacity.iter().map(|p| (p.speed_ratio.0, p.k.0)).collect();
        let (last_ratio, last_k) = points.last().copied().unwrap_or((0.0, 1.0));
        let (stall, coupling) = (spec.stall_torque_ratio.get(), spec.coupling_point.get());
        let pump = |i: u16| {
            let ratio = f64::from(i) / f64::from(CELLS);
            let inverse_k = if ratio > last_ratio {
                (1.0 - ratio) / (1.0 - last_ratio) / last_k
            } else {
                1.0 / between(&points, ratio)
            };
            let nm_per_rad_s = inverse_k / RAD_S_PER_RPM;
            nm_per_rad_s * nm_per_rad_s
        };
        let turbine = |i: u16| {
            let ratio = f64::from(i) / f64::from(CELLS);
            pump(i) * between(&[(0.0, stall), (coupling, 1.0)], ratio)
        };
        let cell = |i| Cell {
            pump: pump(i),
            pump_change: pump(i + 1) - pump(i),
            turbine: turbine(i),
            turbine_change: turbine(i + 1) - turbine(i),
        };
        Self { cells: (0..CELLS).map(cell).collect() }
    }

    /// Torques at an engine speed (0 or more) and a turbine speed, rad/s.
    ///
    /// With torque = speed²·g(ratio), the slopes are 2·speed·g − other·g′ and speed·g′.
    #[inline]
    #[must_use]
    pub fn slip(&self, engine: f64, turbine: f64) -> Slip {
        let overrun = turbine > engine;
        let (driving, driven) = if overrun { (turbine, engine) } else { (engine, turbine) };
        // A turbine that turns backwards is taken as standing.
        let driven = driven.max(0.0);
        let place = if driving > 0.0 { driven / driving * f64::from(CELLS) } else { 0.0 };
        let at = place as u32;
        let cell = self.cells.get(at as usize).copied().unwrap_or_default();
        let part = place - f64::from(at);
        let g = cell.pump + part * cell.pump_change;
        let g_slope = if driven > 0.0 { cell.pump_change * f64::from(CELLS) } else { 0.0 };
        let torque = driving * driving * g;
        let by_driving = 2.0 * driving * g - driven * g_slope;
        let by_driven = driving * g_slope;
        if overrun {
            let less = 1.0 / (OVERRUN_K * OVERRUN_K);
            let (torque, by_driving, by_driven) = (-torque * less, -by_driving * less, -by_driven * less);
            return Slip {
                pump: torque,
                pump_by_engine: by_driven,
                pump_by_turbine: by_driving,
                turbine: torque,
                turbine_by_engine: by_driven,
                turbine_by_turbine: by_driving,
            };
        }
        let h = cell.turbine + part * cell.turbine_change;
        let h_slope = if driven > 0.0 { cell.turbine_change * f64::from(CELLS) } else { 0.0 };
        Slip {
            pump: torque,
            pump_by_engine: by_driving,
            pump_by_turbine: by_driven,
            turbine: driving * driving * h,
            turbine_by_engine: 2.0 * driving * h - driven * h_slope,
            turbine_by_turbine: driving * h_slope,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(engine_rpm: f64, turbine_rpm: f64) -> Slip {
        let converter = Converter::new(&super::super::test_van::van().vehicle.converter);
        converter.slip(engine_rpm * RAD_S_PER_RPM, turbine_rpm * RAD_S_PER_RPM)
    }

    fn near(got: f64, wanted: f64) -> bool {
        (got - wanted).abs() <= 0.005 * wanted.abs() + 1e-9
    }

    /// Torque = (n/K)². At stall K = 125 and the turbine gets 1.9 times as much; K = 132 at 0.5, where the torque ratio is
    /// 1.9 − 0.9·0.5/0.86 = 1.3767; K = 168 and 1 at 0.86; at 0.99 1/K is half of 1/360; nothing at 1.
    #[test]
    fn torques_by_hand() {
        for (turbine_rpm, pump, turbine) in [
            (0.0, 256.0, 486.4),
            (-500.0, 256.0, 486.4),
            (1000.0, 229.57, 316.06),
            (1720.0, 141.72, 141.72),
            (1980.0, 7.716, 7.716),
            (2000.0, 0.0, 0.0),
        ] {
            let slip = at(2000.0, turbine_rpm);
            assert!(near(slip.pump, pump) && near(slip.turbine, turbine), "{turbine_rpm}: {slip:?}");
        }
    }

    /// Driven by the wheels the roles change and K is 1.3 times as great: 2,000 rpm over 1,000 give (2000/171.6)².
    #[test]
    fn overrun_drives_the_engine_with_less() {
        let slip = at(1000.0, 2000.0);
        assert!(near(slip.pump, -135.84) && near(slip.turbine, -135.84), "{slip:?}");
    }

    #[test]
    fn slopes_are_those_of_the_torques() {
        let tiny = 0.01;
        let per = tiny * RAD_S_PER_RPM;
        for (engine, turbine) in [(2000.0, 0.0), (2000.0, 903.0), (2000.0, 1901.0), (1203.0, 2000.0)] {
            let (slip, faster, turned) = (at(engine, turbine), at(engine + tiny, turbine), at(engine, turbine + tiny));
            for (slope, change) in [
                (slip.pump_by_engine, faster.pump - slip.pump),
                (slip.turbine_by_engine, faster.turbine - slip.turbine),
            ] {
                assert!((slope - change / per).abs() < 0.01 * slope.abs() + 0.01, "{engine}, {turbine}: {slope}");
            }
            if turbine > 0.0 {
                for (slope, change) in [
                    (slip.pump_by_turbine, turned.pump - slip.pump),
                    (slip.turbine_by_turbine, turned.turbine - slip.turbine),
                ] {
                    assert!((slope - change / per).abs() < 0.01 * slope.abs() + 0.01, "{engine}, {turbine}: {slope}");
                }
            }
        }
    }
}
