//! Which shift is due by the map, and whether it may start now.

use super::super::hello::HelloLine;
use super::{Fault, QUIET_MS, Reference, whole_gear};
use crate::signal::{Direction, Inputs, Lever};

impl Reference {
    /// The shift that is due and allowed in this tick.
    pub(super) fn due(&self, inputs: &Inputs, now_ms: i64) -> Option<Direction> {
        let (s, h) = (&self.state, &self.hello);
        let (speed_kmh, pedal) = (s.senses.speed?.value, s.senses.pedal?.value);
        let most_ms = if self.has(Fault::StaleCommands) { h.data_lost_ms } else { h.data_fresh_ms };
        let hasty = self.has(Fault::HastyKickdown) && pedal >= 90.0 && s.last == Some(Direction::Down);
        let blind_ms = if hasty { 300 } else { i64::from(h.shift_blind_ms) };
        let waited = if self.has(Fault::CountsAnswers) {
            // Eleven answers to a second, so that the count never runs ahead of the clock by itself.
            i64::from(s.speeds_counted - s.speeds_at_command) * 91 >= blind_ms && now_ms - s.turned_ms >= blind_ms
        } else {
            now_ms - s.moved_ms.max(s.turned_ms) >= blind_ms
        };
        let deaf = self.has(Fault::KeepsCounting)
            || self.has(Fault::SelfShiftUnseen)
            || self.has(Fault::Impatient)
            || self.has(Fault::RefusalUnseen);
        let gear_agrees = deaf
            || s.senses.gear.is_none_or(|gear| {
                now_ms - gear.at_ms > i64::from(h.data_fresh_ms)
                    || (whole_gear(gear.value) == s.counted
                        && now_ms - s.senses.gear_since_ms >= i64::from(h.shift_settle_ms))
            });
        let deaf = self.has(Fault::DeafToNeutral) && inputs.lever != Lever::D;
        let allowed = (inputs.lever == Lever::Gate || deaf)
            && s.senses.age_ms(now_ms) <= i64::from(most_ms)
            && s.senses.plausible(now_ms, h.plausible_for_ms)
            && (speed_kmh >= h.standstill_kmh || self.has(Fault::BelievesAFall))
            && (!s.senses.engine_off || self.has(Fault::EngineUnseen))
            && waited
            && now_ms - s.engaged_ms >= QUIET_MS
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
        let up = s.counted < h.top_gear && self.is_up_due(gear) && !self.given_up(Direction::Up, now_ms);
        if up && now_ms - s.last_down_ms >= dwell_ms {
            return Some(Direction::Up);
        }
        let excused = pedal - s.pedal_at_up >= h.opposite_pedal_pct;
        let down_due = self.down_kmh(s.counted, pedal).is_some_and(|line| speed_kmh <= line)
            || (self.has(Fault::BlindKickdown) && pedal >= 90.0 && s.counted >= 4);
        let too_low = self.has(Fault::OneTooLow) && s.counted == h.lowest_gear && speed_kmh <= 6.0 && pedal < 2.0;
        let down = (s.counted > h.lowest_gear && down_due && !self.given_up(Direction::Down, now_ms)) || too_low;
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
        if self.forgets_down(gear, pedal) {
            return None;
        }
        let line = self.line_kmh(gear, below, pedal)?;
        let off = self.has(Fault::LineOffByTwo) && gear == self.hello.top_gear / 2 + 1;
        Some(if off { line - 2.0 } else { line })
    }

    /// The pedal that the fault `wrong-column` looks up.
    fn looked_up(&self, pedal: f64) -> f64 {
        let at = &self.hello.map.pedal_pct;
        let middle = at.len() / 2;
        match (at.get(middle.saturating_sub(1)), at.get(middle)) {
            (Some(below), Some(above)) if pedal > *below && pedal < *above => pedal + above - below,
            _ => pedal,
        }
    }

    /// The speed of a line at a pedal position, linear between the map's positions.
    pub(super) fn line_kmh(&self, from: u8, to: u8, pedal: f64) -> Option<f64> {
        let pedal = if self.has(Fault::WrongColumn) { self.looked_up(pedal) } else { pedal };
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
