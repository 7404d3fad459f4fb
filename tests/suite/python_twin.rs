//! The reference and its twin in Python get the same pseudo-random ticks and must decide the same in each.
//! Two programs written apart from one description seldom have the same mistake.

use crate::boxes;
use sprag::controller::hello::Hello;
use sprag::controller::process::Program;
use sprag::controller::reference::Reference;
use sprag::controller::{Controller, Port};
use sprag::signal::{Action, Answer, Contacts, Content, Direction, Inputs, Lever, Range, Signal};

/// A small generator of pseudo-random numbers (Marsaglia's xorshift).
struct Chance(u64);

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
struct Wander {
    chance: Chance,
    speed: f64,
    aim: f64,
    pedal: u64,
    gear: f64,
    silent: [u64; 3],
    echo: [bool; 2],
    tap: Option<(Direction, u64)>,
    inputs: Inputs,
}

impl Wander {
    fn tick(&mut self, hello: &Hello, tick: u64, last: (Contacts, bool)) -> Vec<Answer> {
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

/// Drives both for a number of ticks; gives back how many commands and engagements were compared.
fn compare(hello: &Hello, key: u64, clock_ms: u64, ticks: u64) -> Option<(u32, u32)> {
    let program = Program::named(&boxes::script("reference.py")?).unwrap();
    let mut twin = program.launch(hello).unwrap();
    let mut reference = Reference::new(hello.clone(), None);
    let mut wander = Wander {
        chance: Chance(key),
        speed: 0.0,
        aim: 30.0,
        pedal: 51,
        gear: 2.0,
        silent: [0; 3],
        echo: [false; 2],
        tap: None,
        inputs: boxes::at_rest(hello, clock_ms),
    };
    let (mut commands, mut engagements) = (0, 0);
    let mut last = (Contacts::default(), false);
    twin.reset().unwrap();
    for tick in 0..ticks {
        if tick == ticks / 2 {
            twin.reset().unwrap();
            reference.reset();
        }
        let answers = wander.tick(hello, tick, last);
        let expected = reference.step(&wander.inputs, &answers);
        let got = twin.step(&wander.inputs, &answers).unwrap();
        assert_eq!(got, expected, "tick {tick}: {:?} {answers:?} {reference:?}", wander.inputs);
        let contacts = match got.action {
            Action::Contacts(contacts) => contacts,
            Action::Request(direction) => {
                Contacts { up: direction == Some(Direction::Up), down: direction == Some(Direction::Down) }
            }
        };
        commands += u32::from((contacts.up && !last.0.up) || (contacts.down && !last.0.down));
        engagements += u32::from(got.engaged == Some(true) && !last.1);
        last = (contacts, got.engaged == Some(true));
    }
    Some((commands, engagements))
}

#[test]
fn the_twin_decides_the_same_tick_for_tick() {
    let kinds = [
        ("plain", boxes::plain(), 5000),
        ("reads gear", boxes::reads_gear(), u64::MAX - 70_000),
        ("button", boxes::has_button(), 0),
    ];
    for (name, hello, clock_ms) in kinds {
        let (mut commands, mut engagements) = (0, 0);
        for key in [1, 77, 4242] {
            let Some(counts) = compare(&hello, key, clock_ms, 15_000) else { return };
            (commands, engagements) = (commands + counts.0, engagements + counts.1);
        }
        println!("{name}: {commands} commands, {engagements} engagements alike");
        // A wander in which next to nothing happens would compare nothing.
        assert!(commands >= 30 && engagements >= 10, "{name}: {commands} commands, {engagements} engagements");
    }
}
