//! Pulses cut short, times at which no shift is legal, and counts that are off, to the tick.

use super::made::Made;
use crate::signal::Direction::Up;
use crate::signal::{Announcement, Lever};

const TAP: &str = "one step per tap";
const STOPPED: &str = "no shift when stopped, reversing or engine off";
const COUNT: &str = "counted gear agrees";

/// A contact closes for three ticks; in the third of them something happens. Until then it has been closed for 20 ms,
/// and 250 ms and a tick are allowed; that it opens 10 ms later is right.
#[track_caller]
fn cut_short(mut made: Made, happens: fn(&mut Made)) {
    made.contacts.up = true;
    made.run(20);
    happens(&mut made);
    made.run(10);
    made.contacts.up = false;
    made.run(500);
    made.seen(TAP, 0.24);
    assert_eq!(made.measure(TAP).reached[..2], [1, 1]);
}

#[test]
fn what_cuts_a_pulse_short() {
    let engaged = || {
        let mut made = Made::engaged();
        made.until(2000);
        made
    };
    cut_short(engaged(), |made| made.flag = Some(false));
    cut_short(engaged(), |made| made.say(Announcement::Disengaged));
    cut_short(engaged(), |made| made.say(Announcement::Fault));
    cut_short(engaged(), |made| made.ignition = false);
    cut_short(engaged(), |made| made.taps.down = true);
    // With the lever in the gate from the start nothing else tells of a reset: the box may not command before nor
    // after.
    let mut made = Made::van();
    made.lever = Lever::Gate;
    made.run(200);
    cut_short(made, |made| made.restart = true);
}

/// The engine dies in the third tick, though nothing that the box reads tells.
#[test]
fn an_engine_that_dies_cuts_a_pulse_short() {
    let mut made = Made::engaged();
    made.until(2000);
    made.pulse(Up, 30);
    made.run(500);
    made.recording.rows.iter_mut().filter(|row| row.t_ms >= 2020).for_each(|row| row.truth.engine_on = false);
    made.seen(TAP, 0.24);
    assert_eq!(made.measure(TAP).reached[..2], [1, 1]);
}

/// A contact that is still closed as the recording ends has been so to the end of its last tick.
#[test]
fn a_pulse_that_never_ends() {
    let closed_for = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.contacts.up = true;
        made.run(ms);
        made
    };
    closed_for(260).seen(TAP, 0.0);
    closed_for(270).seen(TAP, -0.01);
}

/// The ignition goes off at 2000 ms and comes back at 2500 ms; one that is off for less than 30 ms may be a bounce. A
/// command at 2020 ms is 10 ms before that, one at 2100 ms 70 ms after.
#[test]
fn a_command_as_the_ignition_goes_off() {
    let command_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.ignition = false;
        made.until(ms);
        made.pulse(Up, 60);
        made.until(2500);
        made.ignition = true;
        made.run(500);
        made
    };
    command_at(2020).seen(STOPPED, 0.01);
    assert_eq!(command_at(2100).seen(STOPPED, -0.07).at_ms, 2100);
}

/// The engine is off in truth in one tick, from 2000 to 2010 ms; the command comes 40 ms later.
#[test]
fn an_engine_that_is_off_for_a_tick() {
    let mut made = Made::engaged();
    made.until(2050);
    made.pulse(Up, 60);
    made.run(500);
    made.recording.rows.iter_mut().filter(|row| row.t_ms == 2000).for_each(|row| row.truth.engine_on = false);
    made.truth(STOPPED, 0.04, 0.0);
}

/// Rolling backwards at no more than half a km/h is standing.
#[test]
fn rolling_back_begins_at_half_a_kmh() {
    let up_at = |kmh: f64| {
        let mut made = Made::engaged();
        made.until(2000);
        made.pulse(Up, 100);
        made.run(500);
        made.recording.rows.iter_mut().for_each(|row| row.truth.speed_kmh = kmh);
        made
    };
    up_at(-0.5).truth(STOPPED, 5.0, 0.0);
    up_at(-0.6).truth(STOPPED, -5.0, 0.0);
}

