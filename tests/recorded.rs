//! One long recording, pinned to the bit.

use sprag::drive::{Condition, Demand, Drive, Event, Happening, Start, Step, When, Which};
use sprag::recording::Recording;
use sprag::signal::{Content, Direction, Lever, Range, Signal};

/// A step on the level with no brake.
#[must_use]
pub fn step(ms: u32, demand: Demand) -> Step {
    Step { ms, demand, brake: 0, grade: 0 }
}

/// Something at a time.
#[must_use]
pub fn at(ms: u32, what: Happening) -> Event {
    Event { when: When::At(ms), what }
}

/// Ten minutes with every kind of demand and of happening.
#[must_use]
pub fn long_drive() -> Drive {
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
#[must_use]
pub fn bytes(recording: &Recording) -> Vec<u8> {
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
pub const DIGEST: &str = "fa8cfe4b4bd93693a0ef179f232db9d342fe6bf41cdced6a0ec39895ea1380fb";
