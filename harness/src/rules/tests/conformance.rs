//! The rules on what the map asks for. The van's lines up to 20 % pedal: 2>3 43, 3>4 57, 3>2 27, 4>3 38 km/h; with the
//! pedal on the floor 4>3 88 km/h. An answer takes 5 to 50 ms, so three updates are 3·100 + 45 ms, and a tick: 355 ms.

use super::made::Made;
use crate::signal::Content;
use crate::signal::Direction::{Down, Up};
use crate::signal::Signal;
use crate::spec::pedal::PedalStops;
use crate::units::Rpm;

const LINE: &str = "only on the line";
const SOON: &str = "response deadline";
const SETTLES: &str = "settles on map gear";
const LIGHT: &str = "light-pedal minimum upshift speed";
const COASTING: &str = "coasting downshift";
const KICK: &str = "kickdown";
const DOWNHILL: &str = "keeps the gear downhill";

/// In fourth at 61 km/h and 20 % pedal since long, at 10 s.
pub(super) fn in_fourth() -> Made {
    let mut made = to_third();
    made.until(4500);
    made.shift(Up);
    made.until(10_000);
    made
}

/// Up into third on the line at 2.5 s, and on to 61 km/h at 20 km/h a second.
pub(super) fn to_third() -> Made {
    let mut made = Made::engaged();
    made.speed = 43.0;
    made.until(2500);
    made.shift(Up);
    while made.speed < 60.0 {
        made.speed += 2.0;
        made.run(100);
    }
    made
}

/// Slows by 1 km/h at each update.
pub(super) fn slow_to(made: &mut Made, kmh: f64) {
    while made.speed > kmh {
        made.speed -= 1.0;
        made.run(100);
    }
}

#[test]
fn an_upshift_below_its_line() {
    let up_at = |kmh: f64| {
        let mut made = Made::engaged();
        made.speed = kmh;
        made.until(2000);
        made.shift(Up);
        made.run(500);
        made
    };
    up_at(43.0).seen(LINE, 0.0);
    assert_eq!(up_at(43.0).measure(LINE).reached[..2], [1, 0]);
    up_at(42.0).seen(LINE, -1.0);
    assert_eq!(up_at(42.0).broken(), [LINE]);
    Made::engaged().nothing(LINE);
}

#[test]
fn a_downshift_above_its_line() {
    let down_at = |kmh: f64| {
        let mut made = in_fourth();
        slow_to(&mut made, kmh);
        made.run(500);
        made.shift(Down);
        made
    };
    // The two upshifts lie 17 and 3 km/h beyond their lines.
    down_at(38.0).seen(LINE, 0.0);
    down_at(39.0).seen(LINE, -1.0);
}

/// The last 43 km/h gives way at 2000 ms: it counts for 355 ms more.
#[test]
fn a_wish_that_has_just_passed_is_a_reason_still() {
    let up_after = |ms: u32| {
        let mut made = Made::engaged();
        made.speed = 43.0;
        made.until(2000);
        made.speed = 42.0;
        made.run(ms);
        made.shift(Up);
        made
    };
    up_after(350).seen(LINE, 0.0);
    up_after(360).seen(LINE, -1.0);
}

/// At 2500 ms 44 km/h are read, 1 km/h beyond the line.
#[test]
fn an_upshift_in_time() {
    let up_after = |ms: u32| {
        let mut made = Made::engaged();
        made.speed = 42.0;
        made.until(2500);
        made.speed = 44.0;
        made.run(ms);
        made.shift(Up);
        made
    };
    let kept = up_after(350);
    assert_eq!(kept.seen(SOON, 0.005).at_ms, 2500);
    assert_eq!(kept.measure(SOON).reached[..2], [1, 0]);
    up_after(360).seen(SOON, -0.005);
    assert_eq!(up_after(360).broken(), [SOON]);
    // At once: the whole time is left. Never: as late as one looks.
    up_after(0).seen(SOON, 0.355);
    let mut never = Made::engaged();
    never.speed = 42.0;
    never.until(2500);
    never.nothing(SOON);
    never.speed = 44.0;
    never.until(3000);
    never.seen(SOON, 0.355 - 0.5);
}

