//! A box that reads speed and pedal only, counts its own gear and shows nothing: no flag, no gear, no announcement.
//!
//! It is built of stop-watches: each knows how long something has lasted, in ticks of the box.

use super::{action, line_kmh};
use sprag::controller::Controller;
use sprag::controller::hello::Hello;
use sprag::signal::{Answer, Content, Direction, Inputs, Lever, Output, Range, Signal};
use sprag::spec::facts::{AfterEdge, OnCause, TakeOver, TapWiring};
use sprag::spec::vehicle::EntryGear;

/// Longest time a stop-watch tells, ms.
const LONG: u32 = 1 << 30;
/// Width of its pulses, ms.
const PULSE: u32 = 100;

/// How long ago something was, ms.
#[derive(Debug, Clone, Copy)]
struct Ago(u32);

impl Ago {
    const NEVER: Self = Self(LONG);
    const NOW: Self = Self(0);

    fn tick(&mut self, ms: u32) {
        self.0 = (self.0 + ms).min(LONG);
    }
}

#[derive(Debug, Clone, Copy)]
struct Watches {
    /// How long something has been so, 0 while it is not.
    out: u32,
    right: u32,
    still: u32,
    speed: Ago,
    pedal: Ago,
    edge: Ago,
    leap: Ago,
    engaging: Ago,
    up: Ago,
    down: Ago,
    tap: Ago,
    entry: Ago,
    low: Ago,
    engagings: [Ago; 5],
}

const FRESH_START: Watches = Watches {
    out: 0,
    right: 0,
    still: 0,
    speed: Ago::NEVER,
    pedal: Ago::NEVER,
    edge: Ago::NEVER,
    leap: Ago::NEVER,
    engaging: Ago::NEVER,
    up: Ago::NEVER,
    down: Ago::NEVER,
    tap: Ago::NEVER,
    entry: Ago::NEVER,
    low: Ago::NEVER,
    engagings: [Ago::NEVER; 5],
};

/// The box.
#[derive(Debug)]
pub struct Plain {
    hello: Hello,
    watches: Watches,
    first: bool,
    speed_kmh: f64,
    /// When the speed arrived, on the box's clock.
    arrived_ms: u64,
    pedal_pct: f64,
    locked: bool,
    in_gate: bool,
    button: bool,
    armed: bool,
    engaged: bool,
    paused: bool,
    gear: Option<u8>,
    /// The driver has tapped since the lever came in: nobody tells whether the gearbox took it.
    unsure: bool,
    pulse: Option<Direction>,
}

impl Plain {
    /// For a hello.
    #[must_use]
    pub fn new(hello: Hello) -> Self {
        Self {
            hello,
            watches: FRESH_START,
            first: true,
            speed_kmh: 0.0,
            arrived_ms: 0,
            pedal_pct: 0.0,
            locked: false,
            in_gate: false,
            button: true,
            armed: false,
            engaged: false,
            paused: false,
            gear: None,
            unsure: false,
            pulse: None,
        }
    }

    fn clocks(&mut self) {
        let ms = self.hello.tick_ms;
        let w = &mut self.watches;
        for watch in [
            &mut w.speed,
            &mut w.pedal,
            &mut w.edge,
            &mut w.leap,
            &mut w.engaging,
            &mut w.up,
            &mut w.down,
            &mut w.tap,
            &mut w.entry,
            &mut w.low,
        ] {
            watch.tick(ms);
        }
        w.engagings.iter_mut().for_each(|ago| ago.tick(ms));
    }

    fn read(&mut self, now_ms: u64, answers: &[Answer]) {
        for answer in answers {
            let Content::Value(value) = answer.content else { continue };
            let age = Ago(u32::try_from(now_ms.wrapping_sub(answer.arrival_ms)).unwrap_or(LONG).min(LONG));
            match answer.signal {
                Signal::Speed if (0.0..=255.0).contains(&value) => {
                    self.speed(value, answer.arrival_ms);
                    self.watches.speed = age;
                }
                Signal::Pedal if (0.0..=100.0).contains(&value) => {
                    (self.pedal_pct, self.watches.pedal) = (value, age);
                }
                _ => {}
            }
        }
    }

