//! Pseudo-random ticks without a vehicle behind them: enough to compare controllers, never to judge one.

use crate::boxes;
use sprag::controller::hello::Hello;
use sprag::signal::{Action, Answer, Contacts, Content, Direction, Inputs, Lever, Output, Range, Signal};

/// A small generator of pseudo-random numbers (Marsaglia's xorshift).
pub struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % bound
    }

    fn one_in(&mut self, bound: u64) -> bool {
        self.below(bound) == 0
    }

    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[usize::try_from(self.below(all.len() as u64)).unwrap()]
    }
}

/// What the box sees, moved on tick by tick; no vehicle, only something that wanders and now and then breaks.
pub struct Wander {
    chance: Chance,
    speed: f64,
    aim: f64,
    pedal: u64,
    gear: f64,
    silent: [u64; 3],
    echo: [bool; 2],
    tap: Option<(Direction, u64)>,
    pub inputs: Inputs,
}

impl Wander {
    pub fn new(hello: &Hello, key: u64, clock_ms: u64) -> Self {
        Self {
            chance: Chance(key),
            speed: 0.0,
            aim: 30.0,
            pedal: 51,
            gear: 2.0,
            silent: [0; 3],
            echo: [false; 2],
            tap: None,
            inputs: boxes::at_rest(hello, clock_ms),
        }
    }

    /// The next tick, after the contacts and the engaged flag of the one before.
    pub fn tick(&mut self, hello: &Hello, tick: u64, last: (Contacts, bool)) -> Vec<Answer> {
        let (own, engaged) = last;
        let chance = &mut self.chance;
        self.inputs.time_ms = self.inputs.time_ms.wrapping_add(u64::from(hello.tick_ms));
        // Slow until engaged: the ceiling is 40 km/h.
        if chance.one_in(if engaged { 700 } else { 200 }) {
            self.aim = chance.below(if engaged { 130 } else { 40 }) as f64;
        }
        // Mostly what brakes and engines can do, once in a while more.
        let most = if chance.one_in(2000) { 30.0 } else { 0.15 };
        self.speed += (self.aim - self.speed).clamp(-2.0 * most, most);
        if chance.one_in(300) {
            self.pedal = chance.of(&[0, 0, 20, 51, 77, 128, 200, 255]);
        }
        let in_gate = self.inputs.lever == Lever::Gate;
        if chance.one_in(if in_gate && engaged { 3000 } else { 200 }) {
            self.inputs.lever =
                if in_gate { chance.of(&[Lever::D, Lever::N, Lever::R, Lever::P]) } else { Lever::Gate };
        }
        if self.inputs.range.is_some() {
            let high = self.inputs.range == Some(Range::High);
            if chance.one_in(if high { 6000 } else { 50 }) {
                self.inputs.range = Some(chance.of(&[Range::High, Range::Transit, Range::Low]));
            }
        }
        if chance.one_in(if self.inputs.ignition { 8000 } else { 50 }) {
            self.inputs.ignition = !self.inputs.ignition;
        }
        if let Some(button) = &mut self.inputs.button {
            *button = chance.one_in(if *button { 2 } else { 150 });
        }
        self.tap = match self.tap {
            Some((_, 0)) => None,
            Some((direction, left)) => Some((direction, left - 1)),
            None => chance.one_in(3000).then(|| (chance.of(&[Direction::Up, Direction::Down]), chance.below(30))),
        };
        // Taps come on their own inputs, or with the box's own contacts of the tick before.
        let shared = hello.tap_wiring == sprag::spec::facts::TapWiring::Shared;
        let level = |direction, closed| (shared && closed) || self.tap.is_some_and(|(tapped, _)| tapped == direction);
        let levels = [level(Direction::Up, own.up), level(Direction::Down, own.down)];
        (self.inputs.tap_up, self.inputs.tap_down) = (levels[0], levels[1]);
        self.inputs.tap_up_edges = u8::from(levels[0] && !self.echo[0]);
        self.inputs.tap_down_edges = u8::from(levels[1] && !self.echo[1]) + u8::from(chance.one_in(20_000));
        self.echo = levels;
        self.answers(hello, tick)
    }

    fn answers(&mut self, hello: &Hello, tick: u64) -> Vec<Answer> {
        let chance = &mut self.chance;
        let mut answers = Vec::new();
        for (at, signal) in [Signal::Speed, Signal::Pedal, Signal::Gear].into_iter().enumerate() {
            if chance.one_in(4000) {
                self.silent[at] = tick + chance.below(200);
            }
            if !hello.signals.contains(&signal) || tick < self.silent[at] || !(tick + 3 * at as u64).is_multiple_of(10)
            {
                continue;
            }
            let value = match signal {
                Signal::Speed => self.speed.floor(),
                Signal::Pedal => self.pedal as f64 * 100.0 / 255.0,
                _ => {
                    if chance.one_in(60) {
                        self.gear = chance.below(7) as f64;
                    }
                    self.gear
                }
            };
            let content = match chance.below(200) {
                0 => Content::Negative(0x12),
                1 => Content::Value(value + 300.0),
                _ => Content::Value(value),
            };
            answers.push(Answer {
                signal,
                content,
                arrival_ms: self.inputs.time_ms.wrapping_sub(chance.below(u64::from(hello.tick_ms))),
            });
        }
        answers
    }
}

/// The contacts of an answer; a request counts as its contact.
pub fn contacts_of(output: &Output) -> Contacts {
    match output.action {
        Action::Contacts(contacts) => contacts,
        Action::Request(direction) => {
            Contacts { up: direction == Some(Direction::Up), down: direction == Some(Direction::Down) }
        }
    }
}
