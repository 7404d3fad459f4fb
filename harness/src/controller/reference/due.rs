//! Which shift is due by the map, and whether it may start now.

use super::super::hello::HelloLine;
use super::{Fault, NEVER, Reference, whole_gear};
use crate::signal::{Direction, Inputs, Lever};

/// A pedal read below this is closed, %.
const CLOSED_PCT: f64 = 3.0;

/// A line of the map (from, to) as read at a pedal position, %.
#[derive(Debug, Clone, Copy)]
pub(super) struct LineRead {
    at: (u8, u8, f64),
    kmh: Option<f64>,
}

impl Reference {
    /// The shift that is due and allowed in this tick.
    pub(super) fn due(&self, inputs: &Inputs, now_ms: i64) -> Option<Direction> {
        let (s, h) = (&self.state, &self.hello);
        let (speed_kmh, pedal) = (s.senses.speed?.value, self.pedal_pct(now_ms)?);
        let most_ms = if self.has(Fault::StaleCommands) { h.data_lost_ms } else { h.data_fresh_ms };
        let hasty = self.has(Fault::HastyKickdown) && pedal >= 90.0 && s.last == Some(Direction::Down);
        let taken_back = self.takes_back_kickdown(pedal, now_ms);
        let blind_ms = if hasty || taken_back { 300 } else { i64::from(h.shift_blind_ms) };
        let again = self.has(Fault::QuietOnce) && s.engagements_ms[1] != NEVER;
        let at_once = again || self.has(Fault::ShiftsAtOnce);
        let quiet_ms = if at_once { 0 } else { i64::from(h.quiet_after_engaging_ms) };
        let waited = if self.has(Fault::CountsAnswers) {
            // Eleven answers to a second, so that the count never runs ahead of the clock by itself.
            i64::from(s.speeds_counted - s.speeds_at_command) * 91 >= blind_ms && now_ms - s.turned_ms >= blind_ms
        } else {
            self.passed(now_ms, if at_once { s.moved_ms } else { s.moved_ms.max(s.turned_ms) }, blind_ms)
        };
        let deaf = self.has(Fault::KeepsCounting)
            || self.has(Fault::SelfShiftUnseen)
            || self.has(Fault::Impatient)
            || self.has(Fault::RefusalUnseen);
        let gear_agrees = deaf
            || s.senses.gear.is_none_or(|gear| {
                self.passed(now_ms, gear.at_ms, i64::from(h.data_fresh_ms) + 1)
                    || (whole_gear(gear.value) == s.counted
                        && self.passed(now_ms, s.senses.gear_since_ms, i64::from(h.shift_settle_ms)))
            });
        let deaf = self.has(Fault::DeafToNeutral) && inputs.lever != Lever::D;
        let plausible_ms = if self.has(Fault::DoubtsTooLong) { 10_000 } else { h.plausible_for_ms };
        let gap_ended_ms = s.senses.gap_ended_ms;
        let recovers = self.has(Fault::SlowAfterGap) && now_ms - gap_ended_ms < 3000;
        let allowed = (inputs.lever == Lever::Gate || deaf)
            && !self.passed(now_ms, s.senses.oldest_ms(), i64::from(most_ms) + 1)
            && self.passed(now_ms, s.senses.implausible_ms, i64::from(plausible_ms))
            && (speed_kmh >= h.standstill_kmh || self.has(Fault::BelievesAFall))
            && (!s.senses.engine_off || self.has(Fault::EngineUnseen))
            && waited
            && self.passed(now_ms, s.engagements_ms[0], quiet_ms)
            && gear_agrees
            && !recovers;
        if !allowed {
            return None;
        }
        if taken_back {
            return Some(Direction::Up);
        }
        if self.has(Fault::Panics) && pedal >= 100.0 && s.counted == h.top_gear {
            // The fault: one past the end, as a look-up does that forgets the last cell.
            return (h.map.pedal_pct[h.map.pedal_pct.len()] > pedal).then_some(Direction::Up);
        }
        let dwell_ms = if self.has(Fault::NoDwell) { 0 } else { i64::from(h.opposite_dwell_ms) };
        let gear = s.counted.max(h.lowest_up_from());
        let up = s.counted < h.top_gear
            && self.is_up_due_at(gear, pedal, now_ms)
            && !self.given_up(Direction::Up, now_ms)
            && !self.brakes(gear, pedal);
        if up && self.passed(now_ms, s.last_down_ms, dwell_ms) {
            return Some(Direction::Up);
        }
        let excused = pedal - s.pedal_at_up >= h.opposite_pedal_pct;
        let down_due = self.down_kmh(s.counted, pedal).is_some_and(|line| speed_kmh <= line)
            || (self.has(Fault::BlindKickdown) && pedal >= 90.0 && s.counted >= 4)
            || (self.has(Fault::Twitchy) && s.counted >= 4 && now_ms - s.senses.twitch_ms < 200);
        let too_low = self.has(Fault::OneTooLow) && s.counted == h.lowest_gear && speed_kmh <= 6.0 && pedal < 2.0;
        let kick_unheard = self.has(Fault::NoKickdown) && pedal >= 90.0 && s.counted >= 4;
        let skips = self.has(Fault::SkipsCoasting) && pedal < CLOSED_PCT && s.counted == 4 && speed_kmh > 8.0;
        let wanted = down_due && !kick_unheard && !skips && !self.given_up(Direction::Down, now_ms);
        let down = (s.counted > h.lowest_gear && wanted) || too_low;
        (down && (excused || self.passed(now_ms, s.last_up_ms, dwell_ms))).then_some(Direction::Down)
    }

