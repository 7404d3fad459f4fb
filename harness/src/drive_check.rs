//! The bounds of a drive: whatever makes or reads one keeps them, so that nothing downstream meets a number out of
//! range.

use crate::drive::{Condition, Demand, Drive, Event, Happening, LONGEST_MS, Start, Step, When};
use crate::drive_text::{duration_text, scaled_text};
use std::ops::RangeInclusive;

/// Most steps, and most events, of a drive.
pub const MOST_LINES: usize = 10_000;
/// Highest speed, 0.1 km/h.
pub const TOP_SPEED: u16 = 3000;
/// Latest clock at power-up, ms: what a JSON number holds exactly.
pub const LATEST_CLOCK_MS: u64 = 1 << 53;

const MOST_PEDAL: u16 = 1000;
const MOST_BRAKE: u16 = 1200;
const STEEPEST: u16 = 400;
const MOST_OFF: u16 = 500;
const GEARS: RangeInclusive<u8> = 1..=10;
const GRIPS: RangeInclusive<u8> = 5..=120;

/// Whether a drive keeps all bounds.
///
/// # Errors
/// The first bound it doesn't keep, with the number of the step or event.
pub fn check(drive: &Drive) -> Result<(), String> {
    check_start(&drive.start).map_err(|why| format!("start: {why}"))?;
    check_counts(drive)?;
    for (at, step) in drive.steps.iter().enumerate() {
        check_step(step).map_err(|why| format!("step {}: {why}", at + 1))?;
    }
    for (at, event) in drive.events.iter().enumerate() {
        check_event(event).map_err(|why| format!("event {}: {why}", at + 1))?;
    }
    Ok(())
}

/// Whether a drive has steps, and neither too many lines nor too much time.
///
/// # Errors
/// The bound it doesn't keep.
pub fn check_counts(drive: &Drive) -> Result<(), String> {
    if drive.steps.is_empty() {
        return Err("the drive has no step: give it at least one".to_owned());
    }
    for (what, count) in [("steps", drive.steps.len()), ("events", drive.events.len())] {
        if count > MOST_LINES {
            return Err(format!("the drive has {count} {what}: at most {MOST_LINES} are read"));
        }
    }
    let length_ms: u64 = drive.steps.iter().map(|step| u64::from(step.ms)).sum();
    if length_ms > u64::from(LONGEST_MS) {
        return Err(format!("the drive lasts {} s: at most {LONGEST_S} s, a day", length_ms / 1000));
    }
    Ok(())
}

const LONGEST_S: u32 = LONGEST_MS / 1000;

/// Whether a start state is within bounds.
///
/// # Errors
/// The bound it doesn't keep.
pub fn check_start(start: &Start) -> Result<(), String> {
    speed(start.speed)?;
    gear(start.gear)?;
    if start.clock_ms > LATEST_CLOCK_MS {
        return Err(format!("the clock is at {} ms: at most {LATEST_CLOCK_MS}", start.clock_ms));
    }
    if !GRIPS.contains(&start.grip) {
        return Err(format!("the grip is {}: from 0.05 to 1.2", scaled_text(start.grip.into(), 100)));
    }
    Ok(())
}

/// Whether a step is within bounds.
///
/// # Errors
/// The bound it doesn't keep.
pub fn check_step(step: &Step) -> Result<(), String> {
    if step.ms == 0 {
        return Err("it lasts no time: give it at least 1 ms, or leave it out".to_owned());
    }
    time(step.ms)?;
    match step.demand {
        Demand::Pedal(pedal) | Demand::PedalTo(pedal) => most("pedal", pedal, MOST_PEDAL, "%")?,
        Demand::InTurn(first, second, every_ms) => {
            most("pedal", first.max(second), MOST_PEDAL, "%")?;
            turn(every_ms)?;
        }
        Demand::Hold(kept) | Demand::Cruise(kept) => speed(kept)?,
    }
    most("brake", step.brake, MOST_BRAKE, "%")?;
    most("grade", step.grade.unsigned_abs(), STEEPEST, "%")
}

/// Whether an event is within bounds.
///
/// # Errors
/// The bound it doesn't keep.
pub fn check_event(event: &Event) -> Result<(), String> {
    match event.when {
        When::At(ms) => time(ms)?,
        When::After(condition, ms) => {
            time(ms)?;
            match condition {
                Condition::SpeedAbove(kept) | Condition::SpeedBelow(kept) => speed(kept)?,
                Condition::Gear(number) => gear(number)?,
                Condition::Closes(_) | Condition::Opens(_) | Condition::ShiftBegins | Condition::ShiftEnds => {}
            }
        }
    }
    match event.what {
        Happening::Lost(_, ms)
        | Happening::Frozen(_, ms)
        | Happening::Delayed(_, _, ms)
        | Happening::Negative(_, ms)
        | Happening::Garbled(_, _, ms)
        | Happening::Duplicated(_, ms) => time(ms),
        Happening::SecondSpeed(off, ms) => {
            speed(off.unsigned_abs())?;
            time(ms)
        }
        Happening::LeverInTurn(_, _, every_ms, ms) => {
            turn(every_ms)?;
            time(ms)
        }
        Happening::WheelSpin(by, _) => speed(by),
        Happening::SpeedOff(off) => most("speed that reads wrong", off.unsigned_abs(), MOST_OFF, "%"),
        Happening::SelfShift(number) => gear(number),
        Happening::Lever(_)
        | Happening::Tap(..)
        | Happening::Button(_)
        | Happening::Range(_)
        | Happening::Ignition(_)
        | Happening::Engine(_)
        | Happening::Supply(..)
        | Happening::Reset
        | Happening::WheelLock(_)
        | Happening::Refuse(_)
        | Happening::SlowShifts(_)
        | Happening::Swapped(_) => Ok(()),
    }
}

fn speed(kept: u16) -> Result<(), String> {
    most("speed", kept, TOP_SPEED, "km/h")
}

fn most(what: &str, kept: u16, limit: u16, unit: &str) -> Result<(), String> {
    if kept <= limit {
        return Ok(());
    }
    let (kept, limit) = (scaled_text(kept.into(), 10), scaled_text(limit.into(), 10));
    Err(format!("a {what} of {kept} {unit} is out of range: at most {limit} {unit}"))
}

fn gear(number: u8) -> Result<(), String> {
    if GEARS.contains(&number) { Ok(()) } else { Err(format!("there is no gear {number}: from 1 to 10")) }
}

fn turn(every_ms: u16) -> Result<(), String> {
    if every_ms > 0 { Ok(()) } else { Err("in turn every 0 ms is no turn: at least every 1 ms".to_owned()) }
}

fn time(ms: u32) -> Result<(), String> {
    if ms <= LONGEST_MS { Ok(()) } else { Err(format!("{} is too long: at most a day", duration_text(ms))) }
}
