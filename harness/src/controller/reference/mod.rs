//! The reference controller: the shift map and the box facts, followed to the letter and no further.
//!
//! It shows whether a map can be driven at all, and its seeded faults show that the rules notice. It looks up tables
//! and compares; a twin in another language decides the same, tick for tick. All times count from power-up, so the
//! box's clock may start anywhere.

mod driver;
mod due;
mod fault;
mod faults;
mod faulty;
mod map_check;
mod obeyed;
mod requests;
mod rest;
mod second;
mod senses;
mod state;
mod tamper;
#[cfg(test)]
mod tests;

#[cfg(test)]
pub(super) use tests::hello as small_hello;

pub use fault::Fault;
pub use faults::{FAULTS, FaultCard};
pub use second::{Firmware, SECOND_FAULTS};

use super::Controller;
use super::hello::{Hello, HelloAnswers};
use crate::signal::{Action, Announcement, Answer, Direction, Inputs, Lever, Output, Range, Request, Signal};
use crate::spec::facts::{AfterEdge, CeilingBinds, OnCause};
use crate::spec::vehicle::GateMeans;
use rest::Rest;
use senses::NEVER;
use state::State;
use std::cell::Cell;
use std::sync::atomic::{AtomicU64, Ordering};

/// Width of a pulse where the limits leave room for it, ms (common practice, no source).
const PULSE_MS: u32 = 120;
/// How long after its own pulse the box takes a tap on the same contact for its echo, ms (invented).
const ECHO_MS: i64 = 60;
/// How long the lever must have been out of the gate for its return to be a take-over, ms (invented).
const OUT_MS: i64 = 200;
/// Engagements are counted over this long, ms.
const OFTEN_MS: i64 = 10_000;
/// More engagements than this in that time no lever can ask for.
const MOST_KEPT: usize = 32;
/// A gear read this long after the last thing that moved it is the gear, ms (invented).
const GEAR_SETTLED_MS: i64 = 1200;
/// An upshift that was due for this long and did not come shows that the range limit is lower, ms (invented).
const LIMITED_MS: i64 = 3000;
/// After this long at standstill the gearbox has gone down by itself, ms (invented).
const STILL_MS: i64 = 1000;
/// The fault `counts-polls` has then counted 2^15 polls, one each 100 ms, ms.
const POLLS_FULL_MS: i64 = 3_276_800;
/// The fault `takes-back-by-itself` waits this long, ms.
const TAKE_BACK_MS: i64 = 3000;

/// Engagements of all instances, which only the fault `remembers` looks at.
static ENGAGEMENTS: AtomicU64 = AtomicU64::new(0);

/// The reference controller.
#[derive(Debug)]
pub struct Reference {
    hello: Hello,
    fault: Option<Fault>,
    width_ms: i64,
    /// The map it was told can be driven; with another it stays disengaged.
    takes_map: bool,
    state: State,
    /// What a few faults remember across a power-up.
    kept: faulty::Kept,
    /// Least time between two rounds of requests, ms.
    rounds_apart_ms: i64,
    /// The down line and the up line that it has read last.
    last_read: [Cell<Option<due::LineRead>>; 2],
    rest: Rest,
}

impl Reference {
    /// The reference for a hello, with a seeded fault or none.
    #[must_use]
    pub fn new(hello: Hello, fault: Option<Fault>) -> Self {
        let width_ms = match hello.answers {
            HelloAnswers::Contacts => PULSE_MS.min(hello.longest_pulse_ms).max(hello.shortest_pulse_ms),
            HelloAnswers::Requests { width_ms, .. } => width_ms,
        };
        let takes_map = map_check::takes(&hello, fault);
        let hello = if fault == Some(Fault::FallsBackToOwnMap) && !map_check::takes(&hello, None) {
            faults::with_own_map(hello)
        } else {
            hello
        };
        let kept = faulty::Kept::default();
        let rounds_apart_ms = requests::rounds_apart_ms(&hello);
        let last_read = [const { Cell::new(None) }; 2];
        Self {
            hello,
            fault,
            width_ms: i64::from(width_ms),
            takes_map,
            state: State::BLANK,
            kept,
            rounds_apart_ms,
            last_read,
            rest: Rest::default(),
        }
    }

    fn has(&self, fault: Fault) -> bool {
        self.fault == Some(fault)
    }

    /// It is engaged and not paused.
    fn may(&self, now_ms: i64) -> bool {
        self.state.engaged && self.passed(now_ms, self.state.paused_until_ms, 0)
    }

