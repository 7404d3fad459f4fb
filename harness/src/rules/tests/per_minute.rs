//! What is counted within a minute: shifts in all, turns in a dither, reversals under steady demand.

use super::made::Made;
use crate::signal::Direction::{Down, Up};

const BUSY: &str = "busy-ness";
const DITHER: &str = "dither immunity";
const HUNTING: &str = "hunting count";

/// Up, a stop in third by a gearbox that keeps its gear at rest, down while it pulls away, up again. Ups in a row from
/// standstill are a launch; the down breaks the row, and it leads to no standstill either: three shifts of twelve.
#[test]
fn an_up_after_a_down_is_no_launch_though_the_car_stood_before_both() {
    let mut made = Made::engaged();
    made.spec.vehicle.gearbox.protection.down_below = None;
    for (at_ms, kmh, direction) in [(3000, 45.0, Up), (12_000, 10.0, Down), (16_000, 45.0, Up)] {
        made.until(at_ms - 2000);
        made.speed = kmh;
        made.until(at_ms);
        made.shift(direction);
        made.speed = if at_ms == 3000 { 0.0 } else { made.speed };
    }
    made.seen(BUSY, 12.0 - 3.0);
    assert_eq!(made.measure(BUSY).reached[..2], [0, 1]);
}

/// The second of two ups in a row counts for nothing: the most was reached with the first.
#[test]
fn the_shift_that_was_one_more_is_told_and_not_one_that_follows_it() {
    let mut made = Made::engaged();
    made.speed = 60.0;
    for at_ms in [3000, 5000] {
        made.until(at_ms);
        made.shift(Up);
    }
    assert_eq!(made.seen(BUSY, 12.0 - 1.0).at_ms, 3000);
}

/// The conditions have held for 200 ms with the tick of 690 ms: from then on the box may be engaged. One tick less than a
/// minute is none, two minutes less a tick are one; and what passes in D counts for nothing.
#[test]
fn minutes_of_driving_engaged() {
    let mut made = Made::engaged();
    for (minutes, until_ms) in [(0, 60_680), (1, 60_690), (1, 120_680), (2, 120_690)] {
        made.until(until_ms);
        assert_eq!(made.measure(BUSY).reached[0], minutes, "until {until_ms} ms");
    }
    let mut in_d = Made::van();
    in_d.run(70_000);
    in_d.nothing(BUSY);
}

/// In second or third gear at 20 km/h; from 2 s on the speed read flips each second between a number and the next, for so
/// many seconds; commands at these seconds from then, up and down by turns.
fn dithers(gear: u8, kmh: f64, commands: &[u32], seconds: u32) -> Made {
    let mut made = Made::engaged();
    if gear == 3 {
        made.shift(Up);
    }
    made.until(2000);
    for second in 0..seconds {
        made.speed = kmh + f64::from(second % 2);
        let end_ms = made.now() + 1000;
        if let Some(nth) = commands.iter().position(|&at| at == second) {
            made.shift(if nth % 2 == 0 { Up } else { Down });
        }
        made.until(end_ms);
    }
    made
}

/// Second gear has a line at 43 km/h and third one at 27: a dither is about a line where some pairs ask for the shift and
/// some don't. An up line asks at its speed and above, a down line at its speed and below; 38 km/h is a line of fourth, and
/// leads to third: were there no gap, it would be crossed back.
#[test]
fn a_line_lies_within_a_dither_or_beside_it() {
    for (gear, kmh, about) in [
        (2, 41.0, false),
        (2, 42.0, true),
        (2, 43.0, false),
        (2, 38.0, false),
        (2, 27.0, true),
        (3, 38.0, true),
        (3, 42.0, true),
        (3, 39.0, false),
        (3, 26.0, false),
        (3, 27.0, true),
        (3, 28.0, false),
    ] {
        let made = dithers(gear, kmh, &[], 62);
        if about {
            made.seen(DITHER, 1.0);
            assert_eq!(made.measure(DITHER).reached[0], 1, "gear {gear} at {kmh} km/h");
        } else {
            made.nothing(DITHER);
        }
    }
}

/// From the answer at 2000 ms to the last tick: one tick less than a minute tells nothing yet.
#[test]
fn a_dither_of_a_minute() {
    let mut made = dithers(2, 42.0, &[], 60);
    made.nothing(DITHER);
    made.run(10);
    made.seen(DITHER, 1.0);
    assert_eq!(made.measure(DITHER).reached[0], 1);
}

/// One shift is allowed. A command in the tick that begins the dither is in it, one in the tick that ends it no more, nor
/// one before it.
#[test]
fn which_commands_are_in_a_dither() {
    assert_eq!(dithers(2, 42.0, &[0], 62).seen(DITHER, 0.0).at_ms, 2000);
    let mut ended = dithers(2, 42.0, &[33], 65);
    ended.speed = 60.0;
    ended.shift(Down);
    assert_eq!(ended.seen(DITHER, 0.0).at_ms, 35_000);
    // Up at 1000 ms at 20 km/h, down in the dither about 27 km/h.
    let mut before = dithers(3, 27.0, &[], 40);
    before.shift(Down);
    before.speed = 28.0;
    before.until(65_000);
    assert_eq!(before.seen(DITHER, 0.0).at_ms, 42_000);
}

/// Up at 5 s, down at 66 s: one turn in a minute and then another, of which the first is told.
#[test]
fn turns_further_apart_than_a_minute() {
    assert_eq!(dithers(2, 42.0, &[3, 64], 67).seen(DITHER, 0.0).at_ms, 5000);
    assert_eq!(dithers(2, 42.0, &[3, 62], 67).seen(DITHER, -1.0).at_ms, 64_000);
}

/// Engaged at 45 km/h, with demand steady from a time on: after the run-in of 20 s it counts.
fn steady_from(ms: u32) -> Made {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(ms);
    made.steady = true;
    made
}

/// Up at 55 s. Demand changes with the tick at 60 s: down in it is no reversal under steady demand, a tick sooner it is.
#[test]
fn a_reversal_as_the_demand_changes() {
    let back_at = |ms: u32| {
        let mut made = steady_from(1000);
        made.until(55_000);
        made.shift(Up);
        made.until(ms);
        made.pulse(Down, 60_000 - ms);
        made.steady = false;
        made.shift(Down);
        made
    };
    back_at(60_000).seen(HUNTING, 1.0);
    assert_eq!(back_at(59_990).seen(HUNTING, 0.0).at_ms, 59_990);
}

/// Steady from 1 s, counted from 21 s: a minute is full with the tick before 81 s.
#[test]
fn a_minute_of_steady_driving() {
    let mut made = steady_from(1000);
    made.until(80_990);
    assert_eq!(made.measure(HUNTING).reached[..2], [0, 0]);
    made.until(81_000);
    assert_eq!(made.measure(HUNTING).reached[..2], [1, 0]);
}

/// Steady from 30 s to 115 s. A shift belongs to it from the beginning of its run-in to its last tick.
#[test]
fn a_shift_in_steady_driving_or_its_run_in() {
    for (shift_ms, counts) in [(5000, 0), (29_990, 0), (30_000, 1), (114_990, 1), (115_000, 0)] {
        let mut made = Made::engaged();
        made.speed = 45.0;
        for at_ms in (0..=116_000).step_by(10).filter(|&at_ms| at_ms >= 1000) {
            made.steady = (30_000..115_000).contains(&at_ms);
            made.contacts.up = (shift_ms..shift_ms + 100).contains(&at_ms);
            made.run(10);
        }
        assert_eq!(made.measure(HUNTING).reached[..2], [1, counts], "up at {shift_ms} ms");
    }
}
