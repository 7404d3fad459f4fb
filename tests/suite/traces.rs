//! Traces of what a box read and did, as small text tables: what our rules and an outside monitor both judge.

use crate::runs::{at, engaged_at_rest, run, step};
use sprag::drive::{Demand, Drive, Happening, Start};
use sprag::recording::{Delivered, Recording, Row};
use sprag::signal::{Answer, Content, Lever, Signal};
use sprag::spec::Spec;
use sprag::units::Kmh;
pub use sprag_tests::traced::{HEADER, TICK_MS, read, van};
use std::fmt::Write;

/// A trace as its text.
pub fn text(recording: &Recording) -> String {
    let mut out = format!("{HEADER}\n");
    for row in &recording.rows {
        let last = |signal| {
            recording.answers_of(row).iter().rev().find_map(|d| match d.answer.content {
                Content::Value(value) if d.answer.signal == signal => Some(value.to_string()),
                _ => None,
            })
        };
        let gate = u8::from(row.inputs.lever == Lever::Gate);
        let (speed, pedal) = (last(Signal::Speed).unwrap_or_default(), last(Signal::Pedal).unwrap_or_default());
        let (up, down) = (u8::from(row.contacts.up), u8::from(row.contacts.down));
        let engaged = u8::from(row.engaged == Some(true));
        writeln!(out, "{},{gate},{speed},{pedal},{up},{down},{engaged}", row.t_ms).unwrap();
    }
    out
}

/// A box that taps at random, at least this far apart, at a steady 38 km/h; it engages at this time.
fn taps_at_random(least_ms: u32, engages_ms: u32) -> String {
    let mut state = 20_261_125_u32;
    let mut below = move |bound: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) % bound
    };
    let mut out = format!("{HEADER}\n");
    let (mut gear, mut next_ms, mut closed) = (2_u8, 4000, None);
    for t_ms in (0..60_000).step_by(TICK_MS as usize) {
        let (gate, engaged) = (u8::from(t_ms >= 1000), u8::from(t_ms >= engages_ms));
        let answers = if t_ms % 100 == 0 { "38,20" } else { "," };
        if t_ms == next_ms {
            let up = gear == 2 || (gear < 6 && below(2) == 0);
            closed = Some((up, t_ms));
            next_ms += least_ms + below(120) * TICK_MS;
        }
        let is = |way: bool| u8::from(closed.is_some_and(|(up, from)| up == way && t_ms < from + 120));
        writeln!(out, "{t_ms},{gate},{answers},{},{},{engaged}", is(true), is(false)).unwrap();
        if let Some((up, _)) = closed.filter(|(_, from)| t_ms == from + 120) {
            gear = if up { gear + 1 } else { gear - 1 };
            closed = None;
        }
    }
    out
}

/// A box that closes its contacts as it likes: long, at last also too short for a tap, at once again and late, past both
/// ends of the gears, on a port that falls silent for a while now and then. From 38 km/h, at which it engages, on to this
/// speed.
fn wild(seed: u32, kmh: u32, pedal_pct: u32) -> String {
    let mut state = seed;
    let mut below = move |bound: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) % bound
    };
    let mut out = format!("{HEADER}\n");
    let (mut closed, mut next_ms, mut silent) = (None, 9000, 0);
    for t_ms in (0..60_000).step_by(TICK_MS as usize) {
        let mut answers = ",".to_owned();
        if t_ms % 100 == 0 {
            if silent == 0 {
                // 10 km/h a second.
                let now_kmh = kmh.min(38 + u32::saturating_sub(t_ms, 2000) / 100);
                answers = format!("{now_kmh},{pedal_pct}");
            }
            silent = if silent > 0 {
                silent - 1
            } else if t_ms > 8000 && below(12) == 0 {
                below(8)
            } else {
                0
            };
        }
        if t_ms == next_ms && t_ms < 58_000 {
            // After a pulse too short nobody knows the gear.
            let least = if t_ms < 45_000 { 3 } else { 1 };
            let (up, ms) = (below(2) == 0, TICK_MS * (least + below(12)));
            closed = Some((up, t_ms, t_ms + ms));
            next_ms += ms + TICK_MS * (1 + below(60));
        }
        let is = |way: bool| u8::from(closed.is_some_and(|(up, from, to)| up == way && (from..to).contains(&t_ms)));
        let (gate, engaged) = (u8::from(t_ms >= 1000), u8::from(t_ms >= 1500));
        writeln!(out, "{t_ms},{gate},{answers},{},{},{engaged}", is(true), is(false)).unwrap();
    }
    out
}

/// Up lines far too low for light pedals.
fn early(mut spec: Spec) -> Spec {
    for line in spec.map.lines.iter_mut().filter(|line| line.to > line.from) {
        for speed in line.speeds.iter_mut().take(4) {
            *speed = Kmh(speed.0 - 9.0);
        }
    }
    spec
}

/// All traces by name, made afresh.
pub fn fresh() -> Vec<(&'static str, String)> {
    let pull = engaged_at_rest(&[
        step(10_000, Demand::Pedal(600)),
        step(6000, Demand::Pedal(150)),
        step(6000, Demand::Pedal(1000)),
        step(20_000, Demand::Pedal(0)),
    ]);
    let light = engaged_at_rest(&[step(30_000, Demand::Pedal(250)), step(10_000, Demand::Pedal(0))]);
    let stab = engaged_at_rest(&[step(35_000, Demand::Hold(1500)), step(6000, Demand::Pedal(1000))]);
    let mut fast = Drive {
        start: Start { speed: 520, gear: 4, ..Start::default() },
        steps: vec![step(12_000, Demand::Hold(520))],
        events: vec![at(2000, Happening::Lever(Lever::Gate))],
    };
    fast.steps.push(step(4000, Demand::Pedal(0)));
    vec![
        ("pull", text(&run(&van(), "reference", &pull))),
        ("early", text(&run(&early(van()), "reference", &light))),
        ("kickdown", text(&run(&van(), "blind-kickdown", &stab))),
        ("fast", text(&run(&van(), "ceiling-in-mph", &fast))),
        ("taps", taps_at_random(1400, 2640)),
        ("calm-taps", taps_at_random(2000, 1500)),
        ("wild-slow", wild(1, 38, 20)),
        ("wild-light", wild(2, 60, 10)),
        ("wild-fast", wild(3, 90, 5)),
    ]
}

/// The same recording with gear answers at these times.
pub fn with_gears(recording: Recording, gears: &[(u32, u8)]) -> Recording {
    let mut told = Recording { tick_ms: recording.tick_ms, ..Recording::default() };
    for row in &recording.rows {
        let from = told.delivered.len();
        told.delivered.extend(recording.answers_of(row).iter().copied());
        for (t_ms, gear) in gears.iter().filter(|(t_ms, _)| *t_ms == row.t_ms) {
            let content = Content::Value(f64::from(*gear));
            let answer = Answer { signal: Signal::Gear, content, arrival_ms: u64::from(*t_ms) };
            told.delivered.push(Delivered { answer, sampled_ms: *t_ms, arrived_ms: *t_ms });
        }
        let answers = u8::try_from(told.delivered.len() - from).unwrap();
        told.rows.push(Row { answers_from: u32::try_from(from).unwrap(), answers, ..*row });
    }
    told
}