    /// The pedal that it goes by.
    fn pedal_pct(&self, now_ms: i64) -> Option<f64> {
        let senses = &self.state.senses;
        let read = senses.pedal?.value;
        Some(match self.fault {
            Some(Fault::OldPedal) if now_ms - senses.gap_ended_ms < 2000 => senses.old_pedal,
            Some(Fault::PedalStopsShort) => read.min(80.0),
            Some(Fault::KickAt80) if read >= 80.0 => 100.0,
            _ => read,
        })
    }

    /// Downhill, foot off: the gear that brakes stays up to the engine speed stated.
    fn brakes(&self, gear: u8, pedal: f64) -> bool {
        let (senses, h) = (&self.state.senses, &self.hello);
        let rpm = h.rpm_per_kmh.get(usize::from(gear.max(1)) - 1).zip(senses.speed).map(|(n, v)| n * v.value);
        let below = rpm.zip(h.downhill_rpm).is_some_and(|(rpm, least)| rpm < least);
        let forgets = self.has(Fault::DeafToDescents) || self.has(Fault::ForgetsDescent) && self.gap_since_engaging();
        pedal < CLOSED_PCT && senses.rising && below && !forgets
    }

    /// The fault: half a second after a kickdown it goes up again.
    fn takes_back_kickdown(&self, pedal: f64, now_ms: i64) -> bool {
        let s = &self.state;
        self.has(Fault::KickTakenBack)
            && pedal >= 90.0
            && s.last == Some(Direction::Down)
            && s.counted >= 3
            && s.counted < self.hello.top_gear
            && (500..600).contains(&(now_ms - s.last_down_ms))
    }

    /// The speed and pedal read lie on the upshift line of a gear or above.
    pub(super) fn is_up_due(&self, gear: u8) -> bool {
        let read = self.state.senses.speed.zip(self.state.senses.pedal);
        read.is_some_and(|(speed, pedal)| self.up_kmh(gear, pedal.value).is_some_and(|line| speed.value >= line))
    }

    fn is_up_due_at(&self, gear: u8, pedal: f64, now_ms: i64) -> bool {
        let Some((speed, line)) = self.state.senses.speed.zip(self.up_kmh(gear, pedal)) else { return false };
        let line = match self.fault {
            Some(Fault::EagerLift) if now_ms - self.state.senses.lift_ms < 500 => line - 5.0,
            Some(Fault::EagerAfterGap) if pedal <= 15.0 && self.gap_since_engaging() => line - 5.0,
            Some(Fault::Sluggish) if gear == 4 => line + 6.0,
            _ => line,
        };
        speed.value >= line
    }

    fn up_kmh(&self, gear: u8, pedal: f64) -> Option<f64> {
        let between = self.has(Fault::StuckColumn) && gear == 3 && (60.0..70.0).contains(&pedal);
        let line = self.line_kmh(gear, gear.saturating_add(1), if between { 60.0 } else { pedal })?;
        let low = self.has(Fault::LowCell) && gear == self.hello.top_gear / 2 + 1 && pedal < 15.0;
        Some(match self.fault {
            Some(Fault::LowLine) if gear == 4 => line - 2.0,
            _ if low => line - 6.0,
            _ => line,
        })
    }

    fn down_kmh(&self, gear: u8, pedal: f64) -> Option<f64> {
        let below = gear.saturating_sub(1);
        if self.has(Fault::GapCollapsed) && pedal > 20.0 {
            return Some(self.line_kmh(below, gear, pedal)? - 1.0);
        }
        if self.forgets_down(gear, pedal) {
            return None;
        }
        if self.has(Fault::NoGapWhenLight) && pedal <= 20.0 && gear == 4 {
            return Some(self.line_kmh(below, gear, pedal)? - 0.5);
        }
        let line = self.line_kmh(gear, below, pedal)?;
        Some(match self.fault {
            Some(Fault::LineOffByTwo) if gear == self.hello.top_gear / 2 + 1 => line - 2.0,
            Some(Fault::RestsHigh) if gear == self.hello.top_gear && pedal < 25.0 => line - 12.0,
            Some(Fault::EarlyCoasting) if gear == 5 && pedal < CLOSED_PCT => line + 6.0,
            _ => line,
        })
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
        // Answers come at every tenth tick or so: between them it would read the same two lines at the same place.
        let last = &self.last_read[usize::from(to > from)];
        let at = (from, to, pedal);
        if let Some(read) = last.get().filter(|read| read.at == at) {
            return read.kmh;
        }
        let kmh = self.read_line(from, to, pedal);
        last.set(Some(LineRead { at, kmh }));
        kmh
    }

    fn read_line(&self, from: u8, to: u8, pedal: f64) -> Option<f64> {
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
