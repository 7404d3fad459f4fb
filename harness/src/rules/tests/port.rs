//! The two rules on what comes from the diagnostic port and what is asked of it: readings that stand still, requests.

use super::made::Made;
use crate::signal::{Announcement, Direction, Lever, Request};
use crate::spec::pedal::PedalIdentifier;

const STUCK: &str = "stuck signals noticed";
const REQUESTS: &str = "read-only link and sleep";

/// A box that reads engine speed and is to notice within 3 s; its flag is up from 800 ms on.
pub(super) fn notices() -> Made {
    let mut made = Made::van();
    made.spec.facts.signals.engine_speed = true;
    made.spec.facts.notices_stuck = true;
    (made.engine_rpm_read, made.engine_lives, made.flag) = (Some(1500.0), true, Some(false));
    made.run(500);
    made.lever = Lever::Gate;
    made.run(300);
    made.say(Announcement::Engaged);
    made.flag = Some(true);
    made.until(2010);
    made
}

/// From the answer at 2000 ms on nothing changes any more; the flag falls `after_ms` later.
fn lets_go(after_ms: u32) -> Made {
    let mut made = notices();
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
    made.until(2000 + after_ms);
    made.say(Announcement::Fault);
    made.flag = Some(false);
    made.until(12_000);
    made
}

/// Allowed: 3 s, one poll of 100 ms, one tick.
#[test]
fn a_freeze_is_noticed_in_time() {
    let kept = lets_go(3110);
    assert_eq!(kept.seen(STUCK, 0.0).at_ms, 5000);
    assert_eq!(kept.measure(STUCK).reached[..2], [1, 0]);
    assert!(kept.broken().is_empty(), "{:?}", kept.broken());
    let broken = lets_go(3300);
    broken.seen(STUCK, -0.19);
    assert_eq!(broken.broken(), [STUCK]);
    // Well before: 1.61 s are left, and nothing else is blamed for the caution.
    let early = lets_go(1500);
    early.seen(STUCK, 1.61);
    assert!(early.broken().is_empty(), "{:?}", early.broken());
}

/// Engaged to the end, and a shift on the frozen values.
#[test]
fn a_box_that_never_notices() {
    let mut made = notices();
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
    made.until(12_000);
    // To 10,000 ms it is looked at: 8 s engaged where 3.11 s are allowed.
    made.seen(STUCK, -4.89);
    assert_eq!(made.broken(), [STUCK]);
}

