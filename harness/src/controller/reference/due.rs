//! Which shift is due by the map, and whether it may start now.

use super::super::hello::HelloLine;
use super::{Fault, NEVER, Reference, whole_gear};
use crate::signal::{Direction, Inputs, Lever};

impl Reference {
    /// The shift that is due and allowed in this tick.
    pub(super) fn due(&self, inputs: &Inputs, now_ms: i64) -> Option<Direction> {
        let (s, h) = (&self.state, &self.hello);
        let (speed_kmh, pedal) = (s.senses.speed?.value, s.senses.pedal?.value);
        let most_ms = if self.has(Fault::StaleCommands) { h.data_lost_ms } else { h.data_fresh_ms };
        let hasty = self.has(Fault::HastyKickdown) && pedal >= 90.0 && s.last == Some(Direction::Down);
        let blind_ms = if hasty { 300 } else { i64::from(h.shift_blind_ms) };
        let again = self.has(Fault::QuietOnce) && s.engagements_ms[1] != NEVER;
        let at_once = again || self.has(Fault::ShiftsAtOnce);
        let quiet_ms = if at_once { 0 } else { i64::from(h.quiet_after_engaging_ms) };
        let gear_agrees = s.senses.gear.is_none_or(|gear| {
            now_ms - gear.at_ms > i64::from(h.data_fresh_ms)
                || (whole_gear(gear.value) == s.counted
                    && now_ms - s.senses.gear_since_ms >= i64::from(h.shift_settle_ms))
        });
        let deaf = self.has(Fault::DeafToNeutral) && inputs.lever != Lever::D;
        let allowed = (inputs.lever == Lever::Gate || deaf)
            && s.senses.age_ms(now_ms) <= i64::from(most_ms)
            && s.senses.plausible(now_ms)
            && speed_kmh >= h.standstill_kmh
            && now_ms - if at_once { s.moved_ms } else { s.moved_ms.max(s.turned_ms) } >= blind_ms
            && now_ms - s.engagements_ms[0] >= quiet_ms
            && gear_agrees;
        if !allowed {
            return None;
        }
        if self.has(Fault::Panics) && pedal >= 100.0 && s.counted == h.top_gear {
            // The fault: one past the end, as a look-up does that forgets the last cell.
            return (h.map.pedal_pct[h.map.pedal_pct.len()] > pedal).then_some(Direction::Up);
        }
        let dwell_ms = if self.has(Fault::NoDwell) { 0 } else { i64::from(h.opposite_dwell_ms) };
        let gear = s.counted.max(h.lowest_gear);
        if s.counted < h.top_gear && self.is_up_due(gear) && now_ms - s.last_down_ms >= dwell_ms {
            return Some(Direction::Up);
        }
        let excused = pedal - s.pedal_at_up >= h.opposite_pedal_pct;
        let down_due = self.down_kmh(s.counted, pedal).is_some_and(|line| speed_kmh <= line)
            || (self.has(Fault::BlindKickdown) && pedal >= 90.0 && s.counted >= 4);
        let too_low = self.has(Fault::OneTooLow) && s.counted == h.lowest_gear && speed_kmh <= 6.0 && pedal < 2.0;
        let down = (s.counted > h.lowest_gear && down_due) || too_low;
        (down && (excused || now_ms - s.last_up_ms >= dwell_ms)).then_some(Direction::Down)
    }

    /// The speed and pedal read lie on the upshift line of a gear or above.
    pub(super) fn is_up_due(&self, gear: u8) -> bool {
        let read = self.state.senses.speed.zip(self.state.senses.pedal);
        read.is_some_and(|(speed, pedal)| self.up_kmh(gear, pedal.value).is_some_and(|line| speed.value >= line))
    }

    fn up_kmh(&self, gear: u8, pedal: f64) -> Option<f64> {
        let line = self.line_kmh(gear, gear.saturating_add(1), pedal)?;
        let low = self.has(Fault::LowCell) && gear == self.hello.top_gear / 2 + 1 && pedal < 15.0;
        Some(if low { line - 6.0 } else { line })
    }

    fn down_kmh(&self, gear: u8, pedal: f64) -> Option<f64> {
        let below = gear.saturating_sub(1);
        if self.has(Fault::GapCollapsed) && pedal > 20.0 {
            return Some(self.line_kmh(below, gear, pedal)? - 1.0);
        }
        self.line_kmh(gear, below, pedal)
    }

    /// The speed of a line at a pedal position, linear between the map's positions.
    fn line_kmh(&self, from: u8, to: u8, pedal: f64) -> Option<f64> {
        let HelloLine { speed_kmh, .. } = self.hello.map.lines.iter().find(|l| l.from == from && l.to == to)?;
        let cells = self.hello.map.pedal_pct.iter().copied().zip(speed_kmh.iter().copied());
        let mut below = cells.clone().next()?;
        for above in cells {
            if pedal < above.0 {
                return Some(if above.0 == below.0 {
                    above.1
                } else {
                    below.1 + (above.1 - below.1) * (pedal - below.0) / (above.0 - below.0)
                });
            }
            below = above;
        }
        Some(below.1)
    }
}
