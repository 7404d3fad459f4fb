//! What stands at a tick: what the box is wired to, and what acts on the vehicle.

use super::{ClosedLoop, USUAL_SUPPLY_MV};
use crate::drive::Step;
use crate::driver::Pedals;
use crate::signal::{Contacts, Inputs, Lever, Range};
use crate::spec::facts::TapWiring;
use crate::vehicle::{Body, Controls};

/// Full braking, m/s²: 1 g.
const FULL_BRAKE_MPS2: f64 = 9.806_65;

/// Before the first tick.
pub(super) const NO_INPUTS: Inputs = Inputs {
    time_ms: 0,
    lever: Lever::P,
    range: None,
    ignition: true,
    supply_mv: USUAL_SUPPLY_MV,
    button: None,
    tap_up: false,
    tap_down: false,
    tap_up_edges: 0,
    tap_down_edges: 0,
};

/// Before the first tick.
pub(super) const NO_CONTROLS: Controls = Controls {
    pedal_pct: 0.0,
    torque_pedal_pct: 0.0,
    brake_mps2: 0.0,
    grade_pct: 0.0,
    lever: Lever::P,
    range: Range::High,
    contacts: Contacts::OPEN,
    driver_taps: Contacts::OPEN,
    wheel_lock: false,
    wheel_spin_kmh: 0.0,
};

impl<B: Body> ClosedLoop<B> {
    /// Wires and controls are looked at anew up to the tick after this time, ms.
    pub(super) fn busy_to(&mut self, end_ms: u32) {
        self.busy_until_ms = self.busy_until_ms.max(end_ms.saturating_add(self.tick_ms));
    }

    /// What acts on the vehicle, looked at anew.
    pub(super) fn controls_now(&self, step: &Step, pedals: Pedals, now_ms: u32) -> Controls {
        Controls {
            pedal_pct: pedals.shown_pct,
            torque_pedal_pct: pedals.torque_pct,
            brake_mps2: f64::from(step.brake) / 1000.0 * FULL_BRAKE_MPS2,
            grade_pct: f64::from(step.grade) / 10.0,
            lever: self.gearbox_lever,
            range: self.range,
            contacts: self.tapped(self.contacts),
            driver_taps: Contacts { up: now_ms < self.tap_until_ms[0], down: now_ms < self.tap_until_ms[1] },
            wheel_lock: now_ms < self.lock_until_ms,
            wheel_spin_kmh: if now_ms < self.spin_until_ms { self.spin_kmh } else { 0.0 },
        }
    }

    /// What the box is wired to, looked at anew; counts of edges start again.
    pub(super) fn inputs_now(&mut self, time_ms: u64, now_ms: u32) -> Inputs {
        let shared = self.wiring == TapWiring::Shared;
        let inputs = Inputs {
            time_ms,
            lever: self.lever,
            range: self.range_wired.then_some(self.range),
            ignition: self.ignition,
            supply_mv: self.supply_mv,
            button: self.button_box.then_some(now_ms < self.button_until_ms),
            tap_up: now_ms < self.tap_until_ms[0] || (shared && self.contacts.up),
            tap_down: now_ms < self.tap_until_ms[1] || (shared && self.contacts.down),
            tap_up_edges: self.tap_edges[0],
            tap_down_edges: self.tap_edges[1],
        };
        self.tap_edges = [0; 2];
        inputs
    }
}
