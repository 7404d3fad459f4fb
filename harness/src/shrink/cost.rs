//! Which of two failing drives is the smaller one: fewer steps and events; then what is plainer to say; then what fails
//! sooner; then one fixed order, so that different drives end in the same one.

use super::places::{Kind, Place};
use crate::drive::{Condition, Demand, Drive, Event, Happening, Start, When, Which};
use crate::signal::{Lever, Range};

/// What a drive costs to read and to run.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost {
    /// Size, then how much there is to say beyond the plainest.
    pub class: Class,
    /// When it fails, in tenths of a second, so that a tick decides nothing.
    tenths: u32,
    length_ms: u32,
    drive: Drive,
}

/// Steps and events, then how far their words and numbers are from the plainest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Class {
    /// Steps and events.
    pub size: usize,
    /// See [`oddness`].
    pub odd: u32,
}

/// The class of a drive.
#[must_use]
pub fn class(drive: &Drive) -> Class {
    Class { size: drive.size(), odd: oddness(drive) }
}

/// What a drive costs that fails at a time.
#[must_use]
pub fn cost(drive: &Drive, failed_ms: u32) -> Cost {
    Cost { class: class(drive), tenths: failed_ms / 100, length_ms: drive.length_ms(), drive: drive.clone() }
}

/// How far a drive is from the plainest of its size: words and numbers that need saying. The length of the last step
/// doesn't count: it ends where the drive has failed.
#[must_use]
pub fn oddness(drive: &Drive) -> u32 {
    let last = drive.steps.len().saturating_sub(1);
    let numbers: u32 = Place::all(drive)
        .into_iter()
        .filter(|place| *place != Place::StepMs(last))
        .map(|place| odd_number(place, place.get(drive).unwrap_or(0)))
        .sum();
    let demands: u32 = drive
        .steps
        .iter()
        .map(|step| match step.demand {
            Demand::Pedal(_) => 0,
            Demand::Hold(_) => 1,
            Demand::PedalTo(_) | Demand::Cruise(_) | Demand::InTurn(..) => 2,
        })
        .sum();
    numbers + demands + odd_start(&drive.start) + drive.events.iter().map(odd_event).sum::<u32>()
}

fn odd_start(start: &Start) -> u32 {
    let usual = Start::default();
    let more = |odd: bool| if odd { 4 } else { 0 };
    more(start.grip != usual.grip)
        + more(start.range != usual.range)
        + more(start.clock_ms != usual.clock_ms)
        + more(start.link_key != usual.link_key)
        + if start.poll_phase_ms == 0 { 0 } else { 2 + u32::from(!start.poll_phase_ms.is_multiple_of(10)) }
        + if start.lever == usual.lever { 0 } else { 2 }
}

fn odd_event(event: &Event) -> u32 {
    let when = match event.when {
        When::At(_) => 0,
        When::After(Condition::SpeedAbove(kmh) | Condition::SpeedBelow(kmh), _) => 3 + odd_speed(kmh.into()),
        When::After(..) => 3,
    };
    let which = |which| if which == Which::All { 0 } else { 1 };
    when + match event.what {
        Happening::Lost(signals, _) => which(signals),
        Happening::Frozen(signals, _)
        | Happening::Delayed(signals, ..)
        | Happening::Negative(signals, _)
        | Happening::Garbled(signals, ..)
        | Happening::Duplicated(signals, _) => 1 + which(signals),
        Happening::Lever(Lever::Gate | Lever::D)
        | Happening::Range(Range::High | Range::Low)
        | Happening::Refuse(1) => 0,
        Happening::Lever(_) | Happening::Range(Range::Transit) | Happening::Refuse(_) | Happening::Supply(..) => 1,
        Happening::Tap(..)
        | Happening::LeverInTurn(..)
        | Happening::Button(_)
        | Happening::Ignition(_)
        | Happening::Engine(_)
        | Happening::Reset
        | Happening::SecondSpeed(..)
        | Happening::WheelLock(_)
        | Happening::WheelSpin(..)
        | Happening::SlowShifts(_)
        | Happening::SelfShift(_)
        | Happening::SpeedOff(_)
        | Happening::Swapped(_) => 0,
    }
}

/// How far a number is from the round ones that people use.
#[must_use]
pub fn odd_number(place: Place, value: i64) -> u32 {
    match place.kind() {
        Kind::Speed => odd_speed(value),
        Kind::Pedal => match value {
            0 | 200 | 500 | 1000 => 0,
            _ => 1 + step_of(value, [100, 50, 10]),
        },
        Kind::Share => match value {
            0 => 0,
            _ => 2 + step_of(value, [100, 50, 10]),
        },
        Kind::Time if place_holds(place, value) => 0,
        Kind::Time => 1 + step_of(value, [500, 100, 10]),
    }
}

fn odd_speed(value: i64) -> u32 {
    step_of(value, [100, 50, 10])
}

/// 0 for a multiple of the first unit, then 1, 2; 3 for none.
fn step_of(value: i64, units: [i64; 3]) -> u32 {
    units.iter().zip(0..).find(|(unit, _)| value % **unit == 0).map_or(3, |(_, at)| at)
}

/// Round times, ms: of a step or of what lasts.
pub const LASTING_MS: [u32; 24] = [
    100, 200, 500, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000, 7000, 8000, 9000, 10_000, 12_000, 15_000, 20_000,
    25_000, 30_000, 40_000, 50_000, 60_000, 90_000,
];
/// Round instants, ms.
pub const INSTANTS_MS: [u32; 23] = [
    0, 1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 9000, 10_000, 11_000, 12_000, 13_000, 14_000, 15_000, 20_000,
    25_000, 30_000, 40_000, 50_000, 60_000, 90_000,
];

fn place_holds(place: Place, value: i64) -> bool {
    let round: &[u32] = if matches!(place, Place::EventAt(_)) { &INSTANTS_MS } else { &LASTING_MS };
    round.iter().any(|&ms| i64::from(ms) == value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::Step;

    fn drive(ms: u32, pedal: u16) -> Drive {
        let step = Step { ms, demand: Demand::Pedal(pedal), brake: 0, grade: 0 };
        Drive { start: Start::default(), steps: vec![step], events: Vec::new() }
    }

    #[test]
    fn fewer_before_plainer_before_sooner() {
        let (one, odd) = (drive(9000, 500), drive(2000, 637));
        let mut two = one.clone();
        two.steps.push(two.steps[0]);
        assert!(cost(&odd, 1000) < cost(&two, 500), "two steps are more than one, however odd");
        assert!(cost(&one, 8000) < cost(&odd, 1000), "50 % is plainer than 63.7 %");
        assert!(cost(&drive(9000, 1000), 3000) < cost(&one, 8000), "of two round ones the sooner");
        assert_eq!(oddness(&drive(1234, 0)), 0, "where the last step ends is nothing to say");
    }
}