    /// All that it reads has stood still for half the time within which it has to notice.
    fn is_stuck(&self) -> bool {
        let unseen = self.has(Fault::FreezeUnseen) || self.has(Fault::SlowFreezeUnseen) && !self.moves_fast();
        self.hello.notices_stuck
            && !unseen
            && self.state.senses.still_for_ms() >= i64::from(self.hello.stuck_noticed_ms / 2)
    }

    /// The announcement with which an engaged box must disengage in this tick.
    fn cause(&self, inputs: &Inputs, range_high: bool, taps: bool, lost: bool) -> Option<Announcement> {
        let stuck = self.is_stuck() || self.calls_steady_stuck();
        let range_left = !range_high && !self.has(Fault::RangeOnlyAtEngaging);
        let data_lost = lost && self.hello.lost_data == OnCause::Disengages;
        let wrong = self.state.wrong > self.hello.wrong_shifts && !self.has(Fault::IgnoresWrongDirection);
        if !inputs.ignition || range_left || data_lost || wrong || stuck {
            Some(Announcement::Fault)
        } else if !self.state.in_gate || (taps && self.hello.driver_tap == OnCause::Disengages) {
            Some(Announcement::Disengaged)
        } else {
            None
        }
    }

    /// Whether everything for engaging is right in this tick.
    fn all_right(&self, inputs: &Inputs, range_high: bool, taps: bool, now_ms: i64) -> bool {
        let s = &self.state;
        let Some(speed) = s.senses.speed else { return false };
        let pedal = s.senses.pedal.map_or(0.0, |pedal| pedal.value);
        let oldest_ms = if self.has(Fault::PedalUnread) { speed.at_ms } else { s.senses.oldest_ms() };
        let ceiling_kmh =
            self.hello.ceiling_kmh * if self.has(Fault::CeilingInMph) { crate::units::KMH_PER_MPH } else { 1.0 };
        let every = self.hello.ceiling_binds == CeilingBinds::Every && !self.has(Fault::CeilingOnce);
        let bound = every || !s.engaged_before;
        let range_high_for_ms =
            if self.has(Fault::RangeBackAtOnce) { 0 } else { i64::from(self.hello.range_high_for_ms) };
        self.takes_map
            && s.in_gate
            && inputs.lever == Lever::Gate
            && inputs.ignition
            && (!s.senses.engine_off || self.has(Fault::EngineUnseen))
            && self.passed(now_ms, 0, i64::from(self.hello.boot_quiet_ms))
            && (range_high && self.passed(now_ms, s.range_low_ms, range_high_for_ms)
                || (self.has(Fault::EngagesInTie) && s.odd.range_was_high)
                || self.has(Fault::RangeUnseenAtEngaging))
            && !taps
            && !self.is_stuck()
            && !self.passed(now_ms, oldest_ms, i64::from(self.hello.data_fresh_ms) + 1)
            && (!bound || speed.value <= ceiling_kmh)
            && !(self.has(Fault::ShyOfPedal) && pedal > 20.0)
            && !self.has(Fault::DoesNothing)
            && !(self.has(Fault::CountsPolls) && now_ms >= POLLS_FULL_MS)
    }

    /// Engages if the take-over stands and everything has been right for long enough.
    fn may_engage(&mut self, all_right: bool, now_ms: i64) -> bool {
        let s = &mut self.state;
        if !all_right {
            s.held_since_ms = None;
            return false;
        }
        let held_since_ms = *s.held_since_ms.get_or_insert(now_ms);
        let most = usize::from(self.hello.most_engagements).checked_sub(1);
        let before_ms = most.map_or(Some(now_ms), |at| s.engagements_ms.get(at).copied());
        let passed = |since_ms: i64, ms: i64| self.rest.passed(now_ms, since_ms, ms);
        let often = before_ms.is_some_and(|ms| !passed(ms, OFTEN_MS)) && self.fault != Some(Fault::EngagesWithoutEnd);
        let in_time = |edge_ms: i64| match self.hello.after_edge {
            AfterEdge::AnyTime => true,
            AfterEdge::WithinMs(most) => !passed(edge_ms, i64::from(most) + 1),
        };
        let held = passed(held_since_ms, i64::from(self.hello.conditions_held_ms));
        if often || !s.edge_ms.is_some_and(in_time) || !held {
            return false;
        }
        (s.engaged, s.engaged_before, s.edge_ms) = (true, true, None);
        s.engagements_ms.rotate_right(1);
        s.engagements_ms[0] = now_ms;
        if s.counted == 0 {
            let gear = self.entry_gear();
            self.state.counted = if gear == 0 { self.hello.lowest_gear } else { gear };
        }
        if self.has(Fault::Remembers) && ENGAGEMENTS.fetch_add(1, Ordering::Relaxed) % 4 == 3 {
            self.state.longer_ms = 30;
        }
        true
    }