/// One count beyond, falling speed, a wish that ends: no obligation.
#[test]
fn no_response_is_due_where_a_careful_box_may_wait() {
    let mut made = Made::engaged();
    for (kmh, ms) in [(42.0, 1500), (43.0, 2000), (46.0, 300), (42.0, 1000)] {
        made.speed = kmh;
        made.run(ms);
    }
    made.nothing(SOON);
    // The link loses all answers from 2600 ms on.
    let mut lossy = Made::engaged();
    lossy.speed = 42.0;
    lossy.until(2500);
    lossy.speed = 44.0;
    lossy.run(100);
    lossy.link = [false; 2];
    lossy.run(600);
    lossy.nothing(SOON);
    // Twice the blind time after the command before it is still asked for, and excused until then.
    let mut held = to_third();
    held.until(4400);
    held.shift(Up);
    assert!(held.measure(SOON).seen.is_none_or(|m| m.margin >= 0.0));
}

/// The gearbox goes to third by itself until 3100 ms. The count has 2 s to settle, then 1 s passes as after a command: from
/// 6090 ms on (the shift was seen last at 3090 ms) the next upshift is due.
#[test]
fn a_shift_that_the_box_did_not_ask_for_takes_time_to_understand() {
    let mut made = Made::engaged();
    made.gear_read = Some(2.0);
    made.speed = 42.0;
    made.until(2500);
    made.shifts_to = Some(3);
    made.run(600);
    (made.gear, made.gear_read, made.shifts_to) = (3, Some(3.0), None);
    made.speed = 59.0;
    made.until(6080);
    made.nothing(SOON);
    made.until(6590);
    assert_eq!(made.seen(SOON, 0.355 - 0.5).at_ms, 6090);
}

/// At rest at 36 km/h in fourth, 2 km/h below the line: 3 s and a tick.
#[test]
fn the_gear_at_rest() {
    let down_after = |ms: u32| {
        let mut made = in_fourth();
        slow_to(&mut made, 36.0);
        made.run(ms);
        made.shift(Down);
        made.run(5000);
        made
    };
    // 37 km/h is just 1 km/h from the line; the stretch begins with the update that reads 36 km/h, 100 ms before the wait.
    let kept = down_after(2900);
    kept.seen(SETTLES, 0.01);
    assert!(kept.measure(SETTLES).reached[0] >= 1 && kept.measure(SETTLES).reached[1] >= 1);
    assert!(!kept.broken().contains(&SETTLES));
    assert!(down_after(3300).broken().contains(&SETTLES));
    // 100 ms later is 100 ms less.
    down_after(3000).seen(SETTLES, -0.09);
    Made::engaged().nothing(SETTLES);
}

/// In second at 50 km/h, beyond the line to third at 43. Whether the gear signal stands because nothing shifts or because
/// it is frozen, a box that has asked for third and not been shown it may wait; one that never asks may not.
#[test]
fn a_gear_signal_that_stands_after_a_command() {
    let rests = |asks: bool, moves: bool| {
        let mut made = Made::van();
        made.spec.facts.signals.gear = true;
        made.gear_read = Some(2.0);
        made.take_over();
        made.speed = 50.0;
        made.run(500);
        if asks {
            made.shift(Up);
        }
        if moves {
            made.gear_read = Some(3.0);
        }
        made.run(8000);
        made
    };
    for (asks, moves, settles) in [(true, true, true), (true, false, true), (false, false, false)] {
        assert_eq!(!rests(asks, moves).broken().contains(&SETTLES), settles, "{asks} {moves}");
    }
}

#[test]
fn a_light_pedal() {
    let up_at = |kmh: f64, pedal: f64| {
        let mut made = Made::engaged();
        (made.speed, made.pedal) = (kmh, pedal);
        made.until(2000);
        made.shift(Up);
        made
    };
    up_at(43.0, 15.0).seen(LIGHT, 0.0);
    up_at(42.0, 15.0).seen(LIGHT, -1.0);
    up_at(42.0, 16.0).nothing(LIGHT);
    // Foot off at 42 km/h, 1 km/h below the line.
    let mut lift = Made::engaged();
    lift.speed = 42.0;
    lift.until(2500);
    lift.pedal = 0.0;
    lift.run(500);
    assert_eq!(lift.measure(LIGHT).reached[..2], [0, 1]);
}

