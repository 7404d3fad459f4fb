//! Widens a minimal drive: from where to where each of its numbers can go while the failure stays.

use super::places::{Kind, Place};
use super::{Oracle, ROOM_MS};
use crate::drive::{Drive, When};
use crate::drive_text::{duration_text, happening_text, scaled_text};
use std::fmt;

/// From where to where one number of a drive can go, all others as they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// Which number, as a test driver would name it.
    pub what: String,
    /// The least with which it still fails.
    pub from: String,
    /// The most.
    pub to: String,
}

impl fmt::Display for Span {
    /// "the pedal from 34 % to 61 %".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { what, from, to } = self;
        if from == to { write!(f, "{what} at {from} alone") } else { write!(f, "{what} from {from} to {to}") }
    }
}

/// Widens each number of a failing drive both ways, by bisection between it and the farthest that is tried. What lies
/// between two ends that fail is taken to fail too. A drive goes on for longer, so that it can fail later. Numbers for
/// which the budget may not be enough are left out. Returns the spans and the drives spent.
pub fn widen(drive: &Drive, budget: u32, oracle: Oracle<'_>) -> (Vec<Span>, u32) {
    let mut spent = 0;
    let mut spans = Vec::new();
    let last = drive.steps.len().saturating_sub(1);
    // The end of the drive is where it has failed; nothing else hangs on it.
    for place in Place::all(drive).into_iter().filter(|place| *place != Place::StepMs(last)) {
        let Some(value) = place.get(drive) else { continue };
        let Some(Reach { least, most, grid, is_end }) = reach(place, value) else { continue };
        if spent_at_most(value, least, most, grid) > budget.saturating_sub(spent) {
            continue;
        }
        let mut fails = |value: i64| {
            let mut other = drive.clone();
            place.set(&mut other, value);
            if let Some(step) = other.steps.last_mut() {
                step.ms = step.ms.saturating_add(ROOM_MS);
            }
            if place.get(&other) != Some(value) || crate::drive_check::check(&other).is_err() {
                return false;
            }
            spent += 1;
            oracle(&other).is_some()
        };
        let from = farthest(value, least, grid, &mut fails);
        let to = farthest(value, most, grid, &mut fails);
        let beyond = if to == most && !is_end { "at least " } else { "" };
        spans.push(Span {
            what: words(drive, place),
            from: text(place.kind(), from),
            to: format!("{beyond}{}", text(place.kind(), to)),
        });
    }
    (spans, spent)
}

/// The farthest multiple of `grid` towards an end with which it still fails; the value itself if none does.
fn farthest(value: i64, end: i64, grid: i64, fails: &mut dyn FnMut(i64) -> bool) -> i64 {
    let up = end > value;
    let first = if up { value.div_euclid(grid) + 1 } else { (value - 1).div_euclid(grid) };
    let point = |number: i64| (if up { first + number - 1 } else { first - number + 1 }) * grid;
    let (mut good, mut bad) = (0, points(value, end, grid));
    if bad <= 0 {
        return value;
    }
    if fails(point(bad)) {
        return point(bad);
    }
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if fails(point(middle)) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    if good == 0 { value } else { point(good) }
}

/// How many multiples of `grid` there are from a value, itself not counted, to an end.
fn points(value: i64, end: i64, grid: i64) -> i64 {
    if end > value {
        end.div_euclid(grid) - value.div_euclid(grid)
    } else {
        (value - 1).div_euclid(grid) - (end - 1).div_euclid(grid)
    }
}

fn spent_at_most(value: i64, least: i64, most: i64, grid: i64) -> u32 {
    // One at the end, then as many as halvings are left.
    let one_way = |end| match points(value, end, grid) {
        none if none <= 0 => 0,
        some => 2 + some.ilog2(),
    };
    one_way(least) + one_way(most)
}

/// How far a number is tried.
struct Reach {
    least: i64,
    most: i64,
    grid: i64,
    /// The number itself goes no further than `most`.
    is_end: bool,
}

