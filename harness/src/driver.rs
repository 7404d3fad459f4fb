//! The driver of a drive's steps: turns what a step asks for into a pedal, tick by tick.

use crate::drive::{Demand, Step};

/// Pedal share per km/h of error (invented; a calm driver).
const KP_PER_KMH: f64 = 0.10;
/// Pedal share per km/h of error and second.
const KI_PER_KMH_S: f64 = 0.02;
/// Fastest pedal movement of the speed-holding driver, share per second.
const RATE_PER_S: f64 = 1.0;
/// The speed-holding driver reacts to the speed of this long ago, ms.
const DELAY_MS: u32 = 300;
/// Slots of the delay line: one per ms at the finest tick.
const SLOTS: usize = 300;

/// The pedal shown on the port and the pedal the engine obeys, %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pedals {
    /// As the driver's foot holds it.
    pub shown_pct: f64,
    /// As the engine obeys it: cruise control drives the engine with the foot off.
    pub torque_pct: f64,
}

/// The driver's state in one run.
#[derive(Debug, Clone)]
pub struct Driver {
    tick_ms: u32,
    delay: [f64; SLOTS],
    slot: usize,
    slots: usize,
    integral: f64,
    pedal: f64,
    /// Pedal share at the start of the step, for even movement.
    from: f64,
}

impl Driver {
    /// A driver that acts once a tick.
    #[must_use]
    pub fn new(tick_ms: u32) -> Self {
        let slots = (DELAY_MS / tick_ms.max(1)).max(1) as usize;
        Self { tick_ms, delay: [0.0; SLOTS], slot: 0, slots: slots.min(SLOTS), integral: 0.0, pedal: 0.0, from: 0.0 }
    }

    /// Back to the start of a drive.
    pub fn restart(&mut self, speed_kmh: f64) {
        self.delay = [speed_kmh; SLOTS];
        self.slot = 0;
        self.integral = 0.0;
        self.pedal = 0.0;
        self.from = 0.0;
    }

    /// A new step begins.
    pub fn begin_step(&mut self) {
        self.from = self.pedal;
        self.integral = self.pedal;
    }

    /// The pedals of this tick, at this time into the step.
    #[inline]
    pub fn pedals(&mut self, step: &Step, into_ms: u32, speed_kmh: f64) -> Pedals {
        let delayed_kmh = self.delay[self.slot];
        self.delay[self.slot] = speed_kmh;
        self.slot = if self.slot + 1 < self.slots { self.slot + 1 } else { 0 };
        match step.demand {
            Demand::Pedal(permille) => self.pedal = f64::from(permille) / 1000.0,
            Demand::InTurn(first, second, every_ms) => {
                let turns = into_ms / u32::from(every_ms.max(1));
                self.pedal = f64::from(if turns.is_multiple_of(2) { first } else { second }) / 1000.0;
            }
            Demand::PedalTo(permille) => {
                let to = f64::from(permille) / 1000.0;
                self.pedal = self.from + (to - self.from) * f64::from(into_ms) / f64::from(step.ms.max(1));
            }
            Demand::Hold(target) | Demand::Cruise(target) => self.hold(f64::from(target) / 10.0 - delayed_kmh),
        }
        let torque_pct = self.pedal * 100.0;
        let shown_pct = if matches!(step.demand, Demand::Cruise(_)) { 0.0 } else { torque_pct };
        Pedals { shown_pct, torque_pct }
    }

    fn hold(&mut self, error_kmh: f64) {
        let dt_s = f64::from(self.tick_ms) / 1000.0;
        let wanted = self.integral + KP_PER_KMH * error_kmh;
        // The integral stands still while the pedal is at a stop, so that it doesn't wind up.
        if (wanted > 0.0 || error_kmh > 0.0) && (wanted < 1.0 || error_kmh < 0.0) {
            self.integral = (self.integral + KI_PER_KMH_S * error_kmh * dt_s).clamp(0.0, 1.0);
        }
        let step = RATE_PER_S * dt_s;
        self.pedal = wanted.clamp(0.0, 1.0).clamp(self.pedal - step, self.pedal + step).clamp(0.0, 1.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(demand: Demand) -> Step {
        Step { ms: 1000, demand, brake: 0, grade: 0 }
    }

    #[test]
    fn the_pedal_moves_evenly_over_a_step() {
        let mut driver = Driver::new(10);
        driver.restart(0.0);
        driver.begin_step();
        let half = driver.pedals(&step(Demand::PedalTo(800)), 500, 0.0);
        assert!((half.shown_pct - 40.0).abs() < 1e-9);
    }

    #[test]
    fn the_pedal_changes_places_at_each_turn() {
        let mut driver = Driver::new(10);
        driver.restart(0.0);
        driver.begin_step();
        let turns = step(Demand::InTurn(200, 0, 400));
        let shown = [0, 390, 400, 790, 800].map(|into_ms| driver.pedals(&turns, into_ms, 0.0).shown_pct);
        assert_eq!(shown, [20.0, 20.0, 0.0, 0.0, 20.0]);
    }

    #[test]
    fn the_holding_driver_reacts_after_its_delay_and_no_faster_than_its_rate() {
        let mut driver = Driver::new(10);
        driver.restart(50.0);
        driver.begin_step();
        let hold = step(Demand::Hold(500));
        for _ in 0..30 {
            assert_eq!(driver.pedals(&hold, 0, 40.0).shown_pct, 0.0);
        }
        // 0.3 s later the 10 km/h that are missing call for full pedal, at 1 % per tick of 10 ms.
        let first = driver.pedals(&hold, 0, 40.0).shown_pct;
        assert!((first - 1.0).abs() < 1e-9, "{first}");
    }

    #[test]
    fn cruise_control_shows_no_pedal() {
        let mut driver = Driver::new(10);
        driver.restart(40.0);
        driver.begin_step();
        let mut last = Pedals { shown_pct: 0.0, torque_pct: 0.0 };
        for _ in 0..50 {
            last = driver.pedals(&step(Demand::Cruise(500)), 0, 40.0);
        }
        assert_eq!(last.shown_pct, 0.0);
        assert!(last.torque_pct > 10.0);
    }
}