    fn speed(&mut self, kmh: f64, arrived_ms: u64) {
        if self.watches.speed.0 < LONG {
            let s = arrived_ms.wrapping_sub(self.arrived_ms).min(u64::from(LONG)) as f64 / 1000.0;
            let fell = self.speed_kmh - kmh > self.hello.fall_limit_kmh_per_s * s + 2.0;
            if fell || kmh - self.speed_kmh > self.hello.rise_limit_kmh_per_s * s + 2.0 {
                self.watches.leap = Ago::NOW;
            }
            self.locked = (self.locked || fell) && kmh <= self.hello.standstill_kmh;
        }
        (self.speed_kmh, self.arrived_ms) = (kmh, arrived_ms);
    }

    fn data_ms(&self) -> u32 {
        self.watches.speed.0.max(self.watches.pedal.0)
    }

    fn lever(&mut self, inputs: &Inputs) {
        let ms = self.hello.tick_ms;
        if inputs.lever == Lever::Gate {
            let out_ms = std::mem::take(&mut self.watches.out);
            if out_ms >= self.hello.lever_bounce_ms {
                (self.gear, self.unsure) = (self.entry_gear(), false);
                self.watches.entry = Ago::NOW;
                self.hand_over(self.hello.take_over == TakeOver::Lever && out_ms >= 200);
            }
        } else {
            self.watches.out = if self.first { LONG } else { (self.watches.out + ms).min(LONG) };
            if self.watches.out >= self.hello.lever_bounce_ms {
                self.let_go();
            }
        }
        self.in_gate = inputs.lever == Lever::Gate;
        if let Some(pressed) = inputs.button {
            self.hand_over(pressed && !self.button && self.in_gate && !self.engaged);
            self.button = pressed;
        }
        self.first = false;
    }

    fn hand_over(&mut self, so: bool) {
        if so {
            self.armed = true;
            self.watches.edge = Ago::NOW;
        }
    }

    fn entry_gear(&self) -> Option<u8> {
        let EntryGear::Fixed(least) = self.hello.entry else { return None };
        let seen = (self.watches.speed.0 < LONG).then_some(self.speed_kmh)?;
        let rpm = |gear: u8| self.hello.rpm_per_kmh.get(usize::from(gear) - 1).map_or(LONG.into(), |r| r * seen);
        (least..=self.hello.top_gear).find(|gear| rpm(*gear) <= self.hello.redline_rpm).or(Some(self.hello.top_gear))
    }

    fn let_go(&mut self) {
        (self.engaged, self.armed, self.paused, self.pulse) = (false, false, false, None);
        self.watches.right = 0;
    }

    /// The driver's taps; its own pulse on a shared wire, and 60 ms of bounce after it, are none.
    fn tapped(&self, inputs: &Inputs) -> bool {
        let shared = self.hello.tap_wiring == TapWiring::Shared;
        let own = |ago: Ago| shared && ago.0 < PULSE + 60;
        let up = (inputs.tap_up || inputs.tap_up_edges > 0) && !own(self.watches.up);
        let down = (inputs.tap_down || inputs.tap_down_edges > 0) && !own(self.watches.down);
        up || down
    }

    fn causes(&mut self, inputs: &Inputs) {
        let tapped = self.tapped(inputs);
        let range = inputs.range.is_none_or(|range| range == Range::High);
        let lost = self.data_ms() > self.hello.data_lost_ms;
        if tapped {
            self.watches.tap = Ago::NOW;
            (self.gear, self.unsure) = (None, true);
        }
        let pauses = |on: OnCause| matches!(on, OnCause::PausesMs(_));
        let tap_ends = tapped && (!self.engaged || !pauses(self.hello.driver_tap));
        let loss_ends = lost && !pauses(self.hello.lost_data);
        if !range {
            self.watches.low = Ago::NOW;
        }
        if !inputs.ignition || !range || tap_ends || loss_ends {
            self.let_go();
        }
        if let OnCause::PausesMs(ms) = self.hello.driver_tap {
            self.paused = self.engaged && self.watches.tap.0 <= ms + 50;
        }
        let right = self.in_gate
            && inputs.ignition
            && self.watches.low.0 > self.hello.range_high_for_ms
            && !tapped
            && self.data_ms() <= self.hello.data_fresh_ms
            && self.speed_kmh <= self.hello.ceiling_kmh;
        self.watches.right = if right { (self.watches.right + self.hello.tick_ms).min(LONG) } else { 0 };
    }