/// `None` where the words of the drive say nothing of a number.
fn reach(place: Place, value: i64) -> Option<Reach> {
    let to = |least, most, grid| Reach { least, most, grid, is_end: false };
    Some(match (place, place.kind()) {
        (Place::Brake(_) | Place::Grade(_) | Place::EventKmh(_), _) if value == 0 => return None,
        (Place::Grade(_), _) => to(-300, 300, 10),
        (Place::EventKmh(_), _) => to(value.min(0), value.max(0) + value.abs(), 10),
        (_, Kind::Speed) => to(0, value + 600, 10),
        (_, Kind::Pedal | Kind::Share) => Reach { least: 0, most: 1000, grid: 10, is_end: true },
        (Place::EventAt(_), _) => to(0, value + 10_000, 100),
        (_, Kind::Time) => to(10, value + 10_000, if value < 1000 { 10 } else { 100 }),
    })
}

fn words(drive: &Drive, place: Place) -> String {
    let many = drive.steps.len() > 1;
    let step = |what: &str, at: usize| if many { format!("{what} in step {}", at + 1) } else { what.to_owned() };
    let event =
        |at: usize| drive.events.get(at).map_or(String::new(), |event| name(drive, at, happening_text(event.what)));
    match place {
        Place::StartSpeed => "the speed at the start".to_owned(),
        Place::StepMs(at) => format!("step {} lasting", at + 1),
        Place::Pedal(at) => step("the pedal", at),
        Place::OtherPedal(at) => step("the other pedal", at),
        Place::EveryMs(at) => step("the turns", at),
        Place::Kept(at) => step("the speed held", at),
        Place::Brake(at) => step("the brake", at),
        Place::Grade(at) => step("the grade", at),
        Place::EventAt(at) => match drive.events.get(at).map(|event| event.when) {
            Some(When::After(..)) => format!("{} coming later by", event(at)),
            _ => event(at),
        },
        Place::EventMs(at) => format!("{} lasting", event(at)),
        Place::EventKmh(at) => format!("the km/h of {}", event(at)),
    }
}

/// What an event is called: without its duration, and with its number where another is called the same.
fn name(drive: &Drive, at: usize, text: String) -> String {
    let short = |text: &str| text.rsplit_once(" for ").map_or(text, |(what, _)| what).to_owned();
    let called = short(&text);
    let alone = drive.events.iter().filter(|event| short(&happening_text(event.what)) == called).count() == 1;
    if alone { called } else { format!("event {}, {called},", at + 1) }
}

fn text(kind: Kind, value: i64) -> String {
    match kind {
        Kind::Time if value == 0 => "0 s".to_owned(),
        Kind::Time => duration_text(u32::try_from(value).unwrap_or(0)),
        Kind::Speed => format!("{} km/h", scaled_text(value, 10)),
        Kind::Pedal | Kind::Share => format!("{} %", scaled_text(value, 10)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::{Demand, Event, Happening, Start, Step};
    use crate::shrink::Try;
    use crate::signal::Lever;

    fn drive() -> Drive {
        let step = Step { ms: 5000, demand: Demand::Pedal(505), brake: 0, grade: 0 };
        let gate = Event { when: When::At(1000), what: Happening::Lever(Lever::Gate) };
        Drive { start: Start::default(), steps: vec![step], events: vec![gate] }
    }

    /// Fails from rest, with 37 to 61.4 % pedal, and the gate at 0.75 s or later.
    fn oracle(d: &Drive) -> Option<Try> {
        let pedal = matches!(d.steps[0].demand, Demand::Pedal(p) if (370..=614).contains(&p));
        let gate = matches!(d.events[0].when, When::At(ms) if ms >= 750);
        (pedal && gate && d.start.speed == 0).then(Try::default)
    }

    #[test]
    fn each_number_goes_as_far_as_the_failure_stays() {
        let (spans, spent) = widen(&drive(), 100, &mut oracle);
        let said: Vec<String> = spans.iter().map(ToString::to_string).collect();
        let pedal = "the pedal from 37 % to 61 %";
        assert_eq!(said, ["the speed at the start at 0 km/h alone", pedal, "lever gate from 800 ms to at least 11 s"]);
        // The start: 60 km/h and 6 halvings of 60; the pedal: 0 and 6 halvings of 50, 100 and 6; the gate: 0 and 4, 11 s.
        assert!(spent <= 7 + 7 + 7 + 5 + 1, "{spent}");
    }

    #[test]
    fn what_the_budget_is_not_enough_for_is_left_out_and_never_half_done() {
        assert_eq!(widen(&drive(), 6, &mut oracle), (Vec::new(), 0));
        let (spans, spent) = widen(&drive(), 13, &mut oracle);
        assert_eq!((spans.len(), spent <= 13), (1, true), "{spans:?}");
    }
}
