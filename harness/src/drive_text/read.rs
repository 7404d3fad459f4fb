//! Reading the text of steps and events.

use super::number::{SHARE, SPEED, Scale, TIME, VOLTAGE};
use crate::drive::{Beyond, Condition, Demand, Event, Happening, Step, When, Which};
use crate::signal::{Direction, Lever, Range, Signal};

const STEP_EXAMPLE: &str = "\"3 s: pedal to 100 %, brake 20 %, grade 6 %\"";
const EVENT_EXAMPLE: &str = "\"at 500 ms: lever gate\" or \"200 ms after speed above 50 km/h: tap down for 100 ms\"";

/// Reads a step.
///
/// # Errors
/// A sentence that says what is wrong and what would be right.
pub fn parse_step(text: &str) -> Result<Step, String> {
    let (time, rest) = text.split_once(':').ok_or_else(|| {
        format!("\"{text}\" has no colon: write how long, a colon, and what, for example {STEP_EXAMPLE}")
    })?;
    let mut parts = rest.split(',');
    let mut step = Step { ms: TIME.read(time)?, demand: demand(parts.next().unwrap_or(""))?, brake: 0, grade: 0 };
    let (mut braked, mut graded) = (false, false);
    for part in parts {
        match words(part).as_slice() {
            ["brake", share @ ..] if !braked => (step.brake, braked) = (read(&SHARE, share)?, true),
            ["grade", share @ ..] if !graded => (step.grade, graded) = (read(&SHARE, share)?, true),
            [name @ ("brake" | "grade"), ..] => return Err(format!("\"{text}\" gives the {name} twice")),
            _ => {
                let part = part.trim();
                return Err(format!("\"{part}\" is neither brake nor grade: write for example {STEP_EXAMPLE}"));
            }
        }
    }
    Ok(step)
}

fn demand(text: &str) -> Result<Demand, String> {
    Ok(match words(text).as_slice() {
        ["pedal", "to", share @ ..] => Demand::PedalTo(read(&SHARE, share)?),
        ["pedal", shares @ .., "in", "turn", "every", number, unit] => {
            let and = shares.iter().position(|&word| word == "and").unwrap_or(shares.len());
            let (first, second) = shares.split_at(and);
            let second = read(&SHARE, second.get(1..).unwrap_or(&[]))?;
            Demand::InTurn(read(&SHARE, first)?, second, read(&TIME, &[number, unit])?)
        }
        ["pedal", share @ ..] => Demand::Pedal(read(&SHARE, share)?),
        ["hold", speed @ ..] => Demand::Hold(read(&SPEED, speed)?),
        ["cruise", speed @ ..] => Demand::Cruise(read(&SPEED, speed)?),
        _ => {
            return Err(format!(
                "\"{}\" is nothing a driver's foot does: write \"pedal 35 %\", \"pedal to 35 %\", \"pedal 35 % and 0 % in \
                 turn every 2 s\", \"hold 51 km/h\" or \"cruise 80 km/h\" after the colon",
                text.trim()
            ));
        }
    })
}

/// Reads an event.
///
/// # Errors
/// A sentence that says what is wrong and what would be right.
pub fn parse_event(text: &str) -> Result<Event, String> {
    let (moment, what) = text.split_once(':').ok_or_else(|| {
        format!("\"{text}\" has no colon: write when, a colon, and what, for example {EVENT_EXAMPLE}")
    })?;
    Ok(Event { when: when(moment)?, what: happening(what)? })
}

fn when(text: &str) -> Result<When, String> {
    let words = words(text);
    Ok(match words.as_slice() {
        ["at", "once", "after", held @ ..] => When::After(condition(held)?, 0),
        ["at", time @ ..] => When::At(read(&TIME, time)?),
        _ => match words.iter().position(|&word| word == "after") {
            Some(at) => {
                let (time, held) = words.split_at(at);
                When::After(condition(held.get(1..).unwrap_or(&[]))?, read(&TIME, time)?)
            }
            None => {
                return Err(format!("\"{}\" doesn't say when: write for example {EVENT_EXAMPLE}", text.trim()));
            }
        },
    })
}

