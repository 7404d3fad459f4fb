//! What stands on the road under the box: the vehicle, or a bench in its place.

use super::{Controls, Vehicle};
use crate::drive::Start;
use crate::recording::Truth;
use crate::spec::link::SpeedSource;

/// What the closed loop moves from tick to tick and reads the true signals from.
pub trait Body {
    /// Back to a start state, without allocating.
    fn restart(&mut self, start: &Start);

    /// Lets time pass.
    fn run(&mut self, controls: &Controls, ms: f64);

    /// What it does now.
    fn truth(&self, controls: &Controls) -> Truth;

    /// Engine speed, r/min, and gear, of what it does now.
    fn engine_rpm_and_gear(&self, controls: &Controls) -> (f64, u8) {
        let truth = self.truth(controls);
        (truth.engine_rpm, truth.gear)
    }

    /// Road speed as its source measures it, km/h, without a sign.
    fn shown_speed_kmh(&self, source: SpeedSource, controls: &Controls) -> f64;

    /// The engine stalls (false) or starts again (true).
    fn set_engine(&mut self, _on: bool) {}

    /// The gearbox refuses this many taps from now on.
    fn refuse_taps(&mut self, _taps: u8) {}

    /// Shifts take this much longer from now on.
    fn slow_shifts(&mut self, _more_ms: f64) {}

    /// The gearbox goes to this gear by itself, once.
    fn self_shift(&mut self, _gear: u8) {}

    /// It has come to its end, before that of the drive.
    fn is_over(&self) -> bool {
        false
    }
}

impl Body for Vehicle {
    fn restart(&mut self, start: &Start) {
        self.restart(start);
    }

    fn run(&mut self, controls: &Controls, ms: f64) {
        self.run(controls, ms);
    }

    #[inline]
    fn truth(&self, controls: &Controls) -> Truth {
        self.truth(controls)
    }

    fn engine_rpm_and_gear(&self, _: &Controls) -> (f64, u8) {
        self.engine_rpm_and_gear()
    }

    fn shown_speed_kmh(&self, source: SpeedSource, controls: &Controls) -> f64 {
        self.shown_speed_kmh(source, controls)
    }

    fn set_engine(&mut self, on: bool) {
        self.set_engine(on);
    }

    fn refuse_taps(&mut self, taps: u8) {
        self.refuse_taps(taps);
    }

    fn slow_shifts(&mut self, more_ms: f64) {
        self.slow_shifts(more_ms);
    }

    fn self_shift(&mut self, gear: u8) {
        self.self_shift(gear);
    }
}
