//! What the driver does: lever, button, his own taps.

use super::{ECHO_MS, Fault, OUT_MS, Reference, whole_gear};
use crate::signal::{Direction, Inputs, Lever};
use crate::spec::facts::{ReArm, TakeOver, TapWiring};
use crate::spec::vehicle::EntryGear;

/// A tap input is closed, or has been since the last tick.
pub(super) fn is_tapped(inputs: &Inputs) -> bool {
    inputs.tap_up || inputs.tap_down || inputs.tap_up_edges > 0 || inputs.tap_down_edges > 0
}

impl Reference {
    /// Follows the lever and the button, and keeps the last take-over.
    pub(super) fn follow_lever(&mut self, inputs: &Inputs, now_ms: i64) {
        let s = &mut self.state;
        let out_is_d = self.fault == Some(Fault::DeafToNeutral);
        let reads_gate = inputs.lever == Lever::Gate || (out_is_d && s.in_gate && inputs.lever != Lever::D);
        let pressed = inputs.button == Some(true);
        let first = now_ms == 0;
        if first {
            (s.in_gate, s.button) = (reads_gate, pressed);
            if self.fault == Some(Fault::LevelTriggered) && reads_gate {
                s.edge_ms = Some(0);
            }
        }
        if reads_gate == s.in_gate {
            s.turning_ms = None;
        } else {
            let since_ms = *s.turning_ms.get_or_insert(now_ms);
            if self.rest.passed(now_ms, since_ms, i64::from(self.hello.lever_bounce_ms)) {
                let back = self.hello.re_arm == ReArm::BackInGate && s.engaged_before;
                let by_lever = self.hello.take_over == TakeOver::Lever || back;
                let was_out = since_ms - s.turned_ms >= OUT_MS;
                s.edge_ms = (reads_gate && by_lever && was_out).then_some(since_ms);
                let counted = if reads_gate { self.entry_gear() } else { 0 };
                let s = &mut self.state;
                (s.counted, s.tries, s.answered) = (counted, 0, true);
                (s.in_gate, s.turned_ms, s.turning_ms) = (reads_gate, since_ms, None);
            }
        }
        let s = &mut self.state;
        if pressed && !s.button && s.in_gate && self.hello.take_over == TakeOver::Button {
            s.edge_ms = Some(now_ms);
        }
        s.button = pressed;
    }

    /// The gear on entering the gate, 0 where it can't be told yet.
    pub(super) fn entry_gear(&self) -> u8 {
        let read = self.state.senses.gear.map_or(0, |gear| whole_gear(gear.value));
        match self.hello.entry {
            EntryGear::Current => read,
            EntryGear::OneBelow => {
                if read > 1 {
                    read - 1
                } else {
                    read
                }
            }
            EntryGear::Fixed(gear) => self.state.senses.speed.map_or(0, |speed| {
                let rpm = |gear: u8| self.hello.rpm_per_kmh.get(usize::from(gear) - 1).copied().unwrap_or(0.0);
                (gear.max(1)..=self.hello.top_gear)
                    .find(|&gear| rpm(gear) * speed.value <= self.hello.redline_rpm)
                    .unwrap_or(self.hello.top_gear)
            }),
        }
    }

    /// Whether the driver taps in this tick; counts his taps. Own pulses read back are no taps.
    pub(super) fn driver_taps(&mut self, inputs: &Inputs, now_ms: i64) -> bool {
        // As in nearly every tick.
        if !is_tapped(inputs) {
            return false;
        }
        let shared = self.hello.tap_wiring == TapWiring::Shared;
        let since_own_ms = now_ms - self.state.last_ms;
        let deaf = self.has(Fault::DeafInPulse) && since_own_ms < self.width_ms;
        let mut taps = false;
        for (direction, level, edges) in [
            (Direction::Up, inputs.tap_up, inputs.tap_up_edges),
            (Direction::Down, inputs.tap_down, inputs.tap_down_edges),
        ] {
            let echo = shared && self.state.last == Some(direction) && since_own_ms < self.width_ms + ECHO_MS;
            if echo || deaf || !(level || edges > 0) {
                continue;
            }
            taps = true;
            let s = &mut self.state;
            if edges > 0 {
                (s.moved_ms, s.tries, s.answered) = (now_ms, 0, true);
                if s.counted > 0 {
                    s.counted = match direction {
                        Direction::Up => s.counted.saturating_add(edges).min(self.hello.top_gear),
                        Direction::Down => s.counted.saturating_sub(edges).max(1),
                    };
                }
            }
        }
        taps
    }
}