    /// Brings the counted gear in line with what the box can know besides its own commands.
    fn correct_count(&mut self, now_ms: i64) {
        let counted = self.state.counted;
        if counted == 0 {
            return;
        }
        if let Some(gear) = self.state.senses.gear {
            let read = whole_gear(gear.value);
            if self.deaf_to_gear(read, now_ms) {
                return;
            }
            // Under a range limit the gearbox may stay below it as it likes, so what is counted is the limit: it must
            // be lower after all where an upshift is long due and doesn't come.
            let below = self.hello.gate == GateMeans::RangeLimit && read < counted;
            let due = below && self.is_up_due(read);
            let s = &mut self.state;
            s.due_since_ms = due.then(|| s.due_since_ms.unwrap_or(now_ms));
            let passed = |since_ms: i64, ms: i64| self.rest.passed(now_ms, since_ms, ms);
            let likes = below && s.due_since_ms.is_none_or(|since_ms| !passed(since_ms, LIMITED_MS));
            // A gear that hasn't come yet may be on its way up to the time in which it must. One that has moved since the
            // command and is told no more is where it was told last.
            let silent = passed(gear.at_ms, i64::from(self.hello.data_fresh_ms) + 1);
            let came = gear.at_ms - s.last_ms >= i64::from(self.hello.shift_confirmed_ms)
                || (silent && s.senses.gear_since_ms > s.last_ms);
            let settled = came && gear.at_ms - s.moved_ms.max(s.turned_ms) >= GEAR_SETTLED_MS;
            if settled && !likes {
                s.counted = read;
            }
        } else if self.hello.shifts_down_itself {
            let still = self.state.senses.still_since_ms.is_some_and(|at_ms| self.passed(now_ms, at_ms, STILL_MS));
            self.state.counted = if still { counted.min(self.hello.lowest_gear) } else { counted };
        }
    }

    /// The gear it takes to be in: under a range limit that of the gearbox, where it is below.
    fn gear_shown(&self) -> Option<u8> {
        let s = &self.state;
        let read = s.senses.gear.filter(|_| self.hello.gate == GateMeans::RangeLimit);
        let shown = read.map_or(s.counted, |gear| s.counted.min(whole_gear(gear.value)));
        (s.counted > 0).then_some(shown)
    }

    /// Notes a command that starts in this tick.
    fn command(&mut self, direction: Direction, now_ms: i64) {
        self.count_tries(direction);
        let s = &mut self.state;
        (s.pulse, s.last, s.last_ms, s.moved_ms) = (Some(direction), Some(direction), now_ms, now_ms);
        s.speeds_at_command = s.speeds_counted;
        match direction {
            Direction::Up => {
                (s.counted, s.last_up_ms) = ((s.counted + 1).min(self.hello.top_gear), now_ms);
                s.pedal_at_up = s.senses.pedal.map_or(0.0, |pedal| pedal.value);
            }
            Direction::Down => (s.counted, s.last_down_ms) = (s.counted.saturating_sub(1), now_ms),
        }
    }
}

impl Controller for Reference {
    fn reset(&mut self) {
        self.kept.power_down(&self.state);
        self.state = State::BLANK;
        self.rest = Rest::default();
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let first_ms = *self.state.first_clock_ms.get_or_insert(inputs.time_ms);
        let now_ms = since_power_up(self.fault, inputs.time_ms, first_ms);
        self.rest.goes_on(inputs, answers, now_ms).unwrap_or_else(|| self.look(inputs, answers, now_ms))
    }

    fn requests(&mut self, sent: &mut Vec<Request>) {
        self.tell_requests(sent);
    }
}

