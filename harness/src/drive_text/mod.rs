//! A drive as a test driver would say it, one line per step or event, exact on the tick grid: what is printed reads
//! back the same.

mod number;
mod read;
#[cfg(test)]
mod tests;

use crate::drive::{Beyond, Condition, Demand, Drive, Event, Happening, Start, Step, When, Which};
use crate::signal::{Direction, Lever, Range, Signal};
pub use number::{GRIP, SPEED, Scale, TIME, duration_text, scaled_text};
pub use read::{parse_event, parse_lever, parse_range, parse_step};

/// Where things stand at the start: "20 km/h, gear 2, lever D"; what is as usual stays unsaid.
#[must_use]
pub fn start_text(start: &Start) -> String {
    let usual = Start::default();
    let mut text = format!("{} km/h, gear {}, lever {}", tenths(start.speed), start.gear, lever_text(start.lever));
    if start.range != usual.range {
        text.push_str(&format!(", range {}", range_text(start.range)));
    }
    if start.grip != usual.grip {
        text.push_str(&format!(", grip {}", scaled_text(start.grip.into(), 100)));
    }
    if start.clock_ms != usual.clock_ms {
        text.push_str(&format!(", clock at {} ms", start.clock_ms));
    }
    if start.poll_phase_ms != usual.poll_phase_ms {
        text.push_str(&format!(", first request after {}", duration_text(start.poll_phase_ms.into())));
    }
    if start.link_key != usual.link_key {
        text.push_str(&format!(", link key {:#x}", start.link_key));
    }
    text
}

/// A step: "3 s: pedal to 100 %, brake 20 %, grade 6 %".
#[must_use]
pub fn step_text(step: &Step) -> String {
    let demand = match step.demand {
        Demand::Pedal(pedal) => format!("pedal {} %", tenths(pedal)),
        Demand::PedalTo(pedal) => format!("pedal to {} %", tenths(pedal)),
        Demand::InTurn(first, second, every_ms) => {
            format!(
                "pedal {} % and {} % in turn every {}",
                tenths(first),
                tenths(second),
                duration_text(every_ms.into())
            )
        }
        Demand::Hold(speed) => format!("hold {} km/h", tenths(speed)),
        Demand::Cruise(speed) => format!("cruise {} km/h", tenths(speed)),
    };
    let mut text = format!("{}: {demand}", duration_text(step.ms));
    if step.brake != 0 {
        text.push_str(&format!(", brake {} %", tenths(step.brake)));
    }
    if step.grade != 0 {
        text.push_str(&format!(", grade {} %", tenths(step.grade)));
    }
    text
}

/// An event: "200 ms after speed above 50 km/h: tap down for 100 ms".
#[must_use]
pub fn event_text(event: &Event) -> String {
    format!("{}: {}", when_text(event.when), happening_text(event.what))
}

/// All lines of a drive: the start, the steps, the events.
#[must_use]
pub fn lines(drive: &Drive) -> Vec<String> {
    let mut lines = vec![format!("start: {}", start_text(&drive.start))];
    lines.extend(drive.steps.iter().map(step_text));
    lines.extend(drive.events.iter().map(event_text));
    lines
}

/// When an event comes: "at 1.5 s", "200 ms after gear 3", "at once after up closes".
#[must_use]
pub fn when_text(when: When) -> String {
    match when {
        When::At(ms) => format!("at {}", duration_text(ms)),
        When::After(condition, 0) => format!("at once after {}", condition_text(condition)),
        When::After(condition, ms) => format!("{} after {}", duration_text(ms), condition_text(condition)),
    }
}

/// A condition: "speed above 50 km/h", "down opens".
#[must_use]
pub fn condition_text(condition: Condition) -> String {
    match condition {
        Condition::SpeedAbove(speed) => format!("speed above {} km/h", tenths(speed)),
        Condition::SpeedBelow(speed) => format!("speed below {} km/h", tenths(speed)),
        Condition::Gear(gear) => format!("gear {gear}"),
        Condition::Closes(direction) => format!("{} closes", direction_text(direction)),
        Condition::Opens(direction) => format!("{} opens", direction_text(direction)),
        Condition::ShiftBegins => "shift begins".to_owned(),
        Condition::ShiftEnds => "shift ends".to_owned(),
    }
}