/// A standstill is read at 1000 ms; what has come only in this tick may not have been looked at, so 1 s of it is over
/// at 2010 ms.
#[test]
fn a_second_at_standstill_is_the_situation() {
    let stood_until = |ms: u32| {
        let mut made = Made::engaged();
        made.speed = 2.0;
        made.until(ms);
        made.measure(STOPPED).reached[..3].to_vec()
    };
    assert_eq!(stood_until(2000), [0, 0, 0]);
    assert_eq!(stood_until(2010), [0, 1, 0]);
}

/// In second since 0 ms: at 2000 ms the count has had its 2 s. Third is in at 3700 ms, and has had them at 5700 ms.
#[test]
fn a_gear_change_is_settled_after_two_seconds() {
    let settled = |until_ms: u32| {
        let mut made = Made::engaged();
        if until_ms > 3700 {
            made.until(3000);
            made.shift(Up);
        }
        made.until(until_ms);
        made.measure(COUNT).reached[0]
    };
    assert_eq!([settled(2000), settled(2010), settled(3000)], [0, 1, 1]);
    assert_eq!([settled(5700), settled(5710), settled(9000)], [1, 2, 2]);
}

/// From each of these times on (ms) the box shows this gear.
fn shows(made: &mut Made, gears: &[(u32, u8)]) {
    for row in &mut made.recording.rows {
        row.counted_gear = gears.iter().rev().find(|(from_ms, _)| *from_ms <= row.t_ms).map(|(_, gear)| *gear);
    }
}

/// What a box counts that isn't engaged is nobody's affair, nor that the gearbox goes into third by itself and nothing
/// tells.
#[test]
fn a_count_that_could_not_be_known_is_not_held_against_the_box() {
    let mut out = Made::van();
    out.flag = Some(false);
    out.take_over();
    out.run(5000);
    shows(&mut out, &[(0, 3)]);
    out.nothing(COUNT);
    let mut untold = Made::engaged();
    untold.until(2000);
    untold.gear = 3;
    untold.until(8000);
    shows(&mut untold, &[(0, 2)]);
    untold.truth(COUNT, 2.0, 0.01);
}

/// The gear is read, and the box shows this one for 3 s where 2 s are allowed. From first, which the gearbox launches
/// in, it may show second, its lowest; nothing else, and in no other gear.
#[test]
fn first_may_be_shown_as_second() {
    let in_gear = |gear: u8, shown: u8| {
        let mut made = Made::van();
        made.spec.facts.signals.gear = true;
        (made.gear, made.gear_read) = (gear, Some(f64::from(gear)));
        made.take_over();
        made.until(8000);
        shows(&mut made, &[(0, gear), (3000, shown), (6000, gear)]);
        made
    };
    in_gear(1, 2).truth(COUNT, 2.0, 0.01);
    in_gear(1, 3).truth(COUNT, -1.0, 0.01);
    in_gear(3, 2).truth(COUNT, -1.0, 0.01);
}

/// Off for 1.5 s, right for 0.5 s, and off for 1.5 s: each by itself leaves 0.5 s of 2 s. Without the pause it is 3.5 s
/// in one, however long ago the last command was, with which the box began to show third.
#[test]
fn a_count_that_is_off_twice() {
    let off = |pause: u8| {
        let mut made = Made::engaged();
        made.until(1500);
        made.shift(Up);
        made.until(10_000);
        shows(&mut made, &[(0, 2), (1540, 3), (5000, 2), (6500, pause), (7000, 2), (8500, 3)]);
        made
    };
    off(3).truth(COUNT, 0.5, 0.01);
    off(2).truth(COUNT, -1.5, 0.01);
}

/// Off from 5000 ms on, and a command at 6500 ms: with it the count has its time anew.
#[test]
fn with_a_command_the_count_has_its_time_anew() {
    let mut made = Made::engaged();
    made.until(6500);
    made.shift(Up);
    made.until(8000);
    shows(&mut made, &[(0, 2), (5000, 4), (6600, 3)]);
    made.truth(COUNT, 0.5, 0.01);
}
