//! Other manners that the rules leave open, put over a box that is right: longer waits, filtered wires, taking long to
//! start, lines rounded outward, averages, more suspicion.

use sprag::controller::Controller;
use sprag::controller::hello::Hello;
use sprag::signal::{Answer, Content, Inputs, Output, Signal};
use std::collections::VecDeque;

/// Waits for longer than it must, and keeps its lines in whole km/h, rounded outward.
#[must_use]
pub fn patient(mut hello: Hello) -> Hello {
    hello.conditions_held_ms += 600;
    hello.shift_blind_ms += hello.shift_blind_ms / 2;
    hello.shift_settle_ms += hello.shift_settle_ms / 2;
    hello.opposite_dwell_ms += hello.opposite_dwell_ms / 2;
    hello.plausible_for_ms += hello.plausible_for_ms / 2;
    for line in &mut hello.map.lines {
        let outward = if line.to > line.from { f64::ceil } else { f64::floor };
        line.speed_kmh.iter_mut().for_each(|kmh| *kmh = outward(*kmh));
    }
    hello
}

/// Trusts data for a shorter time and large steps of speed less, and takes a longer excursion for a bounce.
#[must_use]
pub fn wary(mut hello: Hello) -> Hello {
    hello.data_fresh_ms = hello.data_fresh_ms * 4 / 5;
    hello.data_lost_ms = hello.data_lost_ms * 4 / 5;
    hello.lever_bounce_ms += 20;
    hello.standstill_kmh += 1.0;
    hello.fall_limit_kmh_per_s -= 3.0;
    hello.rise_limit_kmh_per_s -= 3.0;
    hello
}

/// Ticks for which what a wire says must stand before it counts: a filter's delay.
const FILTERS: usize = 2;

/// Filters its wires, works with the mean of the last two pedals, and takes long to start.
#[derive(Debug)]
pub struct Dull<B> {
    inner: B,
    starts_ms: u64,
    started: Option<u64>,
    wires: VecDeque<Inputs>,
    pedal_pct: Option<f64>,
    heard: Vec<Answer>,
}

impl<B: Controller> Dull<B> {
    /// Over a box.
    #[must_use]
    pub fn over(inner: B) -> Self {
        Self { inner, starts_ms: 1900, started: None, wires: VecDeque::new(), pedal_pct: None, heard: Vec::new() }
    }

    /// The wires as they were some ticks ago.
    fn filtered(&mut self, now: &Inputs) -> Inputs {
        self.wires.push_back(*now);
        let then = if self.wires.len() > FILTERS { self.wires.pop_front() } else { self.wires.front().copied() };
        Inputs { time_ms: now.time_ms, ..then.unwrap_or(*now) }
    }
}

impl<B: Controller> Controller for Dull<B> {
    fn reset(&mut self) {
        (self.started, self.pedal_pct) = (None, None);
        self.wires.clear();
        self.inner.reset();
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let started = *self.started.get_or_insert(inputs.time_ms);
        if inputs.time_ms.wrapping_sub(started) < self.starts_ms {
            return Output::OPEN;
        }
        let wires = self.filtered(inputs);
        self.heard.clear();
        for answer in answers {
            let mut heard = *answer;
            if let (Signal::Pedal, Content::Value(pct)) = (answer.signal, answer.content)
                && (0.0..=100.0).contains(&pct)
            {
                let before = self.pedal_pct.replace(pct).unwrap_or(pct);
                heard.content = Content::Value((before + pct) / 2.0);
            }
            self.heard.push(heard);
        }
        self.inner.step(&wires, &self.heard)
    }
}
