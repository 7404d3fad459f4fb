//! A box as an explicit state chart: out, armed, engaged; and within engaged: idle, tapping, resting, paused. One
//! function per state tells the next one. It announces and shows all, and reads the gear where there is one.

mod senses;

use super::{action, line_kmh};
use senses::{Read, Sense, whole};
use sprag::controller::Controller;
use sprag::controller::hello::{Hello, HelloAnswers};
use sprag::signal::{Announcement, Answer, Direction, Inputs, Output};
use sprag::spec::facts::{AfterEdge, CeilingBinds, OnCause};
use sprag::spec::vehicle::GateMeans;
use std::collections::VecDeque;

/// Rest before a gear that doesn't come is taken for refused, ms.
const REFUSED: i64 = 1700;
/// Wait after that, ms: a gearbox in the middle of a shift of its own takes a tap up only after it, and then shifts.
const STILL_TO_COME: i64 = 600;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Nothing may be done.
    Out,
    /// The driver has handed over at this time; all has been right since.
    Armed { edge: i64, right_from: Option<i64> },
    /// Engaged: the driver relies on the box.
    Engaged(Work),
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Work {
    /// A shift may start from this time on.
    Idle { from: i64 },
    /// A contact is closed.
    Tapping { way: Direction, from: i64 },
    /// The gearbox shifts.
    Resting { way: Direction, from: i64 },
    /// The driver or lost data make it wait.
    Paused { until: i64 },
}

/// The box.
#[derive(Debug)]
pub struct Chart {
    hello: Hello,
    pulse_ms: i64,
    state: State,
    start: Option<u64>,
    now: i64,
    speed: Option<Read>,
    pedal: Option<Read>,
    read_gear: Option<Read>,
    gear_from: i64,
    trusted_from: i64,
    standing_from: Option<i64>,
    out_from: Option<i64>,
    low_at: i64,
    button: bool,
    gear: Option<u8>,
    /// The driver has tapped since the lever came in, and no gear is read.
    unsure: bool,
    moved: i64,
    retries: u8,
    last: Option<(Direction, i64)>,
    opposite_from: [i64; 2],
    own_until: i64,
    engaged_before: bool,
    engaged_at: VecDeque<i64>,
    words: VecDeque<Announcement>,
    ready: bool,
}

impl Chart {
    /// For a hello.
    #[must_use]
    pub fn new(hello: Hello) -> Self {
        const LONG_AGO: i64 = -1_000_000;
        Self {
            hello,
            pulse_ms: 100,
            state: State::Out,
            start: None,
            now: 0,
            speed: None,
            pedal: None,
            read_gear: None,
            gear_from: LONG_AGO,
            trusted_from: LONG_AGO,
            standing_from: None,
            out_from: None,
            low_at: LONG_AGO,
            button: true,
            gear: None,
            unsure: false,
            moved: LONG_AGO,
            retries: 0,
            last: None,
            opposite_from: [LONG_AGO; 2],
            own_until: LONG_AGO,
            engaged_before: false,
            engaged_at: VecDeque::new(),
            words: VecDeque::new(),
            ready: false,
        }
    }

    /// With pulses of this width, ms.
    #[must_use]
    pub fn with_pulse(self, ms: i64) -> Self {
        Self { pulse_ms: ms, ..self }
    }

    fn width(&self) -> i64 {
        match self.hello.answers {
            HelloAnswers::Contacts => self.pulse_ms,
            HelloAnswers::Requests { width_ms, .. } => width_ms.into(),
        }
    }

    /// From out: only a hand-over leads on.
    fn out(&self, sense: Sense) -> State {
        if sense.handed_over && !sense.tapped { State::Armed { edge: self.now, right_from: None } } else { State::Out }
    }

    fn armed(&mut self, sense: Sense, edge: i64, right_from: Option<i64>) -> State {
        let edge = if sense.handed_over { self.now } else { edge };
        let too_late = match self.hello.after_edge {
            AfterEdge::AnyTime => false,
            AfterEdge::WithinMs(ms) => self.now - edge > ms.into(),
        };
        if sense.left || sense.tapped || too_late {
            return State::Out;
        }
        let bound = self.hello.ceiling_binds == CeilingBinds::Every || !self.engaged_before;
        let slow = self.speed.is_some_and(|speed| speed.value <= self.hello.ceiling_kmh) || !bound;
        let right = sense.in_gate
            && sense.fresh
            && slow
            && !sense.off
            && self.now - self.low_at > self.hello.range_high_for_ms.into();
        let right_from = if right { right_from.or(Some(self.now)) } else { None };
        let long = right_from.is_some_and(|from| self.now - from >= i64::from(self.hello.conditions_held_ms) + 100);
        while self.engaged_at.front().is_some_and(|at| self.now - at >= 10_000) {
            self.engaged_at.pop_front();
        }
        if !long || self.engaged_at.len() >= 5 {
            return State::Armed { edge, right_from };
        }
        self.engaged_at.push_back(self.now);
        self.engaged_before = true;
        self.words.push_back(Announcement::Engaged);
        if self.gear.is_none() && !self.unsure {
            self.gear = self.entry();
        }
        State::Engaged(Work::Idle { from: self.now + 500 })
    }