    fn engage(&mut self) {
        let in_time = match self.hello.after_edge {
            AfterEdge::AnyTime => true,
            AfterEdge::WithinMs(ms) => self.watches.edge.0 <= ms,
        };
        self.armed &= in_time;
        let often = self.watches.engagings.iter().all(|ago| ago.0 < 10_000);
        // A tick more than asked for: the first right tick counts as one already.
        let long = self.watches.right > self.hello.conditions_held_ms + self.hello.tick_ms;
        if self.engaged || !self.armed || often || !long {
            return;
        }
        (self.engaged, self.armed) = (true, false);
        if !self.unsure {
            // The lever came in before any speed was read.
            self.gear = self.gear.or(self.entry_gear());
        }
        // A tap from before says nothing about what begins now.
        self.watches.tap = Ago::NEVER;
        self.watches.engaging = Ago::NOW;
        self.watches.engagings.rotate_right(1);
        self.watches.engagings[0] = Ago::NOW;
    }

    fn stand(&mut self) {
        if self.speed_kmh > self.hello.standstill_kmh || !self.hello.shifts_down_itself {
            self.watches.still = 0;
            return;
        }
        self.watches.still = (self.watches.still + self.hello.tick_ms).min(LONG);
        if self.watches.still >= if self.locked { 5000 } else { 1500 } {
            self.gear = self.gear.map(|gear| gear.min(self.hello.lowest_gear));
        }
    }

    fn wish(&self) -> Option<Direction> {
        let (gear, w, h) = (self.gear?, &self.watches, &self.hello);
        let waits = !self.in_gate
            || self.data_ms() > h.data_fresh_ms
            || w.leap.0 < 550
            || self.speed_kmh <= h.standstill_kmh
            || w.engaging.0 < 520
            || w.up.0.min(w.down.0) < h.shift_blind_ms
            || w.entry.0 < h.shift_blind_ms;
        if waits {
            return None;
        }
        let up = line_kmh(&h.map, gear, gear + 1, self.pedal_pct);
        let down = line_kmh(&h.map, gear, gear.saturating_sub(1), self.pedal_pct);
        if up.is_some_and(|line| self.speed_kmh >= line) && w.down.0 >= h.opposite_dwell_ms {
            Some(Direction::Up)
        } else if gear > h.lowest_gear
            && down.is_some_and(|line| self.speed_kmh <= line)
            && w.up.0 >= h.opposite_dwell_ms
        {
            Some(Direction::Down)
        } else {
            None
        }
    }
}

impl Controller for Plain {
    fn reset(&mut self) {
        *self = Self::new(self.hello.clone());
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        self.clocks();
        self.read(inputs.time_ms, answers);
        self.lever(inputs);
        self.causes(inputs);
        self.engage();
        self.stand();
        let starts = if self.engaged && !self.paused { self.wish() } else { None };
        match starts {
            Some(Direction::Up) => (self.gear, self.watches.up) = (self.gear.map(|g| g + 1), Ago::NOW),
            Some(Direction::Down) => (self.gear, self.watches.down) = (self.gear.map(|g| g - 1), Ago::NOW),
            None => {}
        }
        self.pulse = starts.or(self.pulse);
        let (up, down) = (self.watches.up.0, self.watches.down.0);
        if up.min(down) >= PULSE || !self.engaged || self.paused {
            self.pulse = None;
        }
        Output { action: action(&self.hello, starts, self.pulse), ..Output::OPEN }
    }
}
