//! Speed and pedal that stand still or only dither, to the tick and to the count. The van's lines up to 20 % pedal: 2>3
//! 43, 3>4 57, 4>5 73, 5>6 84, 3>2 27, 4>3 38, 5>4 52, 6>5 64 km/h.

use super::conformance::{in_fourth, slow_to};
use super::made::Made;
use crate::signal::Direction::{Down, Up};
use crate::signal::Lever;
use crate::spec::vehicle::EntryGear;
use crate::units::{Kmh, Ms};

const SETTLES: &str = "settles on map gear";
const DITHER: &str = "dither immunity";

/// Into the gate in this gear at a speed that stays. It says so at 800 ms, so that the clock starts after the 500 ms in
/// which nothing is commanded, at 1300 ms. It is 1000 ms.
fn rests(gear: u8, kmh: f64) -> Made {
    let mut made = Made::van();
    made.spec.limits.engagement_speed_ceiling = Kmh(100.0);
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(gear);
    (made.gear, made.speed) = (gear, kmh);
    made.take_over();
    made
}

/// Second at 60 km/h is two steps from fourth, the first gear that the map leaves alone: 3 s, one more for the second
/// step, and a tick.
/// With a round of 300 ms an answer is 350 ms old before the next comes: the car rests all the same. Where a round is to
/// take 100 ms, answers so old tell of a link that fails.
#[test]
fn a_slow_link_lets_the_car_rest_too() {
    let rests = |period_ms: f64| {
        let mut made = Made::engaged();
        made.spec.link.period = Ms::new(period_ms);
        made.speed = 35.0;
        made.until(3000);
        for _ in 0..30 {
            made.link = [true; 2];
            made.run(100);
            made.link = [false; 2];
            made.run(200);
        }
        made.measure("settles on map gear").reached[0]
    };
    assert_eq!((rests(300.0), rests(100.0)), (1, 0));
    // In the last tick before the next one it is 290 ms old: a round of 230 ms, 50 ms on its way and a tick allow for that.
    assert_eq!((rests(230.0), rests(229.0)), (1, 0));
}

#[test]
fn the_second_step_has_a_second_more() {
    let mut made = rests(2, 60.0);
    made.until(5310);
    assert_eq!(made.seen(SETTLES, 0.0).at_ms, 1300);
    made.run(10);
    made.seen(SETTLES, -0.01);
    // Sixth is one step below its line of 64 km/h, third one above its own of 57; the map leaves fifth alone. After 5
    // s:
    for (gear, left_s) in [(6, 3.01 - 5.0), (5, 3.01), (3, 3.01 - 5.0), (2, 4.01 - 5.0)] {
        let mut made = rests(gear, 60.0);
        made.until(6300);
        made.seen(SETTLES, left_s);
    }
}

/// In fourth at 60 km/h the map asks for nothing: 3 s of it are the situation, and all of the time is left.
#[test]
fn three_seconds_at_rest_are_the_situation() {
    let mut made = rests(4, 60.0);
    made.until(4290);
    made.nothing(SETTLES);
    made.run(10);
    assert_eq!(made.measure(SETTLES).reached[..2], [1, 0]);
    assert_eq!(made.seen(SETTLES, 3.01).at_ms, 1300);
}

/// More than 3 km/h above the limit of a standstill, which is 3 km/h, the vehicle surely moves; and within 1 km/h of a
/// line nothing rests.
#[test]
fn where_nothing_rests() {
    for kmh in [0.0, 4.0, 6.0, 42.0, 43.0, 44.0] {
        let mut made = rests(2, kmh);
        made.until(9000);
        made.nothing(SETTLES);
    }
    for kmh in [7.0, 8.0, 9.0, 41.0] {
        let mut made = rests(2, kmh);
        made.until(9000);
        made.seen(SETTLES, 3.01);
    }
}

/// From 20 to 60 km/h in one reading at 3 s: a speed that leaps may be doubted for twice 500 ms, so the clock starts at
/// 4 s. Two steps are 4.01 s.
#[test]
fn after_a_leap_the_clock_starts_a_second_later() {
    let mut made = rests(2, 20.0);
    made.until(3000);
    made.speed = 60.0;
    made.until(8010);
    assert_eq!(made.seen(SETTLES, 0.0).at_ms, 4000);
}

/// The last answers arrive at 5 s. Half of the 500 ms for which data are fresh the box surely goes by them: from 1300
/// to 5260 ms, with the tick. Of 4.01 s that leaves 50 ms.
#[test]
fn old_data_are_no_rest() {
    let mut made = rests(2, 60.0);
    made.until(5010);
    made.link = [false; 2];
    made.until(5900);
    made.seen(SETTLES, 0.05);
}

