//! Step-halving: what the choice of `STEP_MS` rests on. With `--nocapture` the test prints what it measures.

use super::test_van::van;
use super::tests::{gate, pedal};
use super::*;
use crate::signal::Direction;

/// A drive: start, and controls over the time (ms) and the speed (km/h) of the tick before.
type Drive = (&'static str, Start, fn(u32, f64) -> Controls);

/// Tap for 80 ms at each of these times.
fn taps(t: u32, direction: Direction, at: &[u32]) -> Contacts {
    let closed = at.iter().any(|&from| (from..from + 80).contains(&t));
    Contacts { up: closed && direction == Direction::Up, down: closed && direction == Direction::Down }
}

/// A driver who holds a speed in proportion to what is missing.
fn hold(kmh: f64, target: f64) -> f64 {
    (25.0 + 8.0 * (target - kmh)).clamp(0.0, 100.0)
}

const DRIVES: [Drive; 9] = [
    ("full pedal in D", Start { speed: 0, gear: 1, lever: Lever::D, ..REST }, |_, _| pedal(100.0)),
    ("full pedal by taps", Start { speed: 0, gear: 2, lever: Lever::Gate, ..REST }, |t, _| Controls {
        contacts: taps(t, Direction::Up, &[6200, 13_000, 22_000, 40_000]),
        ..gate(100.0)
    }),
    ("coast", Start { speed: 1000, gear: 6, lever: Lever::Gate, ..REST }, |t, _| Controls {
        contacts: taps(t, Direction::Down, &[20_000, 27_000, 34_000, 40_000]),
        ..gate(0.0)
    }),
    ("coast and brake to a stop", Start { speed: 1000, gear: 6, lever: Lever::Gate, ..REST }, |t, _| Controls {
        brake_mps2: if t > 5000 { 2.0 } else { 0.0 },
        ..gate(0.0)
    }),
    ("hold 60 km/h up and down", Start { speed: 500, gear: 4, lever: Lever::Gate, ..REST }, |t, v| Controls {
        grade_pct: if t / 10_000 % 2 == 1 { 6.0 } else { -2.0 },
        ..gate(hold(v, 60.0))
    }),
    ("hold 60 km/h in D", Start { speed: 500, gear: 4, lever: Lever::D, ..REST }, |t, v| Controls {
        grade_pct: if t / 10_000 % 2 == 1 { 6.0 } else { -2.0 },
        ..pedal(hold(v, 60.0))
    }),
    ("stab and lift", Start { speed: 400, gear: 3, lever: Lever::Gate, ..REST }, |t, _| {
        gate(if t / 1000 % 2 == 0 { 100.0 } else { 0.0 })
    }),
    ("low range", Start { speed: 0, gear: 2, lever: Lever::Gate, range: Range::Low, ..REST }, |t, _| Controls {
        range: Range::Low,
        brake_mps2: if t > 30_000 { 1.0 } else { 0.0 },
        contacts: taps(t, Direction::Up, &[6000, 12_000]),
        ..gate(if t < 25_000 { 60.0 } else { 0.0 })
    }),
    ("roll back and pull away", Start { speed: 0, gear: 1, lever: Lever::D, ..REST }, |t, _| Controls {
        grade_pct: 15.0,
        lever: if t < 3000 { Lever::N } else { Lever::D },
        brake_mps2: if t < 20_000 { 0.0 } else { 1.0 },
        ..pedal(if (4000..20_000).contains(&t) { 70.0 } else { 0.0 })
    }),
];

const REST: Start = Start {
    speed: 0,
    gear: 1,
    lever: Lever::D,
    range: Range::High,
    clock_ms: 0,
    poll_phase_ms: 0,
    link_key: 0,
    grip: 90,
};

/// Greatest change of speed (km/h) over 60 s when the step is halved.
fn moved_by_halving(spec: &Spec, (_, start, controls): &Drive, step_ms: f64) -> f64 {
    let mut whole = Vehicle::new(spec, start, step_ms);
    let mut half = Vehicle::new(spec, start, 0.5 * step_ms);
    let (mut whole_kmh, mut half_kmh, mut most) = (0.0, 0.0, 0.0_f64);
    for t in (0..60_000).step_by(10) {
        for (vehicle, kmh) in [(&mut whole, &mut whole_kmh), (&mut half, &mut half_kmh)] {
            let now = controls(t, *kmh);
            vehicle.run(&now, 10.0);
            *kmh = vehicle.truth(&now).speed_kmh;
        }
        most = most.max((whole_kmh - half_kmh).abs());
    }
    most
}

/// Half the van's mass, torque and inertia: a second plant, so that the step doesn't fit one only.
fn light() -> Spec {
    let mut spec = van();
    let vehicle = &mut spec.vehicle;
    vehicle.mass.value.0 *= 0.5;
    vehicle.wheel_inertia.value.0 *= 0.5;
    vehicle.drag_area.value.0 *= 0.5;
    vehicle.engine.inertia.value.0 *= 0.4;
    vehicle.engine.drag.value.0 *= 0.5;
    vehicle.engine.drag_per_1000rpm.value.0 *= 0.5;
    for point in &mut vehicle.engine.full_load {
        point.torque.0 *= 0.5;
    }
    for point in &mut vehicle.converter.capacity {
        point.k.0 *= 1.4;
    }
    spec
}

#[test]
fn halving_the_step_moves_no_speed_by_more_than_a_twentieth_of_a_kmh() {
    for (name, spec) in [("van", van()), ("light", light())] {
        for drive in &DRIVES {
            for step_ms in [STEP_MS, 5.0, 2.0] {
                let moved = moved_by_halving(&spec, drive, step_ms);
                println!("{name}, {}, {step_ms} ms: {moved:.4} km/h", drive.0);
                assert!(moved < 0.05, "{name}, {}, {step_ms} ms: {moved} km/h", drive.0);
            }
        }
    }
}