fn condition(words: &[&str]) -> Result<Condition, String> {
    Ok(match words {
        ["speed", "above", speed @ ..] => Condition::SpeedAbove(read(&SPEED, speed)?),
        ["speed", "below", speed @ ..] => Condition::SpeedBelow(read(&SPEED, speed)?),
        ["gear", number] => Condition::Gear(count(number, "gear")?),
        ["shift", "begins"] => Condition::ShiftBegins,
        ["shift", "ends"] => Condition::ShiftEnds,
        [contact, "closes"] => Condition::Closes(direction(contact)?),
        [contact, "opens"] => Condition::Opens(direction(contact)?),
        _ => {
            return Err(format!(
                "\"{}\" is no condition: write \"speed above 50 km/h\", \"speed below 50 km/h\", \"gear 3\", \"up \
                 closes\", \"down opens\", \"shift begins\" or \"shift ends\"",
                words.join(" ")
            ));
        }
    })
}

fn happening(text: &str) -> Result<Happening, String> {
    let all = words(text);
    // What lasts ends in "for" and a time; the rest of the words says what it is.
    let (what, time) = match all.iter().rposition(|&word| word == "for") {
        Some(at) => (&all[..at], Some(all.get(at + 1..).unwrap_or(&[]))),
        None => (&all[..], None),
    };
    let unknown = || {
        format!(
            "\"{}\" is nothing that can happen: write one of \"lever gate\", \"lever gate and D in turn every 1 s for 8 s\", \"tap up for 100 ms\", \"button for 300 \
             ms\", \"range low\", \"ignition off\", \"engine stalls\", \"engine starts\", \"supply 6 V for 100 ms\", \
             \"reset\", \"lose speed for 1 s\", \"freeze pedal for 1 s\", \"delay speed by 300 ms for 1 s\", \"negative \
             answers to speed for 1 s\", \"answers to speed above range for 1 s\", \"double answers to speed for 1 s\", \"second responder off by -20 km/h for 1 \
             s\", \"wheels lock for 1 s\", \"wheels spin by 40 km/h for 1 s\", \"gearbox refuses 3 taps\", \"shifts take \
             700 ms longer\", \"gearbox shifts to 3 by itself\", \"gearbox takes taps the other way round\", \"gearbox \
             takes taps the right way\", \"speed reads 8 % too high\", \"speed reads right\"",
            text.trim()
        )
    };
    let Some(time) = time else {
        return Ok(match what {
            ["lever", to] => Happening::Lever(parse_lever(to)?),
            ["range", to] => Happening::Range(parse_range(to)?),
            ["ignition", "on"] => Happening::Ignition(true),
            ["ignition", "off"] => Happening::Ignition(false),
            ["engine", "starts"] => Happening::Engine(true),
            ["engine", "stalls"] => Happening::Engine(false),
            ["reset"] => Happening::Reset,
            ["gearbox", "refuses", taps, "tap" | "taps"] => Happening::Refuse(count(taps, "number of taps")?),
            ["shifts", "take", longer @ .., "longer"] => Happening::SlowShifts(read(&TIME, longer)?),
            ["gearbox", "shifts", "to", gear, "by", "itself"] => Happening::SelfShift(count(gear, "gear")?),
            ["gearbox", "takes", "taps", "the", "other", "way", "round"] => Happening::Swapped(true),
            ["gearbox", "takes", "taps", "the", "right", "way"] => Happening::Swapped(false),
            ["speed", "reads", "right"] => Happening::SpeedOff(0),
            ["speed", "reads", by @ .., "too", "high"] => Happening::SpeedOff(read(&SHARE, by)?),
            ["speed", "reads", by @ .., "too", "low"] => Happening::SpeedOff(-read::<i16>(&SHARE, by)?.max(-i16::MAX)),
            [
                first @ ("tap" | "button" | "supply" | "lose" | "freeze" | "delay" | "negative" | "answers" | "double"
                | "second" | "wheels"),
                ..,
            ] => {
                return Err(format!("\"{}\" doesn't say for how long: end {first} with \"for 500 ms\"", text.trim()));
            }
            _ => return Err(unknown()),
        });
    };
    Ok(match what {
        ["lever", first, "and", second, "in", "turn", "every", every @ ..] => {
            Happening::LeverInTurn(parse_lever(first)?, parse_lever(second)?, read(&TIME, every)?, read(&TIME, time)?)
        }
        ["tap", to] => Happening::Tap(direction(to)?, read(&TIME, time)?),
        ["button"] => Happening::Button(read(&TIME, time)?),
        ["supply", voltage @ ..] => Happening::Supply(read(&VOLTAGE, voltage)?, read(&TIME, time)?),
        ["lose", signals @ ..] => Happening::Lost(which(signals)?, read(&TIME, time)?),
        ["freeze", signals @ ..] => Happening::Frozen(which(signals)?, read(&TIME, time)?),
        ["delay", rest @ ..] => {
            let by = rest.iter().position(|&word| word == "by").ok_or_else(unknown)?;
            let (signals, by) = rest.split_at(by);
            Happening::Delayed(which(signals)?, read(&TIME, by.get(1..).unwrap_or(&[]))?, read(&TIME, time)?)
        }
        ["negative", "answers", "to", signals @ ..] => Happening::Negative(which(signals)?, read(&TIME, time)?),
        ["answers", "to", signals @ .., side @ ("above" | "below"), "range"] => {
            let beyond = if *side == "above" { Beyond::Above } else { Beyond::Below };
            Happening::Garbled(which(signals)?, beyond, read(&TIME, time)?)
        }
        ["double", "answers", "to", signals @ ..] => Happening::Duplicated(which(signals)?, read(&TIME, time)?),
        ["second", "responder", "off", "by", speed @ ..] => {
            Happening::SecondSpeed(read(&SPEED, speed)?, read(&TIME, time)?)
        }
        ["wheels", "lock"] => Happening::WheelLock(read(&TIME, time)?),
        ["wheels", "spin", "by", speed @ ..] => Happening::WheelSpin(read(&SPEED, speed)?, read(&TIME, time)?),
        _ => return Err(unknown()),
    })
}