/// Line 38 km/h, window 5, one count: 32 km/h is the least.
#[test]
fn rolling_out() {
    let down_at = |kmh: f64| {
        let mut made = in_fourth();
        made.pedal = 0.0;
        slow_to(&mut made, kmh);
        made.shift(Down);
        made
    };
    down_at(32.0).seen(COASTING, 0.0);
    down_at(31.0).seen(COASTING, -1.0);
    down_at(39.0).seen(COASTING, -1.0);
    assert!(down_at(32.0).measure(COASTING).reached[0] >= 1);
    // Not at all.
    let mut never = in_fourth();
    never.pedal = 0.0;
    slow_to(&mut never, 20.0);
    never.seen(COASTING, -12.0);
    let mut pulled = in_fourth();
    slow_to(&mut pulled, 31.0);
    pulled.shift(Down);
    pulled.nothing(COASTING);
}

/// Five updates from the second on, six from the first: 6·100 + 45 ms and a tick.
#[test]
fn the_pedal_on_the_floor() {
    let kick = |pedal: f64, ms: u32| {
        let mut made = in_fourth();
        made.pedal = pedal;
        made.run(ms);
        made.shift(Down);
        made
    };
    assert_eq!(kick(100.0, 650).seen(KICK, 0.005).at_ms, 10_000);
    kick(100.0, 660).seen(KICK, -0.005);
    assert_eq!(kick(100.0, 660).broken(), [KICK]);
    assert_eq!(kick(100.0, 650).measure(KICK).reached[0], 1);
    kick(89.0, 100).nothing(KICK);
    // Taken back: the hold is 1 s.
    let back = |ms: u32| {
        let mut made = kick(100.0, 200);
        made.run(ms - 700);
        made.shift(Up);
        made
    };
    back(990).seen(KICK, 0.0);
    back(980).seen(KICK, -0.01);
}

/// The same drive on a pedal that reads 20 % released and 80 % floored: codes 51 and 204 of 255. The floor reads 80 %, and
/// 89 % of the travel 73.4 %.
#[test]
fn kickdown_by_the_travel_of_the_pedal() {
    let between_stops = |pedal: f64, ms: u32| {
        let mut made = in_fourth();
        made.pedal = pedal;
        made.run(ms);
        made.shift(Down);
        for d in made.recording.delivered.iter_mut().filter(|d| d.answer.signal == Signal::Pedal) {
            if let Content::Value(pct) = &mut d.answer.content {
                *pct = 20.0 + 0.6 * *pct;
            }
        }
        made.spec.link.pedal_stops = PedalStops { released: 51, floored: 204 };
        made
    };
    assert_eq!(between_stops(100.0, 650).seen(KICK, 0.005).at_ms, 10_000);
    between_stops(100.0, 660).seen(KICK, -0.005);
    assert_eq!(between_stops(100.0, 660).broken(), [KICK]);
    between_stops(89.0, 100).nothing(KICK);
    // By the whole byte 80 % is no kickdown.
    let mut made = between_stops(100.0, 660);
    made.spec.link.pedal_stops = PedalStops::WHOLE;
    made.nothing(KICK);
}

/// In second at 57.84 rpm per km/h.
#[test]
fn downhill() {
    let up = |pedal: f64, rises: bool| {
        let mut made = Made::engaged();
        made.spec.limits.downhill_rpm = Some(Rpm(3500.0));
        made.pedal = pedal;
        made.speed = 40.0;
        made.until(2500);
        for _ in 0..6 {
            made.speed += if rises { 1.0 } else { 0.0 };
            made.run(500);
        }
        made.shift(Up);
        made
    };
    let rpm = 2.21 * 3.70 * 60.0 / std::f64::consts::TAU / (3.6 * 0.375) * 46.0;
    up(0.0, true).seen(DOWNHILL, rpm + 50.0 - 3500.0);
    assert_eq!(up(0.0, true).measure(DOWNHILL).reached[..2], [1, 1]);
    let mut just = up(0.0, true);
    just.spec.limits.downhill_rpm = Some(Rpm(rpm + 50.0));
    just.seen(DOWNHILL, 0.0);
    up(10.0, true).nothing(DOWNHILL);
    up(0.0, false).nothing(DOWNHILL);
}