/// What happens: "lose speed for 1.5 s".
#[must_use]
pub fn happening_text(what: Happening) -> String {
    let long = duration_text;
    match what {
        Happening::Lever(lever) => format!("lever {}", lever_text(lever)),
        Happening::LeverInTurn(first, second, every_ms, ms) => format!(
            "lever {} and {} in turn every {} for {}",
            lever_text(first),
            lever_text(second),
            long(every_ms.into()),
            long(ms)
        ),
        Happening::Tap(direction, ms) => format!("tap {} for {}", direction_text(direction), long(ms.into())),
        Happening::Button(ms) => format!("button for {}", long(ms.into())),
        Happening::Range(range) => format!("range {}", range_text(range)),
        Happening::Ignition(on) => format!("ignition {}", if on { "on" } else { "off" }),
        Happening::Engine(on) => format!("engine {}", if on { "starts" } else { "stalls" }),
        Happening::Supply(mv, ms) => format!("supply {} V for {}", scaled_text(mv.into(), 1000), long(ms.into())),
        Happening::Reset => "reset".to_owned(),
        Happening::Lost(which, ms) => format!("lose {} for {}", which_text(which), long(ms)),
        Happening::Frozen(which, ms) => format!("freeze {} for {}", which_text(which), long(ms)),
        Happening::Delayed(which, by, ms) => {
            format!("delay {} by {} for {}", which_text(which), long(by.into()), long(ms))
        }
        Happening::Negative(which, ms) => format!("negative answers to {} for {}", which_text(which), long(ms)),
        Happening::Garbled(which, beyond, ms) => {
            let side = if beyond == Beyond::Above { "above" } else { "below" };
            format!("answers to {} {side} range for {}", which_text(which), long(ms))
        }
        Happening::Duplicated(which, ms) => format!("double answers to {} for {}", which_text(which), long(ms)),
        Happening::SecondSpeed(off, ms) => {
            let sign = if off > 0 { "+" } else { "" };
            format!("second responder off by {sign}{} km/h for {}", scaled_text(off.into(), 10), long(ms))
        }
        Happening::WheelLock(ms) => format!("wheels lock for {}", long(ms.into())),
        Happening::WheelSpin(by, ms) => format!("wheels spin by {} km/h for {}", tenths(by), long(ms.into())),
        Happening::Refuse(1) => "gearbox refuses 1 tap".to_owned(),
        Happening::Refuse(taps) => format!("gearbox refuses {taps} taps"),
        Happening::SlowShifts(ms) => format!("shifts take {} longer", long(ms.into())),
        Happening::SelfShift(gear) => format!("gearbox shifts to {gear} by itself"),
        Happening::SpeedOff(0) => "speed reads right".to_owned(),
        Happening::SpeedOff(off) => {
            let side = if off > 0 { "high" } else { "low" };
            format!("speed reads {} % too {side}", scaled_text(off.unsigned_abs().into(), 10))
        }
        Happening::Swapped(true) => "gearbox takes taps the other way round".to_owned(),
        Happening::Swapped(false) => "gearbox takes taps the right way".to_owned(),
    }
}

/// The lever's position as it stands on the lever.
#[must_use]
pub fn lever_text(lever: Lever) -> &'static str {
    match lever {
        Lever::P => "P",
        Lever::R => "R",
        Lever::N => "N",
        Lever::D => "D",
        Lever::Gate => "gate",
    }
}

/// The range.
#[must_use]
pub fn range_text(range: Range) -> &'static str {
    match range {
        Range::High => "high",
        Range::Transit => "transit",
        Range::Low => "low",
    }
}

/// Up or down.
#[must_use]
pub fn direction_text(direction: Direction) -> &'static str {
    match direction {
        Direction::Up => "up",
        Direction::Down => "down",
    }
}

/// The signals a link fault touches.
#[must_use]
pub fn which_text(which: Which) -> &'static str {
    match which {
        Which::One(Signal::Speed) => "speed",
        Which::One(Signal::Pedal) => "pedal",
        Which::One(Signal::EngineSpeed) => "engine speed",
        Which::One(Signal::Gear) => "gear",
        Which::All => "all signals",
    }
}

/// A number kept in tenths.
fn tenths(value: impl Into<i64>) -> String {
    scaled_text(value.into(), 10)
}