/// Reads a lever position.
///
/// # Errors
/// The positions there are.
pub fn parse_lever(text: &str) -> Result<Lever, String> {
    Ok(match text {
        "P" => Lever::P,
        "R" => Lever::R,
        "N" => Lever::N,
        "D" => Lever::D,
        "gate" => Lever::Gate,
        _ => return Err(format!("\"{text}\" is no lever position: write P, R, N, D or gate")),
    })
}

/// Reads a range.
///
/// # Errors
/// The ranges there are.
pub fn parse_range(text: &str) -> Result<Range, String> {
    Ok(match text {
        "high" => Range::High,
        "transit" => Range::Transit,
        "low" => Range::Low,
        _ => return Err(format!("\"{text}\" is no range: write high, transit or low")),
    })
}

fn direction(text: &str) -> Result<Direction, String> {
    match text {
        "up" => Ok(Direction::Up),
        "down" => Ok(Direction::Down),
        _ => Err(format!("\"{text}\" is no direction: write up or down")),
    }
}

fn which(words: &[&str]) -> Result<Which, String> {
    Ok(match words {
        ["speed"] => Which::One(Signal::Speed),
        ["pedal"] => Which::One(Signal::Pedal),
        ["engine", "speed"] => Which::One(Signal::EngineSpeed),
        ["gear"] => Which::One(Signal::Gear),
        ["all", "signals"] => Which::All,
        _ => {
            let text = words.join(" ");
            return Err(format!("\"{text}\" is no signal: write speed, pedal, engine speed, gear or all signals"));
        }
    })
}

fn count(text: &str, what: &str) -> Result<u8, String> {
    text.parse().map_err(|_| format!("\"{text}\" is no {what}: write a whole number, for example 3"))
}

fn words(text: &str) -> Vec<&str> {
    text.split_whitespace().collect()
}

fn read<T: TryFrom<i64>>(scale: &Scale, words: &[&str]) -> Result<T, String> {
    scale.read(&words.join(" "))
}
