//! A whole box in a few lines, for the tests of this folder.

use crate::controller::Controller;
use crate::signal::{Action, Answer, Contacts, Content, Inputs, Lever, Output, Signal};
use crate::spec::Spec;
use crate::spec::map::ShiftMap;

/// It engages when the lever comes into the gate below 40 km/h, looks the map up, and shifts
/// `delay_ms` after the arrival of the first speed that makes a shift due. The speed it looks at follows the one read
/// with a time constant.
#[derive(Debug, Clone)]
pub struct Tiny {
    map: ShiftMap,
    pub delay_ms: u64,
    pub constant_ms: f64,
    pub shows: bool,
    pub mute: bool,
    pub swapped: bool,
    state: TinyState,
}

#[derive(Debug, Clone, Copy, Default)]
struct TinyState {
    was_out: bool,
    engaged: bool,
    gear: u8,
    speed: Option<f64>,
    smooth: f64,
    pedal: Option<f64>,
    due: Option<(bool, u64)>,
    pulse: Option<(bool, u64)>,
}

impl Tiny {
    pub fn new(spec: &Spec) -> Self {
        let state = TinyState { gear: 2, ..TinyState::default() };
        let map = spec.map.clone();
        Self { map, delay_ms: 0, constant_ms: 0.0, shows: true, mute: false, swapped: false, state }
    }
}

impl Controller for Tiny {
    fn reset(&mut self) {
        self.state = TinyState { gear: 2, ..TinyState::default() };
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let s = &mut self.state;
        let mut arrival_ms = inputs.time_ms;
        for answer in answers {
            match (answer.signal, answer.content) {
                (Signal::Speed, Content::Value(kmh)) => (s.speed, arrival_ms) = (Some(kmh), answer.arrival_ms),
                (Signal::Pedal, Content::Value(pct)) => s.pedal = Some(pct),
                _ => {}
            }
        }
        let in_gate = inputs.lever == Lever::Gate;
        let (Some(speed), Some(pedal)) = (s.speed, s.pedal) else {
            s.was_out = !in_gate;
            return Output::OPEN;
        };
        s.engaged |= in_gate && s.was_out && speed <= 40.0;
        s.was_out = !in_gate;
        s.smooth =
            if self.constant_ms == 0.0 { speed } else { s.smooth + (speed - s.smooth) * 10.0 / self.constant_ms };
        let up = self.map.up_kmh(s.gear, pedal).is_some_and(|line| s.smooth >= line);
        let down = s.gear > 2 && self.map.down_kmh(s.gear, pedal).is_some_and(|line| s.smooth <= line);
        let since = |pulse: Option<(bool, u64)>| pulse.map_or(u64::MAX, |(_, at)| inputs.time_ms - at);
        if !(up || down) || !s.engaged || since(s.pulse) < 2500 {
            s.due = None;
        } else if s.due.is_none_or(|(way, _)| way != up) {
            s.due = Some((up, arrival_ms));
        }
        if let Some((up, at)) = s.due
            && inputs.time_ms - at >= self.delay_ms
        {
            s.gear = if up { s.gear + 1 } else { s.gear - 1 };
            s.pulse = Some((up, inputs.time_ms));
            s.due = None;
        }
        let closed =
            |up: bool| !self.mute && since(s.pulse) < 120 && s.pulse.is_some_and(|p| (p.0 != self.swapped) == up);
        Output {
            action: Action::Contacts(Contacts { up: closed(true), down: closed(false) }),
            engaged: self.shows.then_some(s.engaged),
            ..Output::OPEN
        }
    }
}
