//! What the pass over a recording carries from row to row.

use super::hand_over::Carry;
use crate::recording::Row;
use crate::rules::gear::GearSeen;
use crate::rules::may_command::Monitor;
use crate::spec::Spec;
use crate::spec::facts::TapWiring;

/// After an implausible speed a box may hold back this long, ms (invented).
const DOUBT_MS: u32 = 500;

/// State of the pass.
pub(super) struct Pass<'a> {
    pub spec: &'a Spec,
    pub monitor: Monitor,
    pub gear: GearSeen,
    pub speed: Option<(f64, u32, u32)>,
    pub pedal: Option<(f64, u32, u32)>,
    pub engine_rpm: Option<f64>,
    pub was: Option<Row>,
    pub tap_visible: [bool; 2],
    pub button: bool,
    pub tap_at_ms: Option<u32>,
    pub by_itself: bool,
    pub lowest_recent: [(u32, f64); 8],
    pub due_since: Option<u32>,
    pub right_since: Option<u32>,
    pub edgeless_counted: bool,
    pub gear_arrived: Option<(u8, u32)>,
    pub stale: bool,
    pub leapt_ms: Option<u32>,
    pub hand: Carry,
}

impl<'a> Pass<'a> {
    pub fn new(spec: &'a Spec) -> Self {
        Self {
            spec,
            monitor: Monitor::new(spec),
            gear: GearSeen::new(spec),
            speed: None,
            pedal: None,
            engine_rpm: None,
            was: None,
            tap_visible: [false; 2],
            button: false,
            tap_at_ms: None,
            by_itself: true,
            lowest_recent: [(0, f64::INFINITY); 8],
            due_since: None,
            right_since: None,
            edgeless_counted: false,
            gear_arrived: None,
            stale: false,
            leapt_ms: None,
            hand: Carry::default(),
        }
    }
}

impl Pass<'_> {
    /// Time since the older of speed and pedal arrived, ms.
    pub fn age_ms(&self, ms: u32) -> Option<u32> {
        Some(ms - self.speed?.1.min(self.pedal?.1))
    }

    /// Whether the driver taps, as far as the box can tell it from its own pulse: (edge, level).
    pub fn taps(&mut self, row: &Row, was: Option<&Row>) -> (bool, bool) {
        if self.spec.facts.tap_wiring == TapWiring::Separate {
            let inputs = &row.inputs;
            return (inputs.tap_up_edges > 0 || inputs.tap_down_edges > 0, inputs.tap_up || inputs.tap_down);
        }
        // In parallel with the contacts: what the box's own pulse hides, it can't know.
        let own = was.map(|w| w.contacts).unwrap_or_default();
        let visible = [row.truth.driver_up && !own.up, row.truth.driver_down && !own.down];
        let edge = (0..2).any(|i| visible[i] && !self.tap_visible[i]);
        self.tap_visible = visible;
        (edge, visible[0] || visible[1])
    }

    /// A speed read that is implausible after the one before.
    pub fn leaps(&self, kmh: f64, arrived_ms: u32) -> bool {
        let limits = &self.spec.limits;
        self.speed.is_some_and(|(before, at, _)| {
            let s = f64::from(arrived_ms.saturating_sub(at)) / 1000.0;
            before - kmh > limits.fall_limit.0 * s + 2.0 || kmh - before > limits.rise_limit.0 * s + 2.0
        })
    }

    /// The speed read has leapt a short while ago: to wait is right then.
    pub fn doubts_speed(&self, ms: u32) -> bool {
        self.leapt_ms.is_some_and(|at| ms < at + DOUBT_MS)
    }

    pub fn beyond_kmh(&self, gear: u8) -> Option<f64> {
        let (v, p) = (self.speed?.0, self.pedal?.0);
        let map = &self.spec.map;
        let up = map.up_kmh(gear, p).map(|line| v - line);
        let down = map.down_kmh(gear, p).map(|line| line - v);
        match (up, down) {
            (Some(up), Some(down)) => Some(up.max(down)),
            (one, other) => one.or(other),
        }
    }

    pub fn shift_due(&self) -> bool {
        self.gear.gear().and_then(|gear| self.beyond_kmh(gear)).is_some_and(|beyond| beyond >= 0.0)
    }

    pub fn plainly_due(&self) -> bool {
        let moving = self.speed.is_some_and(|(v, _, _)| v > self.spec.limits.standstill.0 + 3.0);
        moving && self.gear.gear().and_then(|gear| self.beyond_kmh(gear)).is_some_and(|beyond| beyond >= 3.0)
    }
}