/// Its announcement alone shows it: 500 ms more for saying so.
#[test]
fn a_box_without_a_flag_tells_by_announcing() {
    let told_after = |after_ms: u32| {
        let mut made = Made::van();
        made.spec.facts.signals.engine_speed = true;
        made.spec.facts.notices_stuck = true;
        (made.engine_rpm_read, made.engine_lives) = (Some(1500.0), true);
        made.take_over();
        made.until(2010);
        (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
        made.until(2000 + after_ms);
        made.say(Announcement::Fault);
        made.until(12_000);
        made
    };
    told_after(3610).seen(STUCK, 0.0);
    told_after(3700).seen(STUCK, -0.09);
}

/// A pulse that runs on when the limit is over.
#[test]
fn contacts_count_as_engaged() {
    let mut made = notices();
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
    made.until(4000);
    made.flag = Some(false);
    made.until(5200);
    made.pulse(Direction::Up, 100);
    made.until(12_000);
    // Open from 5300 ms on: 3.3 s after the freeze.
    made.seen(STUCK, -0.19);
}

/// A steady speed is no freeze: from 20 s on the readings but the engine speed have stood for long.
#[test]
fn a_steady_speed_is_no_cause() {
    let steady = || {
        let mut made = notices();
        made.speed = 45.0;
        made.until(3000);
        made.shift(Direction::Up);
        made
    };
    let mut made = steady();
    made.until(20_000);
    made.seen(STUCK, 5.0);
    assert_eq!(made.measure(STUCK).reached[..2], [0, 1]);
    made.say(Announcement::Fault);
    made.flag = Some(false);
    made.until(22_000);
    assert_eq!(made.seen(STUCK, -5.0).at_ms, 20_000);
    assert_eq!(made.broken(), [STUCK]);
    // Data too old to command on, up to 18,590 ms: 1.41 s before, where 300 ms and a tick are allowed.
    let mut made = steady();
    made.until(18_010);
    made.link = [false; 2];
    made.until(18_600);
    made.link = [true; 2];
    made.until(20_000);
    made.say(Announcement::Fault);
    made.flag = Some(false);
    made.until(22_000);
    made.seen(STUCK, -1.1);
    // The pedal read is not the true one: what looks steady may be a freeze of that one alone.
    let mut made = steady();
    made.until(20_000);
    made.say(Announcement::Fault);
    made.flag = Some(false);
    made.until(22_000);
    for row in &mut made.recording.rows {
        row.truth.pedal_pct = 60.0;
    }
    assert!(made.broken().is_empty(), "{:?}", made.broken());
}

#[test]
fn neither_rule_asks_anything_of_a_box_that_declares_nothing() {
    let mut made = Made::engaged();
    made.engine_rpm_read = Some(1500.0);
    made.recording.requests.push((10, Request::read("1003").unwrap()));
    made.until(12_000);
    made.nothing(STUCK);
    made.nothing(REQUESTS);
    // An engine that stands, and one that lives, freeze nothing.
    let mut made = notices();
    (made.engine_rpm_read, made.engine_lives) = (Some(0.0), false);
    made.until(9000);
    assert_eq!(made.measure(STUCK).reached[0], 0);
}

/// Asks at these times for the speed.
fn asking(times_ms: impl IntoIterator<Item = u32>) -> Made {
    let mut made = Made::engaged();
    made.spec.facts.sends_requests = true;
    made.until(5000);
    let speed = Request::read("010D").unwrap();
    made.recording.requests.extend(times_ms.into_iter().map(|at_ms| (at_ms, speed)));
    made
}

/// 40 a second at the most: the 41st comes a second after the first, give or take a tick.
#[test]
fn not_too_many_in_a_second() {
    // Forty at once, and one at 1990 ms: 0.99 s and a tick.
    let burst = || std::iter::repeat_n(1000, 40);
    let kept = asking(burst().chain([1990]));
    assert_eq!(kept.seen(REQUESTS, 0.0).at_ms, 1990);
    assert!(kept.broken().is_empty());
    let broken = asking(burst().chain([1980]));
    broken.seen(REQUESTS, -0.01);
    assert_eq!(broken.broken(), [REQUESTS]);
    asking(burst()).seen(REQUESTS, 5.0);
    assert_eq!(asking(burst()).measure(REQUESTS).reached[..2], [40, 0]);
    asking([]).nothing(REQUESTS);
}

#[test]
fn nothing_but_readings() {
    for (text, allowed) in
        [("010D", true), ("22F190", true), ("1003", false), ("2EF19001", false), ("04", false), ("01", false)]
    {
        let mut made = asking([1000]);
        made.recording.requests.push((2000, Request::read(text).unwrap()));
        made.seen(REQUESTS, if allowed { 5.0 } else { -5.0 });
        assert_eq!(made.broken().is_empty(), allowed, "{text}");
    }
}

/// The pedal by identifiers D, E and relative; D is declared by default.
#[test]
fn the_pedal_by_the_identifier_declared() {
    let asked = |texts: &[&str], declared: PedalIdentifier| {
        let mut made = asking([1000]);
        made.spec.link.pedal_identifier = declared;
        made.recording.requests.extend(texts.iter().map(|text| (2000, Request::read(text).unwrap())));
        made
    };
    for (texts, declared, kept) in [
        (&["0149"][..], PedalIdentifier::D, true),
        (&["014A"], PedalIdentifier::D, false),
        (&["014A"], PedalIdentifier::E, true),
        (&["010D5A"], PedalIdentifier::E, false),
        (&["010D5A"], PedalIdentifier::Relative, true),
        // A second sensor to compare with, and no pedal by service 01 at all.
        (&["0149", "014A"], PedalIdentifier::E, true),
        (&["22F449"], PedalIdentifier::E, true),
    ] {
        let made = asked(texts, declared);
        made.seen(REQUESTS, if kept { 5.0 } else { -5.0 });
        assert_eq!(made.broken().is_empty(), kept, "{texts:?} {declared:?}");
    }
    // Less than a second before the end: it may still come to it.
    let mut made = asking([1000]);
    made.recording.requests.push((4010, Request::read("014A").unwrap()));
    made.seen(REQUESTS, 5.0);
}

/// The ignition goes off at 10 s; 60 s and a tick later all must be quiet.
#[test]
fn the_bus_sleeps() {
    let last_at = |ms: u32, until_ms: u32| {
        let mut made = asking((1000..ms).step_by(1000));
        made.recording.requests.push((ms, Request::read("010D").unwrap()));
        made.until(10_000);
        made.ignition = false;
        made.until(until_ms);
        made
    };
    assert_eq!(last_at(70_010, 100_000).seen(REQUESTS, 0.0).at_ms, 70_010);
    assert_eq!(last_at(70_010, 100_000).measure(REQUESTS).reached[1], 1);
    let broken = last_at(71_000, 100_000);
    assert_eq!(broken.seen(REQUESTS, -0.99).at_ms, 71_000);
    assert_eq!(broken.broken(), [REQUESTS]);
    // On again, or over, before: nothing is told of its sleep.
    assert_eq!(last_at(40_000, 70_000).measure(REQUESTS).reached[1], 0);
}

/// Asleep by 60 s after the ignition went off, a tick allowed: each time counts for itself, and one that ends before asks
/// for nothing.
#[test]
fn each_time_that_the_ignition_is_off_counts_for_itself() {
    let off_for = |off_ms: [u32; 2]| {
        let mut made = Made::van();
        made.spec.facts.sends_requests = true;
        for ms in off_ms {
            made.run(1000);
            made.ignition = false;
            made.run(ms);
            made.ignition = true;
        }
        made.run(1000);
        made.measure(REQUESTS).reached[1]
    };
    assert_eq!(off_for([62_000, 62_000]), 2);
    assert_eq!(off_for([62_000, 30_000]), 1);
    assert_eq!(off_for([60_010, 30_000]), 0);
}
