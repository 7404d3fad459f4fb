//! What recordings are worth: one pinned to the bit, none with leftovers, all within reason, and what half a step moves.

use crate::runs::{at, run, run_at, spec, step};
use sprag::closed_loop::ClosedLoop;
use sprag::controller::Source;
use sprag::controller::in_process::Builtin;
use sprag::digest::sha256_hex;
use sprag::drive::{Condition, Demand, Drive, Event, Happening, Start, Step, When, Which};
use sprag::make::random_drive;
use sprag::recording::{Recording, Row};
use sprag::signal::{Content, Direction, Lever, Range, Signal};
use sprag::vehicle::STEP_MS;

/// Ten minutes with every kind of demand and of happening.
fn long_drive() -> Drive {
    let graded = |ms, demand, grade| Step { grade, ..step(ms, demand) };
    let brake = |ms, brake| Step { brake, ..step(ms, Demand::Pedal(0)) };
    let round = [
        brake(5000, 150),
        step(20_000, Demand::Pedal(350)),
        graded(15_000, Demand::Hold(800), 45),
        step(4000, Demand::PedalTo(1000)),
        step(8000, Demand::Pedal(1000)),
        graded(20_000, Demand::Cruise(1000), -30),
        step(10_000, Demand::PedalTo(0)),
        graded(20_000, Demand::Pedal(0), 20),
        brake(12_000, 250),
        brake(6000, 150),
    ];
    let lever = |ms, to| at(ms, Happening::Lever(to));
    let mut events = vec![lever(2500, Lever::Gate)];
    for turn in 1..5 {
        events.push(lever(turn * 120_000 - 4000, Lever::D));
        events.push(lever(turn * 120_000 + 1000 + turn * 130, Lever::Gate));
    }
    events.extend([
        at(130_000, Happening::Refuse(1)),
        at(141_000, Happening::Delayed(Which::All, 60, 9000)),
        at(152_000, Happening::Duplicated(Which::All, 3000)),
        at(160_000, Happening::Frozen(Which::One(Signal::Pedal), 1200)),
        at(260_000, Happening::WheelSpin(150, 1500)),
        at(275_000, Happening::SecondSpeed(-40, 2000)),
        at(290_000, Happening::SlowShifts(150)),
        at(331_000, Happening::WheelLock(600)),
        at(380_000, Happening::Tap(Direction::Down, 150)),
        at(405_000, Happening::Lost(Which::One(Signal::Speed), 700)),
        at(476_500, Happening::Range(Range::Low)),
        at(478_500, Happening::Range(Range::High)),
        at(500_000, Happening::Negative(Which::One(Signal::Speed), 400)),
        at(520_000, Happening::Supply(4000, 300)),
        at(540_000, Happening::SelfShift(3)),
        Event { when: When::After(Condition::SpeedAbove(900), 200), what: Happening::Lost(Which::All, 1500) },
    ]);
    let steps: Vec<Step> = round.iter().copied().cycle().take(round.len() * 5).collect();
    Drive { start: Start { link_key: 11, clock_ms: u64::from(u32::MAX) - 100_000, ..Start::default() }, steps, events }
}

/// Every number of a recording, floating point by its bits.
fn bytes(recording: &Recording) -> Vec<u8> {
    let mut out = Vec::new();
    let mut put = |number: u64| out.extend_from_slice(&number.to_le_bytes());
    for row in &recording.rows {
        let t = &row.truth;
        let i = &row.inputs;
        for number in
            [t.speed_kmh, t.accel_mps2, t.wheel_kmh, t.engine_rpm, t.load, t.pedal_pct, t.brake_mps2, t.grade_pct]
        {
            put(number.to_bits());
        }
        for (shift, flag) in
            [row.powered, i.ignition, i.tap_up, i.tap_down, t.engine_on, t.shifting, row.contacts.up, row.contacts.down]
                .into_iter()
                .enumerate()
        {
            put(u64::from(flag) << shift);
        }
        for number in
            [t.gear, t.target_gear, t.lever as u8, t.range as u8, row.answers, i.tap_up_edges, i.tap_down_edges]
        {
            put(u64::from(number));
        }
        for number in [row.t_ms, row.answers_from, row.steady_ms, i.supply_mv] {
            put(u64::from(number));
        }
        put(i.time_ms);
        put(row.announcement.map_or(9, |a| a as u64));
        put(row.engaged.map_or(9, u64::from));
        put(row.counted_gear.map_or(99, u64::from));
    }
    for delivered in &recording.delivered {
        put(delivered.answer.signal as u64);
        put(match delivered.answer.content {
            Content::Value(value) => value.to_bits(),
            Content::Negative(code) => u64::from(code),
        });
        put(delivered.answer.arrival_ms);
        put(u64::from(delivered.sampled_ms));
        put(u64::from(delivered.arrived_ms));
    }
    out
}

