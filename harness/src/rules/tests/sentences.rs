//! What is said of a mark: the times, gears and speeds in it.

use super::conformance::{in_fourth, slow_to};
use super::made::Made;
use crate::outcome::Basis;
use crate::rules::{Judge, RULES, find};
use crate::signal::Direction::{Down, Up};
use crate::signal::Request;
use crate::units::Ms;

const SOON: &str = "response deadline";

fn says(made: &Made, rule: &str, at_ms: u32) -> String {
    let rule = &RULES[find(rule).unwrap_or_else(|| panic!("no rule {rule}"))];
    Judge::default().says(&made.spec, &made.recording, rule, Basis::Seen, at_ms)
}

/// In second at 42 km/h, from 2.5 s on at 44, where the line lies at 43. With answers of up to 55 ms the limit is three
/// updates of 100 ms, 50 ms and a tick.
fn due_for(ms: u32) -> Made {
    let mut made = Made::engaged();
    made.spec.link.answer_most = Ms::new(55.0);
    made.speed = 42.0;
    made.until(2500);
    made.speed = 44.0;
    made.run(ms);
    made
}

#[test]
fn an_upshift_that_was_due() {
    let due = "upshift 2>3 due from 2.50 s on at 44 km/h (line at 43.0 km/h)";
    let mut late = due_for(420);
    late.shift(Up);
    assert_eq!(says(&late, SOON, 2500), format!("{due}, commanded 0.42 s later; the limit is 0.36 s"));
    let never = format!("{due}, not commanded in the 0.50 s for which it was due; the limit is 0.36 s");
    assert_eq!(says(&due_for(500), SOON, 2500), never);
}

/// 61 km/h at 10 s, 1 km/h less at each update: 37 km/h, 1 km/h below the line 4>3, at 12.3 s.
#[test]
fn a_downshift_that_was_due() {
    let mut made = in_fourth();
    made.spec.link.answer_most = Ms::new(55.0);
    slow_to(&mut made, 37.0);
    made.until(12_600);
    made.shift(Down);
    let due = "downshift 4>3 due from 12.30 s on at 37 km/h (line at 38.0 km/h)";
    assert_eq!(says(&made, SOON, 12_300), format!("{due}, commanded 0.30 s later; the limit is 0.36 s"));
}

/// With the ignition on, one request too many is no matter of sleep.
#[test]
fn requests_too_close_together() {
    let mut made = Made::engaged();
    made.spec.facts.sends_requests = true;
    made.until(3000);
    let speed = Request::read("010D").unwrap();
    made.recording.requests.extend(std::iter::repeat_n((1000, speed), 40).chain([(1980, speed)]));
    let expected = "41 requests in the second before 1.98 s; at most 40 are allowed";
    assert_eq!(says(&made, "read-only link and sleep", 1980), expected);
}
