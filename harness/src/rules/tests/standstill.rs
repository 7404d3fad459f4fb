//! What forbids a shift of a vehicle that stands, rolls back, or whose engine is off: from which tick to which, and
//! what the box could know of it. A speed read below 3 km/h is a standstill from the second tick on.

use super::made::Made;
use super::map_wants::engaged_in;
use crate::recording::Row;
use crate::signal::Direction::{self, Down, Up};
use crate::signal::Lever;

const STOPPED: &str = "no shift when stopped, reversing or engine off";

/// From then on until the other time what is true is another than what is read.
fn truly(made: &mut Made, from_ms: u32, to_ms: u32, what: impl Fn(&mut Row)) {
    made.recording.rows.iter_mut().filter(|row| (from_ms..to_ms).contains(&row.t_ms)).for_each(what);
}

/// 2 km/h are read from 3000 ms on. In the gate since 500 ms; the command is 2.5 s and more later.
#[test]
fn only_steps_towards_the_lowest_gear_at_standstill() {
    let at_rest = |gear: u8, direction: Direction| {
        let mut made = engaged_in(gear, 6.0);
        made.until(3000);
        made.speed = 2.0;
        made.run(500);
        made.pulse(direction, 100);
        made.run(500);
        made
    };
    at_rest(3, Down).seen(STOPPED, 3.0);
    at_rest(2, Down).seen(STOPPED, -0.49);
    at_rest(3, Up).seen(STOPPED, -0.49);
}

/// Up at 2700 ms; 2 km/h are read from 3000 ms on, which forbids from the next tick on.
#[test]
fn the_time_until_a_standstill() {
    let mut made = engaged_in(3, 6.0);
    made.until(2700);
    made.pulse(Up, 100);
    made.until(3000);
    made.speed = 2.0;
    made.run(500);
    made.seen(STOPPED, 0.31);
    assert_eq!(made.measure(STOPPED).reached[0], 1);
}

/// The vehicle moves from 3000 ms on.
#[test]
fn a_command_within_five_seconds_of_a_standstill() {
    let up_at = |ms: u32| {
        let mut made = engaged_in(3, 2.0);
        made.until(3000);
        made.speed = 6.0;
        made.until(ms);
        made.pulse(Up, 100);
        made.run(500);
        made
    };
    up_at(7990).seen(STOPPED, 4.99);
    assert_eq!(up_at(7990).measure(STOPPED).reached[0], 1);
    assert_eq!(up_at(8010).measure(STOPPED).reached[0], 0);
}

/// The engine stops at 3000 ms. Who reads its speed must have seen it 30 ms later, as after a bounce of the ignition;
/// who doesn't can't know.
#[test]
fn an_engine_that_is_off() {
    let up_at = |ms: u32, reads: bool, stops: bool| {
        let mut made = engaged_in(3, 20.0);
        made.spec.facts.signals.engine_speed = reads;
        (made.engine_rpm_read, made.engine_lives) = (reads.then_some(800.0), true);
        made.until(3000);
        if stops {
            (made.engine_rpm_read, made.engine_lives) = (reads.then_some(0.0), false);
        }
        made.until(ms);
        made.pulse(Up, 100);
        made.run(500);
        if stops {
            truly(&mut made, 3000, u32::MAX, |row| row.truth.engine_on = false);
        }
        made
    };
    let seen = up_at(3500, true, true);
    seen.seen(STOPPED, -0.47);
    assert!(!seen.truth(STOPPED, -0.5, 0.0).unknowable);
    assert!(up_at(3500, false, true).truth(STOPPED, -0.5, 0.0).unknowable);
    assert!(up_at(3020, true, true).truth(STOPPED, -0.02, 0.0).unknowable);
    // While it runs there is nothing that the box couldn't know.
    assert!(!up_at(3500, false, false).truth(STOPPED, 5.0, 0.0).unknowable);
}

/// One second of rolling back, of standing by what is read, or with the engine off, by what is read or in truth.
#[test]
fn standing_long_enough() {
    let reached = |made: &Made| made.measure(STOPPED).reached[1..3].to_vec();
    let driven = |what: fn(&mut Row), ms: u32| {
        let mut made = engaged_in(3, 6.0);
        made.until(6000);
        truly(&mut made, 3000, 3000 + ms, what);
        made
    };
    let rolls: fn(&mut Row) = |row| row.truth.speed_kmh = -5.0;
    let stalls: fn(&mut Row) = |row| row.truth.engine_on = false;
    assert_eq!(reached(&driven(rolls, 0)), [0, 0]);
    assert_eq!(reached(&driven(rolls, 990)), [0, 0]);
    assert_eq!(reached(&driven(rolls, 1000)), [1, 0]);
    assert_eq!(reached(&driven(stalls, 990)), [0, 0]);
    assert_eq!(reached(&driven(stalls, 1000)), [0, 1]);
    let mut stands = engaged_in(3, 6.0);
    stands.until(3000);
    stands.speed = 2.0;
    stands.run(2000);
    assert_eq!(reached(&stands), [1, 0]);
    let mut reads_none = engaged_in(3, 6.0);
    reads_none.spec.facts.signals.engine_speed = true;
    reads_none.until(3000);
    reads_none.engine_rpm_read = Some(0.0);
    reads_none.run(2000);
    assert_eq!(reached(&reads_none), [0, 1]);
}

/// The pedal is answered from 1700 ms on only, so the box may be engaged from 200 ms less a tick after that on, and
/// until the driver taps at 5000 ms. Rolling back before or after is none of its affair.
#[test]
fn only_an_engaged_box_is_put_to_the_test() {
    let rolls = |from_ms: u32, to_ms: u32| {
        let mut made = Made::van();
        made.link[1] = false;
        made.run(500);
        made.lever = Lever::Gate;
        made.until(1700);
        made.link[1] = true;
        made.until(5000);
        made.taps.down = true;
        made.run(100);
        made.taps.down = false;
        made.until(8000);
        truly(&mut made, from_ms, to_ms, |row| row.truth.speed_kmh = -5.0);
        made.measure(STOPPED).reached[1]
    };
    assert_eq!(rolls(500, 1890), 0);
    assert_eq!(rolls(500, 1900), 1);
    assert_eq!(rolls(4990, 7000), 1);
    assert_eq!(rolls(5000, 7000), 0);
}