/// The driver taps and hands over anew: then the clock starts again, 500 ms after it has said so at 5800 ms.
#[test]
fn after_a_tap_and_a_new_take_over_it_rests_again() {
    let mut made = rests(2, 60.0);
    made.until(2000);
    made.taps.up = true;
    made.run(10);
    made.taps.up = false;
    made.until(5000);
    made.lever = Lever::D;
    made.take_over();
    made.until(6300 + 4010);
    assert_eq!(made.seen(SETTLES, 0.0).at_ms, 6300);
}

/// The box counts fourth, in which all is well. The gearbox is in sixth, one step off, and no box could know; in fourth
/// it is as well in truth, and could be known. While a shift runs the gear of before is no secret.
#[test]
fn a_true_gear_that_is_off_could_be_known_or_not() {
    let truly_in = |gear: u8| {
        let mut made = rests(4, 60.0);
        made.until(1300);
        made.gear = gear;
        made.until(4300);
        made
    };
    assert!(truly_in(6).truth(SETTLES, 0.01, 1.0).unknowable);
    assert!(!truly_in(4).truth(SETTLES, 3.01, 1.0).unknowable);
    let mut shifting = rests(4, 60.0);
    shifting.until(2000);
    (shifting.gear, shifting.shifts_to) = (3, Some(4));
    shifting.run(1000);
    (shifting.gear, shifting.shifts_to) = (4, None);
    shifting.until(5000);
    assert!(!shifting.truth(SETTLES, 2.01, 1.0).unknowable);
}

/// The speed read flips between 42 and 43 km/h, the pedal between 20 % and so much more: two counts of 0.4 % either
/// side are a dither, not more. The line 2>3 is at 43 km/h, and at 22 % at 43.8.
#[test]
fn a_pedal_that_swings_further_is_no_dither() {
    let swings = |pct: f64| {
        let mut made = Made::engaged();
        made.until(2000);
        for second in 0..65 {
            let odd = f64::from(second % 2);
            (made.speed, made.pedal) = (42.0 + odd, 20.0 + pct * odd);
            made.run(1000);
        }
        made
    };
    swings(1.5).seen(DITHER, 1.0);
    swings(2.0).nothing(DITHER);
}

/// 42 and 43 km/h from 2 s on lie about 2>3 and about no line of third. The contact closes at 1970 ms, before the dither,
/// and counts as a tap 40 ms later, right after its first reading. Second is a gear of that dither whether it was known at
/// first or later.
#[test]
fn each_gear_known_in_a_dither_counts() {
    for (gear, direction) in [(2, Up), (3, Down)] {
        let mut made = rests(gear, 20.0);
        made.until(1970);
        (made.contacts.up, made.contacts.down) = (direction == Up, direction == Down);
        made.run(30);
        made.speed = 42.0;
        made.run(70);
        (made.contacts.up, made.contacts.down) = (false, false);
        for second in 0..65 {
            made.speed = 42.0 + f64::from(second % 2);
            made.run(1000);
        }
        made.seen(DITHER, 1.0);
        assert_eq!(made.measure(DITHER).reached[0], 1);
    }
}

/// A dither of less than 5 s tells nothing, whatever is shifted in it: up and down again is one shift more than
/// allowed.
#[test]
fn a_short_dither_is_none() {
    let dithers_for = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.speed = 42.0;
        made.run(500);
        made.shift(Up);
        made.speed = 43.0;
        made.until(5500);
        made.shift(Down);
        made.until(2000 + ms);
        made.speed = 60.0;
        made.run(500);
        made
    };
    assert_eq!(dithers_for(5000).seen(DITHER, -1.0).at_ms, 5500);
    dithers_for(4900).nothing(DITHER);
}

/// The limiter of the van works from 50 r/min below the redline on, at 4350 r/min: told when the engine is there for more
/// than a second of a rest.
#[test]
fn at_rest_with_the_engine_at_its_limiter() {
    let limited_for = |ticks: usize, rpm: f64| {
        let mut made = in_fourth();
        slow_to(&mut made, 36.0);
        made.run(8000);
        let last = made.recording.rows.len() - 100;
        for row in &mut made.recording.rows[last - ticks..last] {
            row.truth.engine_rpm = rpm;
        }
        made.measure(SETTLES).reached[2]
    };
    assert_eq!(limited_for(101, 4350.0), 1);
    assert_eq!(limited_for(100, 4350.0), 0);
    assert_eq!(limited_for(101, 4349.0), 0);
}