impl Reference {
    /// A tick in which something may change.
    fn look(&mut self, inputs: &Inputs, answers: &[Answer], now_ms: i64) -> Output {
        if self.has(Fault::ZeroAtStart) && now_ms == 0 {
            self.state.senses.start_at_zero();
        }
        if !answers.is_empty() {
            self.state.senses.take(answers, inputs.time_ms, now_ms, &self.hello, self.fault);
            let speeds = answers.iter().filter(|a| a.signal == Signal::Speed);
            self.state.speeds_counted = self.state.speeds_counted.saturating_add(speeds.count() as u32);
        }
        // With the answers taken in: the next look finds them so.
        let before = self.state;
        let twin = self.has(Fault::TwinIsAFault)
            && answers.windows(2).any(|pair| matches!(pair, [a, b] if (a.signal, a.content) == (b.signal, b.content)));
        self.follow_lever(inputs, now_ms);
        self.wake_faulty(inputs, now_ms);
        let taps = self.driver_taps(inputs, now_ms) || self.own_pulse_is_tap();
        let range_high = match inputs.range {
            None | Some(Range::High) => true,
            Some(Range::Transit) => self.has(Fault::TransitIsHigh),
            Some(Range::Low) => false,
        };
        if !range_high {
            self.state.range_low_ms = now_ms;
        }
        self.watch_gear(now_ms);
        let lost_ms = if self.has(Fault::GivesUpEarly) { 350 } else { i64::from(self.hello.data_lost_ms) };
        let trusts = self.has(Fault::RemembersEngagement) && now_ms < 1000;
        let lost = self.passed(now_ms, self.state.senses.oldest_ms(), lost_ms + 1) && !trusts;
        let hasty = if self.has(Fault::DecidesFirst) && self.may(now_ms) { self.due(inputs, now_ms) } else { None };

        // Disengaging comes first: it wins over whatever else this tick holds.
        let mut announcement = None;
        if self.state.engaged {
            for (happens, reaction) in [(taps, self.hello.driver_tap), (lost, self.hello.lost_data)] {
                if let (true, OnCause::PausesMs(pause_ms)) = (happens, reaction) {
                    let until_ms = now_ms + i64::from(pause_ms) + 1;
                    self.state.paused_until_ms = self.state.paused_until_ms.max(until_ms);
                }
            }
            announcement = self.cause(inputs, range_high, taps, lost).or(twin.then_some(Announcement::Fault));
            if announcement.is_some() {
                (self.state.engaged, self.state.edge_ms, self.state.paused_until_ms) = (false, None, NEVER);
                self.state.wrong = 0;
                self.state.held_since_ms = None;
                self.state.lost_ms = lost.then_some(now_ms);
            }
        } else if taps {
            // The driver shifts by hand before the box has engaged: the gear is the driver's until the next take-over.
            self.state.edge_ms = None;
        }
        if self.has(Fault::TakesBackByItself) && self.state.lost_ms.is_some() {
            let since_ms = *self.state.lost_ms.get_or_insert(now_ms);
            if lost {
                self.state.lost_ms = Some(now_ms);
            } else if now_ms - since_ms >= TAKE_BACK_MS && self.state.in_gate {
                (self.state.lost_ms, self.state.edge_ms) = (None, Some(now_ms - 1));
            }
        }

        if !self.state.engaged {
            let all_right = self.all_right(inputs, range_high, taps, now_ms);
            if self.may_engage(all_right, now_ms) {
                announcement = Some(Announcement::Engaged);
            }
        }
        self.correct_count(now_ms);
        if !self.state.ready && self.state.senses.both_read(self.fault) {
            self.state.ready = true;
            announcement = announcement.or(Some(Announcement::Ready));
        }

        let may = self.may(now_ms);
        let starts = if may { self.wrongly_due(inputs, now_ms).or_else(|| self.due(inputs, now_ms)) } else { hasty };
        if let Some(direction) = starts {
            self.command(direction, now_ms);
        }
        if (!may && starts.is_none()) || self.passed(now_ms, self.state.last_ms, self.width_ms + self.state.longer_ms) {
            self.state.pulse = None;
        }
        let contacts = self.tampered(now_ms, may);
        let mut output = Output {
            action: match self.hello.answers {
                HelloAnswers::Contacts => Action::Contacts(contacts),
                HelloAnswers::Requests { .. } => Action::Request(starts),
            },
            announcement: announcement.filter(|_| self.hello.announces),
            engaged: Some(may),
            counted_gear: self.gear_shown(),
        };
        if self.hello.sends_requests {
            self.ask(inputs, now_ms, may);
        }
        if self.fault.is_some() {
            self.put_out_faulty(inputs, now_ms, starts, &mut output);
        }
        // Taps and faults look at the clock in their own ways.
        let rests = self.fault.is_none() && !driver::is_tapped(inputs) && before == self.state;
        self.rest.begin(rests.then_some((*inputs, output)));
        output
    }
}

/// Time since power-up; some faults keep it in too few bits.
fn since_power_up(fault: Option<Fault>, clock_ms: u64, first_ms: u64) -> i64 {
    let short = |ms: u64| match fault {
        Some(Fault::SixteenBitClock) => i64::from(ms as u16),
        Some(Fault::SignedClock) => i64::from(ms as u32 as i32),
        _ => i64::from(ms.wrapping_mul(1000) as u32 / 1000),
    };
    match fault {
        Some(Fault::SixteenBitClock | Fault::SignedClock | Fault::MicrosecondClock) => {
            short(clock_ms) - short(first_ms)
        }
        _ => clock_ms.wrapping_sub(first_ms).cast_signed(),
    }
}

/// A gear that was read, as a number of gears; the senses let 1 to the top gear through only.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within 1 to the top gear")]
fn whole_gear(value: f64) -> u8 {
    value as u8
}
