//! What seeded faults do that doesn't fit in one word of the reference: what they remember, and what they put out.

use super::{Fault, NEVER, Reference, State};
use crate::signal::{Action, Announcement, Contacts, Direction, Inputs, Output, Range};
use std::sync::atomic::{AtomicU64, Ordering};

/// Gaps that all instances have seen, which only the fault `remembers-gaps` looks at.
static GAPS: AtomicU64 = AtomicU64::new(0);

/// A power-up this soon after the last tick is a reset or a dip, ms.
const DIP_MS: u64 = 5000;

/// What some faults remember from tick to tick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Odd {
    pub range_was_high: bool,
    tapped_ms: Option<i64>,
    may_until_ms: i64,
    was_may: bool,
    told: bool,
    /// A pulse cut by a reset that goes on.
    pulse: Option<Direction>,
    /// The last gap that was counted.
    gap_ms: i64,
    /// The speed read at the last upshift, km/h.
    pub kmh_at_up: f64,
    /// Since when speed and pedal have been below the upshift line into the gear counted.
    pub slow_since_ms: Option<i64>,
}

impl Odd {
    pub const BLANK: Self = Self {
        range_was_high: true,
        tapped_ms: None,
        may_until_ms: -1,
        was_may: false,
        told: false,
        pulse: None,
        gap_ms: NEVER,
        kmh_at_up: 0.0,
        slow_since_ms: None,
    };
}

/// What a few remember across a power-up.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Kept {
    last_clock_ms: Option<u64>,
    pulse: Option<Direction>,
    engaged: bool,
}

impl Kept {
    pub fn power_down(&mut self, state: &State) {
        (self.pulse, self.engaged) = (state.pulse, state.engaged);
    }
}

impl Reference {
    /// What a few faults do as the box starts.
    pub(super) fn wake_faulty(&mut self, inputs: &Inputs, now_ms: i64) {
        let last_ms = self.kept.last_clock_ms.replace(inputs.time_ms);
        let dipped = now_ms == 0 && last_ms.is_some_and(|last| inputs.time_ms.wrapping_sub(last) <= DIP_MS);
        if !dipped {
            return;
        }
        let s = &mut self.state;
        match self.fault {
            Some(Fault::RemembersEngagement) if self.kept.engaged && s.in_gate => s.engaged = true,
            Some(Fault::ResetIsEdge) if s.in_gate => s.edge_ms = Some(0),
            Some(Fault::PulseSurvives) => s.odd.pulse = self.kept.pulse,
            _ => {}
        }
    }

    /// The fault that looks at nothing but whether speed and pedal move, with the pedal off the floor.
    pub(super) fn calls_steady_stuck(&self) -> bool {
        let s = &self.state;
        self.has(Fault::SteadyIsStuck) && s.senses.moved_ms.is_some_and(|at_ms| s.senses.newest_ms() - at_ms >= 8000)
    }

    /// At a pace at which a freeze is dangerous, one fault thinks.
    pub(super) fn moves_fast(&self) -> bool {
        self.state.senses.speed.is_some_and(|speed| speed.value >= 60.0)
    }

    /// The fault that takes some of its own pulses for the driver's tap.
    pub(super) fn own_pulse_is_tap(&self) -> bool {
        let s = &self.state;
        self.has(Fault::OwnPulseIsTap) && s.pulse == Some(Direction::Down) && s.counted + 2 >= self.hello.top_gear
    }

    /// What a fault makes of the output.
    pub(super) fn put_out_faulty(&mut self, inputs: &Inputs, now_ms: i64, starts: Option<Direction>, out: &mut Output) {
        let pedal = self.state.senses.pedal.map_or(0.0, |pedal| pedal.value);
        let (may, top) = (out.engaged == Some(true), self.hello.top_gear);
        let data_old = self.state.senses.age_ms(now_ms) > i64::from(self.hello.data_lost_ms);
        let reached_top = starts == Some(Direction::Up) && self.state.counted == top;
        let tapped = out.announcement == Some(Announcement::Disengaged) && self.state.in_gate;
        // A line is looked up for the one fault that goes by it.
        let looks = self.has(Fault::GapInTime) && self.state.counted > 1;
        let slow = looks && !self.is_up_due(self.state.counted - 1);
        let s = &mut self.state;
        match self.fault {
            Some(Fault::RearmsAfterTap) => {
                if tapped {
                    s.odd.tapped_ms = Some(now_ms);
                } else if s.odd.tapped_ms.is_some_and(|at_ms| now_ms - at_ms >= 1000) && s.in_gate {
                    (s.odd.tapped_ms, s.edge_ms) = (None, Some(now_ms));
                }
            }
            Some(Fault::SilentFault) => out.announcement = out.announcement.filter(|a| *a != Announcement::Fault),
            Some(Fault::SilentEngaging) if pedal > 20.0 => {
                out.announcement = out.announcement.filter(|a| *a != Announcement::Engaged);
            }
            Some(Fault::WrongWord) if data_old && out.announcement == Some(Announcement::Fault) => {
                out.announcement = Some(Announcement::Disengaged);
            }
            Some(Fault::SaysItAgain) if reached_top => out.announcement = Some(Announcement::Engaged),
            Some(Fault::CriesFault) => {
                let old = may && s.senses.age_ms(now_ms) > 400;
                if old && !s.odd.told {
                    out.announcement = out.announcement.or(Some(Announcement::Fault));
                }
                s.odd.told = old;
            }
            Some(Fault::FlagStays) => {
                if s.odd.was_may && tapped {
                    s.odd.may_until_ms = now_ms + 2000;
                }
                s.odd.was_may = may;
                out.engaged = Some(may || now_ms < s.odd.may_until_ms);
            }
            Some(Fault::RemembersGaps) if s.odd.gap_ms != s.senses.gap_ended_ms => {
                s.odd.gap_ms = s.senses.gap_ended_ms;
                s.longer_ms = if GAPS.fetch_add(1, Ordering::Relaxed) % 4 == 3 { 30 } else { 0 };
            }
            Some(Fault::StartsClosed) if now_ms < 80 && s.in_gate => close(out, Direction::Up),
            Some(Fault::TapsToTest) if (150..210).contains(&now_ms) && s.in_gate => close(out, Direction::Down),
            Some(Fault::PulseSurvives) if now_ms < 100 => {
                if let Some(direction) = s.odd.pulse {
                    close(out, direction);
                }
            }
            _ => {}
        }
        if let (Some(Direction::Up), Some(speed)) = (starts, s.senses.speed) {
            s.odd.kmh_at_up = speed.value;
        }
        s.odd.slow_since_ms = s.odd.slow_since_ms.or(Some(now_ms)).filter(|_| slow);
        s.odd.range_was_high = inputs.range.is_none_or(|range| range == Range::High);
    }
}

fn close(out: &mut Output, direction: Direction) {
    out.action = match out.action {
        Action::Contacts(_) => {
            Action::Contacts(Contacts { up: direction == Direction::Up, down: direction == Direction::Down })
        }
        Action::Request(_) => Action::Request(Some(direction)),
    };
}
