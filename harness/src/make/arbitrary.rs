//! Drives out of a fuzzer's bytes: short, and always within bounds.

use crate::drive::{Beyond, Condition, Demand, Drive, Event, Happening, Start, Step, When, Which};
use arbitrary::{Arbitrary, Result, Unstructured};

/// No such drive is longer, ms.
const LONGEST_MS: u32 = 30_000;

impl<'a> Arbitrary<'a> for Drive {
    fn arbitrary(u: &mut Unstructured<'a>) -> Result<Self> {
        let start = start(u)?;
        let mut left_ms = LONGEST_MS;
        let mut steps = Vec::new();
        for _ in 0..u.int_in_range(1..=8)? {
            if left_ms == 0 {
                break;
            }
            let step = step(u, left_ms)?;
            left_ms -= step.ms;
            steps.push(step);
        }
        let mut events = Vec::new();
        for _ in 0..u.int_in_range(0..=6)? {
            events.push(Event { when: when(u)?, what: happening(u)? });
        }
        Ok(Self { start, steps, events })
    }
}

fn start(u: &mut Unstructured) -> Result<Start> {
    Ok(Start {
        speed: u.int_in_range(0..=2000)?,
        gear: u.int_in_range(1..=10)?,
        lever: u.arbitrary()?,
        range: u.arbitrary()?,
        clock_ms: if u.arbitrary()? { u.int_in_range(0..=1 << 53)? } else { 0 },
        poll_phase_ms: u.int_in_range(0..=999)?,
        link_key: u.arbitrary()?,
        grip: u.int_in_range(5..=120)?,
    })
}

fn step(u: &mut Unstructured, left_ms: u32) -> Result<Step> {
    let demand = match u.int_in_range(0..=4)? {
        0 => Demand::Pedal(u.int_in_range(0..=1000)?),
        1 => Demand::PedalTo(u.int_in_range(0..=1000)?),
        2 => Demand::Hold(u.int_in_range(0..=3000)?),
        3 => Demand::InTurn(u.int_in_range(0..=1000)?, u.int_in_range(0..=1000)?, u.int_in_range(1..=5000)?),
        _ => Demand::Cruise(u.int_in_range(0..=3000)?),
    };
    let brake = if u.arbitrary()? { u.int_in_range(0..=1200)? } else { 0 };
    Ok(Step { ms: u.int_in_range(1..=left_ms.min(10_000))?, demand, brake, grade: u.int_in_range(-400..=400)? })
}

fn when(u: &mut Unstructured) -> Result<When> {
    if u.arbitrary()? {
        return Ok(When::At(u.int_in_range(0..=LONGEST_MS)?));
    }
    let condition = match u.int_in_range(0..=6)? {
        0 => Condition::SpeedAbove(u.int_in_range(0..=3000)?),
        1 => Condition::SpeedBelow(u.int_in_range(0..=3000)?),
        2 => Condition::Gear(u.int_in_range(1..=10)?),
        3 => Condition::Closes(u.arbitrary()?),
        4 => Condition::Opens(u.arbitrary()?),
        5 => Condition::ShiftBegins,
        _ => Condition::ShiftEnds,
    };
    Ok(When::After(condition, u.int_in_range(0..=3000)?))
}

fn which(u: &mut Unstructured) -> Result<Which> {
    Ok(if u.arbitrary()? { Which::All } else { Which::One(u.arbitrary()?) })
}

fn happening(u: &mut Unstructured) -> Result<Happening> {
    let long_ms = u.int_in_range(0..=10_000)?;
    let short_ms = u.int_in_range(0..=2000)?;
    Ok(match u.int_in_range(0..=22)? {
        0 => Happening::Lever(u.arbitrary()?),
        1 => Happening::Tap(u.arbitrary()?, short_ms),
        2 => Happening::Button(short_ms),
        3 => Happening::Range(u.arbitrary()?),
        4 => Happening::Ignition(u.arbitrary()?),
        5 => Happening::Engine(u.arbitrary()?),
        6 => Happening::Supply(u.int_in_range(0..=30_000)?, short_ms),
        7 => Happening::Reset,
        8 => Happening::Lost(which(u)?, long_ms),
        9 => Happening::Frozen(which(u)?, long_ms),
        10 => Happening::Delayed(which(u)?, short_ms, long_ms),
        11 => Happening::Negative(which(u)?, long_ms),
        12 => Happening::Duplicated(which(u)?, long_ms),
        13 => Happening::SecondSpeed(u.int_in_range(-3000..=3000)?, long_ms),
        14 => Happening::WheelLock(short_ms),
        15 => Happening::WheelSpin(u.int_in_range(0..=3000)?, short_ms),
        16 => Happening::Refuse(u.arbitrary()?),
        17 => Happening::SlowShifts(short_ms),
        18 => Happening::Garbled(which(u)?, if u.arbitrary()? { Beyond::Above } else { Beyond::Below }, long_ms),
        19 => Happening::SelfShift(u.int_in_range(1..=10)?),
        20 => Happening::LeverInTurn(u.arbitrary()?, u.arbitrary()?, u.int_in_range(1..=2000)?, long_ms),
        21 => Happening::Swapped(u.arbitrary()?),
        _ => Happening::SpeedOff(u.int_in_range(-500..=500)?),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive_check::check;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn any_bytes_make_a_drive_within_bounds(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            let drive = Drive::arbitrary(&mut Unstructured::new(&bytes)).unwrap();
            prop_assert_eq!(check(&drive), Ok(()));
            prop_assert!((1..=LONGEST_MS).contains(&drive.length_ms()));
        }
    }
}
