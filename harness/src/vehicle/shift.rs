//! The course of a shift: recognition, fill at the old ratio, then the ratio moves along a smooth step.

use crate::spec::vehicle::Shift;

/// How the gearbox passes torque on at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Total ratio; negative in reverse.
    pub ratio: f64,
    /// Share of torque passed on.
    pub passed: f64,
    /// Share of the engine's torque that the gearbox lets it give.
    pub asked: f64,
}

impl Course {
    /// No shift: all of it in one gear.
    #[must_use]
    pub fn whole(ratio: f64) -> Self {
        Self { ratio, passed: 1.0, asked: 1.0 }
    }
}

/// How shifts of this gearbox run.
#[derive(Debug, Clone)]
pub struct Timing {
    fill_ms: f64,
    change_ms: f64,
    up: f64,
    down: f64,
    /// Slower by this.
    pub more_ms: f64,
}

/// A running shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// The gear it leads to.
    pub to: u8,
    elapsed_ms: f64,
    recognised_ms: f64,
    moves_ms: f64,
    ends_ms: f64,
}

impl Timing {
    /// As the spec says.
    #[must_use]
    pub fn new(spec: &Shift) -> Self {
        Self {
            fill_ms: spec.fill.get(),
            change_ms: spec.ratio_change.get().max(1.0),
            up: spec.torque_up.get() * 0.01,
            down: spec.torque_down.get() * 0.01,
            more_ms: 0.0,
        }
    }

    /// A shift that begins now, with this much of its recognition left.
    #[must_use]
    pub fn start(&self, to: u8, recognised_ms: f64) -> Running {
        let moves_ms = recognised_ms + self.fill_ms + self.more_ms;
        Running { to, elapsed_ms: 0.0, recognised_ms, moves_ms, ends_ms: moves_ms + self.change_ms }
    }

    /// The course this long after now, between two ratios.
    ///
    /// On an upshift the engine is asked for less too: otherwise what its inertia gives off as it slows would fill the
    /// torque hole (common practice, no source).
    #[inline]
    #[must_use]
    pub fn course(&self, run: &Running, later_ms: f64, from: f64, to: f64) -> Course {
        let moved_ms = run.elapsed_ms + later_ms - run.moves_ms;
        if moved_ms <= 0.0 {
            return Course::whole(from);
        }
        let u = (moved_ms / self.change_ms).min(1.0);
        let ratio = from + (to - from) * u * u * (3.0 - 2.0 * u);
        if to < from {
            Course { ratio, passed: self.up, asked: self.up }
        } else {
            Course { ratio, passed: self.down, asked: 1.0 }
        }
    }
}

impl Running {
    /// Time passes; true when the shift has ended.
    #[inline]
    pub fn step(&mut self, step_ms: f64) -> bool {
        self.elapsed_ms += step_ms;
        self.elapsed_ms >= self.ends_ms
    }

    /// Recognised: the gearbox acts on it.
    #[inline]
    #[must_use]
    pub fn recognised(&self) -> bool {
        self.elapsed_ms >= self.recognised_ms
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The test van: fill 150 ms, change 350 ms, shares 75 % and 50 %. Half-way the smooth step is at a half.
    #[test]
    fn a_shift_keeps_the_old_ratio_then_moves_smoothly_to_the_new() {
        let timing = Timing::new(&super::super::test_van::van().vehicle.gearbox.shift);
        let run = timing.start(3, 60.0);
        for (at_ms, ratio, passed) in
            [(0.0, 8.0, 1.0), (210.0, 8.0, 1.0), (297.5, 7.375, 0.75), (385.0, 6.0, 0.75), (560.0, 4.0, 0.75)]
        {
            let course = timing.course(&run, at_ms, 8.0, 4.0);
            assert!((course.ratio - ratio).abs() < 1e-12 && (course.passed - passed).abs() < 1e-12, "{at_ms}");
        }
        assert_eq!(timing.course(&run, 385.0, 4.0, 8.0), Course { ratio: 6.0, passed: 0.5, asked: 1.0 });
    }

    #[test]
    fn a_shift_lasts_as_long_as_its_parts() {
        let mut timing = Timing::new(&super::super::test_van::van().vehicle.gearbox.shift);
        timing.more_ms = 200.0;
        let mut run = timing.start(3, 60.0);
        let steps = (1..1000).find(|_| run.step(5.0));
        assert_eq!(steps, Some((60 + 150 + 200 + 350) / 5));
    }
}