    fn engaged(&mut self, sense: Sense, work: Work) -> State {
        let mut pause: Option<u32> = None;
        let mut ends = sense.left;
        for (happens, on) in [(sense.tapped, self.hello.driver_tap), (sense.lost, self.hello.lost_data)] {
            match on {
                OnCause::Disengages => ends |= happens,
                OnCause::PausesMs(ms) if happens => pause = Some(pause.map_or(ms, |p| p.max(ms))),
                OnCause::PausesMs(_) => {}
            }
        }
        let fault = sense.off || sense.low || (sense.lost && self.hello.lost_data == OnCause::Disengages);
        if ends || fault {
            self.words.push_back(if fault { Announcement::Fault } else { Announcement::Disengaged });
            return State::Out;
        }
        if let Some(ms) = pause {
            let until = self.now + i64::from(ms) + i64::from(self.hello.tick_ms);
            let running = match work {
                Work::Paused { until } => until,
                _ => until,
            };
            return State::Engaged(Work::Paused { until: running.max(until) });
        }
        let next = match work {
            Work::Paused { until } if self.now < until => work,
            Work::Paused { .. } => Work::Idle { from: self.now },
            Work::Idle { from } if self.now < from => work,
            Work::Idle { .. } => self.wish(sense).map_or(work, |way| Work::Tapping { way, from: self.now }),
            Work::Tapping { way, from } if self.now - from < self.width() => Work::Tapping { way, from },
            Work::Tapping { way, from } => Work::Resting { way, from },
            Work::Resting { way, from } => self.rest(way, from),
        };
        if self.retries > 1 {
            // Refused twice, or gone the wrong way: this is no gearbox to shift.
            self.words.push_back(Announcement::Fault);
            return State::Out;
        }
        State::Engaged(next)
    }

    /// Until the gear has come or, with none to read, for the blind time.
    fn rest(&mut self, way: Direction, from: i64) -> Work {
        let waited = self.now - from;
        let least = i64::from(self.hello.shift_blind_ms).max(1000);
        let Some(read) = self.read_gear else {
            return if waited >= least { Work::Idle { from: self.now } } else { Work::Resting { way, from } };
        };
        if self.gear == Some(whole(read.value)) && waited >= least {
            self.retries = 0;
            return Work::Idle { from: self.now };
        }
        if waited < REFUSED {
            return Work::Resting { way, from };
        }
        let read = whole(read.value);
        if self.hello.gate == GateMeans::HeldGear || self.gear.is_some_and(|limit| read > limit) {
            // Refused: what is read holds. One more try, then it lets go.
            self.gear = Some(read);
            self.retries += 1;
            return Work::Idle { from: self.now + STILL_TO_COME };
        }
        Work::Idle { from: self.now }
    }

    fn wish(&mut self, sense: Sense) -> Option<Direction> {
        let (speed, pedal, gear) = (self.speed?.value, self.pedal?.value, self.gear?);
        let settle = i64::from(self.hello.shift_settle_ms);
        let agrees = self.read_gear.is_none_or(|read| whole(read.value) == gear && self.now - self.gear_from >= settle);
        let calm = self.now >= self.trusted_from && self.now - self.moved >= self.hello.shift_blind_ms.into();
        if !(sense.in_gate && sense.fresh && agrees && calm) || speed < self.hello.standstill_kmh || self.retries > 1 {
            return None;
        }
        let [up_from, down_from] = self.opposite_from;
        let up = line_kmh(&self.hello.map, gear, gear + 1, pedal).is_some_and(|line| speed >= line);
        let down = gear > self.hello.lowest_gear
            && line_kmh(&self.hello.map, gear, gear - 1, pedal).is_some_and(|line| speed <= line);
        if up && self.now >= up_from {
            Some(Direction::Up)
        } else if down && self.now >= down_from {
            Some(Direction::Down)
        } else {
            None
        }
    }

    fn begin(&mut self, way: Direction) {
        let dwell = self.now + i64::from(self.hello.opposite_dwell_ms);
        match way {
            Direction::Up => (self.gear, self.opposite_from[1]) = (self.gear.map(|g| g + 1), dwell),
            Direction::Down => (self.gear, self.opposite_from[0]) = (self.gear.map(|g| g - 1), dwell),
        }
        (self.last, self.moved) = (Some((way, self.now)), self.now);
        self.own_until = self.now + self.width() + 40;
    }
}

impl Controller for Chart {
    fn reset(&mut self) {
        *self = Self::new(self.hello.clone()).with_pulse(self.pulse_ms);
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let start = *self.start.get_or_insert(inputs.time_ms);
        self.now = inputs.time_ms.wrapping_sub(start).cast_signed();
        self.take(inputs, answers);
        let sense = self.sense(inputs);
        if sense.low {
            self.low_at = self.now;
        }
        self.follow_gear(sense);
        if !self.ready && self.speed.is_some() && self.pedal.is_some() {
            self.ready = true;
            self.words.push_back(Announcement::Ready);
        }
        self.state = match self.state {
            State::Out => self.out(sense),
            State::Armed { edge, right_from } => self.armed(sense, edge, right_from),
            State::Engaged(work) => self.engaged(sense, work),
        };
        let tapping = match self.state {
            State::Engaged(Work::Tapping { way, from }) => Some((way, from)),
            _ => None,
        };
        let starts = tapping.filter(|(_, from)| *from == self.now).map(|(way, _)| way);
        if let Some(way) = starts {
            self.begin(way);
        }
        let announces = self.hello.announces;
        Output {
            action: action(&self.hello, starts, tapping.map(|(way, _)| way)),
            announcement: self.words.pop_front().filter(|_| announces),
            engaged: Some(matches!(self.state, State::Engaged(work) if !matches!(work, Work::Paused { .. }))),
            counted_gear: self.gear.map(|gear| match self.read_gear {
                // What is counted is the limit; the gear may lie below it.
                Some(read) if self.hello.gate == GateMeans::RangeLimit => gear.min(whole(read.value)),
                _ => gear,
            }),
        }
    }
}
