//! Recordings told by small text tables, as our rules and an outside monitor both judge them.
#![expect(clippy::unwrap_used, clippy::missing_panics_doc, reason = "a trace of ours that can't be read ends the test")]

use sprag::recording::{Delivered, Recording, Row, Truth};
use sprag::signal::{Answer, Contacts, Content, Inputs, Lever, Range, Signal};
use sprag::spec::{Spec, load};
use sprag::units::Ms;
use std::path::Path;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

/// Tick of all traces, ms.
pub const TICK_MS: u32 = 20;

/// Columns: time; lever in the gate; speed and pedal if answered in this tick; contacts; engaged.
pub const HEADER: &str = "t_ms,gate,speed_kmh,pedal_pct,up,down,engaged";

/// The van at the traces' tick.
pub fn van() -> Spec {
    let mut van = load(&Path::new(ROOT).join("specs/van.toml")).unwrap();
    van.facts.tick = Ms::new(f64::from(TICK_MS));
    // The formulas know of no time that the box may take to come up.
    van.limits.boot_ready = Ms::new(0.0);
    van
}

/// The recording that a trace's text tells.
pub fn read(text: &str) -> Recording {
    let mut recording = Recording { tick_ms: TICK_MS, ..Recording::default() };
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some(HEADER));
    let mut speed_kmh = 0.0;
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let [t_ms, gate, speed, pedal, up, down, engaged] = cells[..] else { panic!("{line}") };
        let t_ms: u32 = t_ms.parse().unwrap();
        let from = recording.delivered.len();
        for (signal, cell) in [(Signal::Speed, speed), (Signal::Pedal, pedal)] {
            if let Ok(value) = cell.parse() {
                let answer = Answer { signal, content: Content::Value(value), arrival_ms: u64::from(t_ms) };
                recording.delivered.push(Delivered { answer, sampled_ms: t_ms, arrived_ms: t_ms });
                if signal == Signal::Speed {
                    speed_kmh = value;
                }
            }
        }
        let lever = if gate == "1" { Lever::Gate } else { Lever::D };
        let contacts = Contacts { up: up == "1", down: down == "1" };
        let answers = u8::try_from(recording.delivered.len() - from).unwrap();
        recording.rows.push(Row {
            t_ms,
            powered: true,
            restarted: t_ms == 0,
            still: false,
            inputs: at_rest(t_ms, lever),
            answers_from: u32::try_from(from).unwrap(),
            answers,
            steady_ms: 0,
            truth: truth(speed_kmh, lever),
            contacts,
            announcement: None,
            engaged: Some(engaged == "1"),
            counted_gear: None,
        });
    }
    recording
}

fn at_rest(t_ms: u32, lever: Lever) -> Inputs {
    Inputs {
        time_ms: u64::from(t_ms),
        lever,
        range: Some(Range::High),
        ignition: true,
        supply_mv: 12_600,
        button: None,
        tap_up: false,
        tap_down: false,
        tap_up_edges: 0,
        tap_down_edges: 0,
    }
}

fn truth(speed_kmh: f64, lever: Lever) -> Truth {
    Truth {
        speed_kmh,
        accel_mps2: 0.0,
        wheel_kmh: speed_kmh,
        engine_rpm: 1500.0,
        engine_on: true,
        load: 0.0,
        gear: 2,
        target_gear: 2,
        shifting: false,
        lever,
        range: Range::High,
        pedal_pct: 0.0,
        brake_mps2: 0.0,
        grade_pct: 0.0,
        driver_up: false,
        driver_down: false,
    }
}