/// The same constant in debug and in release, with `target-cpu=native` and without, on every machine: that is what it
/// pins. It changes when the vehicle, the link, the driver or the reference change on purpose; then raise their
/// versions and copy the new one.
const DIGEST: &str = "5202a70fbdab3e08326a0215a3967db6d897a7ee398f34adf83ee8530500d0e9";

#[test]
fn ten_minutes_are_the_same_to_the_bit_in_every_build() {
    let van = spec("van");
    let drive = long_drive();
    assert_eq!(drive.length_ms(), 600_000);
    let recording = run(&van, "reference", &drive);
    // A recording in which nothing happens would pin nothing.
    let gears: std::collections::BTreeSet<u8> = recording.rows.iter().map(|row| row.truth.gear).collect();
    assert_eq!(recording.rows.len(), 60_000);
    assert!(gears.len() == 6 && crate::runs::closings(&recording).len() >= 20, "{gears:?}");
    let first = bytes(&recording);
    let again = bytes(&run(&van, "reference", &drive));
    assert!(first == again);
    assert_eq!(sha256_hex(&first), DIGEST);
}

/// A loop that has driven something else before gives the same as a new one: nothing is left over.
#[test]
fn a_loop_that_has_driven_before_is_as_good_as_new() {
    let van = spec("van");
    let drive = long_drive();
    let mut port = Builtin::named("reference").unwrap().start(&van).unwrap();
    let mut used = ClosedLoop::new(&van, STEP_MS);
    for index in 0..20 {
        used.run(&random_drive(&van, 5, index, 20_000), port.as_mut());
    }
    assert!(bytes(used.run(&drive, port.as_mut())) == bytes(&run(&van, "reference", &drive)));
}

/// Random drives with every fault of link, supply and wheels, on both vehicles: numbers stay numbers and within what
/// vehicles do, and time goes on tick by tick.
#[test]
fn random_drives_stay_within_reason() {
    for name in ["van", "hatch"] {
        let spec = spec(name);
        let mut port = Builtin::named("reference").unwrap().start(&spec).unwrap();
        let mut looped = ClosedLoop::new(&spec, STEP_MS);
        for index in 0..100 {
            let drive = random_drive(&spec, 9, index, 60_000);
            let recording = looped.run(&drive, port.as_mut());
            assert_eq!(recording.rows.len(), (drive.length_ms() as usize).div_ceil(recording.tick_ms as usize));
            for (at, row) in recording.rows.iter().enumerate() {
                let t = &row.truth;
                let within = (-100.0..300.0).contains(&t.speed_kmh)
                    && (-25.0..25.0).contains(&t.accel_mps2)
                    && (0.0..12_000.0).contains(&t.engine_rpm)
                    && (0.0..=1.0).contains(&t.load)
                    && (0.0..=100.0).contains(&t.pedal_pct)
                    && (1..=6).contains(&t.gear);
                assert!(within && row.t_ms == at as u32 * recording.tick_ms, "{name}, {index}: {row:?}");
            }
        }
    }
}

/// Random drives with a box that does nothing, at whole and at half step. With `--nocapture` it prints what it measures.
///
/// A shift of the gearbox's own begins on the step grid, so in a few drives it comes a step sooner or later: that is why a
/// failing moment is confirmed at half the step. Of 200 drives of 60 s each, at 5 ms 2 of the van and 7 of the hatch move
/// by more than 0.05 km/h (0.05 and 0.27 at most), at 2 ms none and 1.
#[test]
fn halving_the_step_hardly_moves_random_drives() {
    for (name, step_ms) in
        [("van", STEP_MS), ("van", 2.0), ("van", 1.0), ("hatch", STEP_MS), ("hatch", 2.0), ("hatch", 1.0)]
    {
        let spec = spec(name);
        let mut moved: Vec<f64> = (0..100)
            .map(|index| {
                let drive = random_drive(&spec, 3, index, 60_000);
                let [whole, half] = [1.0, 0.5].map(|part| run_at(&spec, "does-nothing", &drive, part * step_ms));
                let apart = |(a, b): (&Row, &Row)| (a.truth.speed_kmh - b.truth.speed_kmh).abs();
                whole.rows.iter().zip(&half.rows).map(apart).fold(0.0, f64::max)
            })
            .collect();
        moved.sort_by(f64::total_cmp);
        let beyond = moved.iter().filter(|kmh| **kmh >= 0.05).count();
        let (median, most) = (moved[50], moved[99]);
        println!("{name}, {step_ms} ms: median {median:.4} km/h, {beyond} of 100 beyond 0.05, most {most:.4}");
        // One drive in twenty at most.
        assert!(median < 0.03 && beyond <= 5, "{name}, {step_ms} ms: {moved:?}");
    }
}
