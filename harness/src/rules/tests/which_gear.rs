//! Rules that hang on the gear: the counted one, the one that a signal tells, the true one; and commands into a shift.

use super::made::{Made, spec};
use crate::signal::Direction::{Down, Up};

const LINE: &str = "only on the line";
const LIGHT: &str = "light-pedal minimum upshift speed";
const FIRST: &str = "never commands first";
const SHIFTING: &str = "not while shifting";

/// The gearbox refuses third, and the gear signal goes on telling second: half a second after its tap a box that asks again
/// at 45 km/h goes by the line 2>3 at 43, not by 3>4 at 57.
#[test]
fn where_a_signal_tells_another_gear_than_the_taps_either_may_be_meant() {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    (made.gear_read, made.pedal) = (Some(2.0), 10.0);
    made.take_over();
    made.speed = 45.0;
    for at_ms in [2000, 2500] {
        made.until(at_ms);
        made.pulse(Up, 100);
    }
    made.seen(LINE, 2.0);
    made.seen(LIGHT, 2.0);
}

/// The line 2>3 of a closed pedal lies at 43 km/h; within 4 km/h is just below it.
#[test]
fn a_foot_that_comes_off_just_below_the_line() {
    for (kmh, counted) in [(38.0, 0), (39.0, 1), (42.0, 1), (43.0, 0)] {
        let mut made = Made::engaged();
        made.speed = kmh;
        made.until(2500);
        made.pedal = 0.0;
        made.run(200);
        assert_eq!(made.measure(LIGHT).reached[..2], [0, counted], "{kmh} km/h");
    }
}

/// The gearbox goes down to second by itself; the box, which reads no gear, counts third and commands down: by what it could
/// know that is second, its lowest, and in truth nobody's fault of order.
#[test]
fn a_down_command_after_the_gearbox_has_gone_down_by_itself() {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(1500);
    made.shift(Up);
    made.speed = 30.0;
    made.until(5000);
    made.shifts_to = Some(2);
    made.run(600);
    (made.gear, made.shifts_to) = (2, None);
    made.until(7000);
    made.pulse(Down, 100);
    made.seen(FIRST, 0.0);
    assert_eq!(made.measure(FIRST).truth, None);
}

/// A shift that comes late, and a second command into it so long after the first.
fn into_a_late_shift(mut made: Made, up: bool, begins_ms: u32, ends_ms: u32, again_ms: u32) -> Made {
    let (direction, to) = if up { (Up, made.gear + 1) } else { (Down, made.gear - 1) };
    made.until(3000);
    made.pulse(direction, 100);
    made.until(begins_ms);
    made.shifts_to = Some(to);
    made.until(3000 + again_ms);
    made.pulse(direction, 100);
    made.until(ends_ms);
    (made.gear, made.shifts_to) = (to, None);
    made.run(500);
    made
}

/// Without a gear signal a box knows no more than the blind time of 1 s after its command, a tick allowed. The shift ends at
/// 4600 ms and settles for 100 ms.
#[test]
fn without_a_gear_signal_the_blind_time_is_all_that_can_be_known() {
    for (again_ms, margin_s, known) in [(980, -0.72, true), (990, -0.71, false), (1300, -0.4, false)] {
        let mut made = Made::engaged();
        made.speed = 60.0;
        let mark = into_a_late_shift(made, true, 3900, 4600, again_ms).truth(SHIFTING, margin_s, 0.01);
        assert_eq!(mark.unknowable, !known, "{again_ms} ms");
    }
}

/// Under a range limit of third, with a gear signal: to a lower limit the gearbox must go, within 1.5 s, so a box that has
/// not seen it can know that it still comes. To a higher limit it goes when it likes.
#[test]
fn a_lower_limit_must_be_obeyed_a_higher_one_need_not() {
    for up in [false, true] {
        let mut made = Made::of(spec("hatch.toml"));
        (made.gear, made.gear_read, made.speed) = (3, Some(3.0), 30.0);
        made.take_over();
        let mark = into_a_late_shift(made, up, 4000, 4700, 1300).truth(SHIFTING, -0.5, 0.01);
        assert_eq!(mark.unknowable, up);
    }
}

/// The shift ends at 2700 ms and has settled at 2800 ms. Of the commands at 2650, 2750, 2800 and 2900 ms the first three are
/// measured, 0.15 s and 0.05 s too early and just in time: none of them further than 0.2 s from the limit. By the second
/// between two commands all are far too close.
#[test]
fn each_command_is_measured_until_the_first_after_the_shift() {
    let mut made = Made::engaged();
    made.speed = 75.0;
    made.until(2000);
    made.pulse(Up, 100);
    made.shifts_to = Some(3);
    made.until(2650);
    made.pulse(Up, 50);
    (made.gear, made.shifts_to) = (3, None);
    for at_ms in [2750, 2800, 2900] {
        made.until(at_ms);
        made.pulse(Up, 40);
    }
    assert_eq!(made.truth(SHIFTING, -0.15, 0.01).at_ms, 2650);
    assert_eq!(made.measure(SHIFTING).close, 3);
}
