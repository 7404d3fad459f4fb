//! Speeds read that can't have come about by driving, and how long they leave the speed in doubt.

use super::made::{Made, spec};
use super::retold::{arrives, excuses, flagged, lets_go, told};
use crate::signal::{Content, Signal};
use crate::spec::Spec;
use crate::units::Ms;

/// The leaps among these speeds (arrival in ms, km/h): when, whether it fell, and the last speed before that goes on from
/// what was read before.
fn leaps(spec: Spec, speeds: &[(u32, f64)]) -> Vec<(u32, bool, f64)> {
    let mut made = Made::of(spec);
    made.link = [false; 2];
    made.until(3000);
    for &(at_ms, kmh) in speeds {
        arrives(&mut made, Signal::Speed, Content::Value(kmh), at_ms);
    }
    told(&made).leaps.iter().map(|l| (l.at_ms, l.fell, l.settled_kmh)).collect()
}

/// Two answers that arrive 100 ms apart were sampled up to 145 ms apart (5 to 50 ms on their way), and one tick is allowed:
/// 40 km/h/s · 0.155 s + 2 = 8.2 km/h down, 25 km/h/s · 0.155 s + 2 = 5.875 km/h up.
#[test]
fn a_leap_is_one_however_the_answers_were_timed() {
    let one_poll = |kmh: f64| leaps(spec("van.toml"), &[(1000, 60.0), (1100, kmh)]);
    for kmh in [52.0, 51.9, 60.0, 65.5, 65.8] {
        assert_eq!(one_poll(kmh), [], "{kmh}");
    }
    assert_eq!(one_poll(51.6), [(1100, true, 60.0)]);
    assert_eq!(one_poll(66.0), [(1100, false, 60.0)]);
}

/// With 45 ms on the way at the most the answers are 40 ms and a tick further apart than they arrive: 450 ms make 0.5 s.
/// 22 km/h down and 14.5 km/h up are just what can be.
#[test]
fn what_brakes_and_engine_can_just_do_is_no_leap() {
    let apart = |kmh: f64| {
        let mut spec = spec("van.toml");
        spec.link.answer_most = Ms::new(45.0);
        leaps(spec, &[(1000, 60.0), (1450, kmh)])
    };
    assert_eq!(apart(38.0), []);
    assert_eq!(apart(37.5), [(1450, true, 60.0)]);
    assert_eq!(apart(74.5), []);
    assert_eq!(apart(75.0), [(1450, false, 60.0)]);
}

/// Wheels that lock at 60 km/h read 20 km/h. For 500 ms that goes on from nothing; after that it is believed.
#[test]
fn what_goes_on_from_before_is_what_a_leap_is_told_from() {
    let locked = |again_ms: u32| {
        let held = (1200..again_ms).step_by(100).map(|at| (at, 20.0));
        let speeds: Vec<(u32, f64)> = [(1000, 60.0), (1100, 60.0)].into_iter().chain(held).collect();
        leaps(spec("van.toml"), &[&speeds[..], &[(again_ms, 60.0)]].concat())
    };
    assert_eq!(locked(1400), [(1200, true, 60.0), (1400, false, 60.0)]);
    // 20 km/h was read last at 1600 ms, 400 ms after the leap; then at 1700 ms, 500 ms after it.
    assert_eq!(locked(1700), [(1200, true, 60.0), (1700, false, 60.0)]);
    assert_eq!(locked(1800), [(1200, true, 60.0), (1800, false, 20.0)]);
    // 57 km/h goes on from 60, however soon after the leap: the next fall is from there.
    let turned = [(1000, 60.0), (1100, 60.0), (1200, 20.0), (1300, 57.0), (1400, 20.0)];
    assert_eq!(leaps(spec("van.toml"), &turned), [(1200, true, 60.0), (1300, false, 60.0), (1400, true, 57.0)]);
}

/// A box that starts afresh has read nothing: its first speed leaps from none.
#[test]
fn nothing_leaps_over_a_start() {
    let faster_after = |starts: fn(&mut Made)| {
        let mut made = Made::van();
        made.until(2050);
        starts(&mut made);
        made.speed = 60.0;
        made.until(4000);
        told(&made).leaps.len()
    };
    assert_eq!(faster_after(|_| {}), 1);
    assert_eq!(faster_after(|made| made.restart = true), 0);
    let dip = |made: &mut Made| {
        made.powered = false;
        made.run(450);
        (made.powered, made.restart) = (true, true);
    };
    assert_eq!(faster_after(dip), 0);
}

/// A speed that differs by more than 2 km/h and what 40 km/h/s down or 25 up make of the time since the last: for 500 ms to
/// wait is right. The speed changes from 20 km/h at 2000 ms, 100 or 200 ms after the answer before.
#[test]
fn a_leap_leaves_the_speed_in_doubt_for_half_a_second() {
    let doubted = |since_ms: u32, kmh: f64| {
        let mut made = flagged(spec("van.toml"));
        made.until(2010 - since_ms);
        made.link[0] = false;
        made.until(2000);
        (made.link[0], made.speed) = (true, kmh);
        made.until(2600);
        excuses(&lets_go(made)).other_ms
    };
    // 40 · 0.1 + 2 = 6 km/h down, 25 · 0.1 + 2 = 4.5 km/h up; 10 and 7 km/h in 200 ms.
    for (since_ms, kmh) in [(100, 14.0), (100, 24.0), (200, 10.0), (200, 27.0), (100, 20.0)] {
        assert_eq!(doubted(since_ms, kmh), None, "{kmh} km/h after {since_ms} ms");
    }
    for (since_ms, kmh) in [(100, 13.0), (100, 25.0), (200, 9.0), (200, 28.0)] {
        assert_eq!(doubted(since_ms, kmh), Some(2490), "{kmh} km/h after {since_ms} ms");
    }
}
