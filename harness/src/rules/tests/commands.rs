//! The rules on single commands and on pairs of them.

use super::made::Made;
use crate::signal::Direction::{Down, Up};
use std::f64::consts::TAU;

const FRESH: &str = "fresh data at every command";
const FLOOR: &str = "rpm floor after upshift";
const OVER: &str = "over-rev after downshift";
const FIRST: &str = "never commands first";
const SHIFTING: &str = "not while shifting";
const DWELL: &str = "opposite-shift dwell";

/// The van's engine speed by hand: n = v/(3.6·r)·i·60/2π, r = 0.375 m, final drive 3.70.
pub(super) fn rpm(ratio: f64, kmh: f64) -> f64 {
    kmh / (3.6 * 0.375) * ratio * 3.70 * 60.0 / TAU
}

/// Speed and pedal arrive last at 2000 ms, sampled at 1980 ms. 500 ms and one tick are allowed; in truth the link's
/// longest answer of 50 ms more.
#[test]
fn old_data() {
    let command_at = |ms: u32| {
        let mut made = Made::engaged();
        made.speed = 45.0;
        made.until(2010);
        made.link = [false; 2];
        made.until(ms);
        made.pulse(Up, 100);
        made
    };
    let kept = command_at(2510);
    kept.seen(FRESH, 0.0);
    kept.truth(FRESH, 0.03, 0.0);
    assert_eq!(kept.measure(FRESH).reached[..2], [1, 1]);
    let broken = command_at(2520);
    broken.seen(FRESH, -0.01);
    assert_eq!(broken.broken(), [FRESH]);
    assert!(command_at(2550).truth(FRESH, -0.01, 0.0).broken());
}

/// Answers on the way for 0.8 s arrive fresh: old in truth, and nothing that the box reads tells.
#[test]
fn data_that_were_long_on_the_way_are_not_the_boxes_doing() {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(2500);
    made.pulse(Up, 100);
    made.recording.delivered.iter_mut().for_each(|d| d.sampled_ms = d.sampled_ms.saturating_sub(780));
    assert!(!made.measure(FRESH).seen.unwrap().broken());
    let truth = made.measure(FRESH).truth.unwrap();
    assert!(truth.broken() && truth.unknowable, "{truth:?}");
}

/// One old value is enough.
#[test]
fn the_older_of_speed_and_pedal_counts() {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(2010);
    made.link[1] = false;
    made.until(2700);
    made.pulse(Up, 100);
    made.seen(FRESH, -0.19);
}

/// 2>3 at 39 km/h read lands at 39·38.21 = 1490 rpm, at 40 km/h at 1528 rpm; the floor is 1500 rpm.
#[test]
fn an_upshift_below_the_floor() {
    let up_at = |kmh: f64| {
        let mut made = Made::engaged();
        made.speed = kmh;
        made.until(1500);
        made.shift(Up);
        made.run(500);
        made
    };
    let broken = up_at(39.5);
    broken.seen(FLOOR, rpm(1.46, 39.0) - 1500.0);
    // In truth 39.5 km/h: above the floor.
    broken.truth(FLOOR, rpm(1.46, 39.5) - 1500.0, rpm(1.46, 1.0));
    // The line lies at 43 km/h.
    assert_eq!(broken.broken(), [FLOOR, "only on the line"]);
    let mut kept = up_at(40.0);
    kept.seen(FLOOR, rpm(1.46, 40.0) - 1500.0);
    kept.spec.limits.rpm_floor.0 = rpm(1.46, 40.0);
    kept.seen(FLOOR, 0.0);
    assert_eq!(kept.measure(FLOOR).reached[..2], [1, 0]);
    // A downshift asks nothing of this rule.
    let mut down = Made::engaged();
    down.shift(Down);
    down.nothing(FLOOR);
}

/// The gearbox goes on to fourth by itself, 60 ms after the box's tap for third: a tap asks for one step, so what lands at
/// 45·28.27 = 1272 rpm is no upshift of the box's.
#[test]
fn a_shift_by_two_steps_is_not_the_boxes() {
    let lands_in = |gear: u8| {
        let mut made = Made::engaged();
        made.speed = 45.0;
        made.until(1500);
        made.contacts.up = true;
        made.run(60);
        made.shifts_to = Some(gear);
        made.run(40);
        made.contacts.up = false;
        made.run(560);
        (made.gear, made.shifts_to) = (gear, None);
        made.run(500);
        made
    };
    assert_eq!(lands_in(4).measure(FLOOR).truth, None);
    lands_in(4).seen(FLOOR, rpm(1.46, 45.0) - 1500.0);
    lands_in(3).truth(FLOOR, rpm(1.46, 45.0) - 1500.0, rpm(1.46, 1.0));
}

/// Half a km/h lost while the shift runs adds to the tolerance; so the true margin is of the speed at its end.
#[test]
fn what_the_shift_loses_is_tolerated() {
    let mut made = Made::engaged();
    (made.speed, made.pedal) = (40.0, 0.0);
    made.until(1500);
    made.pulse(Up, 100);
    made.shifts_to = Some(3);
    made.run(300);
    made.speed = 37.5;
    made.run(300);
    (made.gear, made.shifts_to) = (3, None);
    made.run(500);
    // 2.5 km/h lost, 1.5 km/h of them and one count tolerated: 37.5 + 2.5 km/h lands above the floor.
    assert!(!made.truth(FLOOR, rpm(1.46, 37.5) - 1500.0, rpm(1.46, 2.5)).broken());
    assert_eq!(made.measure(FLOOR).reached[1], 1);
}

/// 3>2 at 70 km/h lands at 4049 rpm, at 71 km/h at 4107 rpm; the redline of 4400 rpm less 300 rpm is 4100 rpm.
#[test]
fn a_downshift_into_the_red() {
    let down_at = |kmh: f64| {
        let mut made = Made::engaged();
        made.speed = 60.0;
        made.until(1500);
        made.shift(Up);
        made.speed = kmh;
        made.until(5000);
        made.shift(Down);
        made.run(500);
        made
    };
    let broken = down_at(71.0);
    broken.seen(OVER, 4100.0 - rpm(2.21, 71.0));
    broken.truth(OVER, 4100.0 - rpm(2.21, 71.0), rpm(2.21, 1.0));
    // The line 3>2 lies far below, and in third at 71 km/h an upshift was due.
    assert_eq!(broken.broken(), [OVER, "only on the line", "response deadline"]);
    let mut kept = down_at(70.0);
    kept.seen(OVER, 4100.0 - rpm(2.21, 70.0));
    kept.spec.limits.redline_guard.0 = 4400.0 - rpm(2.21, 70.0);
    kept.seen(OVER, 0.0);
    assert_eq!(kept.measure(OVER).reached[..2], [1, 0]);
    let mut up = Made::engaged();
    up.shift(Up);
    up.nothing(OVER);
}

/// The gearbox refuses: the command is judged as if it had been obeyed.
#[test]
fn protection_earns_no_credit() {
    let mut made = Made::engaged();
    made.speed = 60.0;
    made.until(1500);
    made.shift(Up);
    made.speed = 75.0;
    made.until(5000);
    made.pulse(Down, 100);
    made.run(2000);
    assert!(made.truth(OVER, 4100.0 - rpm(2.21, 75.0), rpm(2.21, 1.0)).broken());
}

/// The lowest gear is 2: out of 2 is one gear too low, out of 3 just kept.
#[test]
fn a_down_command_out_of_second() {
    let mut made = Made::engaged();
    made.until(1500);
    made.pulse(Down, 100);
    made.run(500);
    made.seen(FIRST, -1.0);
    made.truth(FIRST, -1.0, 0.0);
    assert_eq!(made.broken(), [FIRST]);
    let mut kept = Made::engaged();
    kept.speed = 45.0;
    kept.until(1500);
    kept.shift(Up);
    kept.speed = 30.0;
    kept.until(5000);
    kept.shift(Down);
    kept.run(500);
    kept.seen(FIRST, 0.0);
    kept.truth(FIRST, 0.0, 0.0);
    assert_eq!(kept.measure(FIRST).reached[0], 1);
    let mut up = Made::engaged();
    up.shift(Up);
    up.nothing(FIRST);
}

/// The upshift before was refused, so the box may believe in third while second is in: broken in truth only.
#[test]
fn first_by_a_refused_upshift() {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(1500);
    made.pulse(Up, 100);
    made.until(5000);
    made.pulse(Down, 100);
    made.run(500);
    made.seen(FIRST, 0.0);
    assert!(made.truth(FIRST, -1.0, 0.0).unknowable);
}

/// Two upshifts, the second so long after the first; the shift takes 600 ms.
fn two_ups(spacing_ms: u32) -> Made {
    let mut made = Made::engaged();
    made.speed = 75.0;
    made.until(2000);
    if spacing_ms >= 700 {
        made.shift(Up);
    } else {
        made.pulse(Up, 100);
        made.shifts_to = Some(3);
    }
    made.until(2000 + spacing_ms);
    made.pulse(Up, 100);
    (made.gear, made.shifts_to) = (made.shifts_to.unwrap_or(made.gear), None);
    made.run(500);
    made
}

/// Without a gear signal 1 s apart, one tick allowed. In truth the shift ends at 2700 ms and settles for 100 ms.
#[test]
fn a_command_into_a_running_shift() {
    two_ups(990).seen(SHIFTING, 0.0);
    two_ups(990).truth(SHIFTING, 0.19, 0.01);
    assert_eq!(two_ups(990).measure(SHIFTING).reached[0], 1);
    let broken = two_ups(980);
    broken.seen(SHIFTING, -0.01);
    assert_eq!(broken.broken(), [SHIFTING]);
    two_ups(800).truth(SHIFTING, 0.0, 0.01);
    assert!(!two_ups(790).truth(SHIFTING, -0.01, 0.01).broken());
    assert!(two_ups(780).truth(SHIFTING, -0.02, 0.01).broken());
    let mut one = Made::engaged();
    one.pulse(Up, 100);
    one.nothing(SHIFTING);
    // Started afresh in the middle of the shift, the box can't know of it: in truth the command comes 0.4 s before the
    // shift ends and 0.1 s more.
    let mut afresh = Made::engaged();
    afresh.until(2000);
    afresh.pulse(Up, 100);
    (afresh.shifts_to, afresh.restart) = (Some(3), true);
    afresh.run(200);
    afresh.pulse(Up, 100);
    afresh.run(300);
    (afresh.gear, afresh.shifts_to) = (3, None);
    afresh.run(500);
    assert_eq!((afresh.measure(SHIFTING).seen, afresh.measure(SHIFTING).reached[0]), (None, 0));
    assert!(afresh.truth(SHIFTING, -0.5, 0.01).unknowable);
}

/// A box that has been reset since its first command, in the tick of 2110 ms, knows of no command; the shift runs all the
/// same, which is nobody's to know.
#[test]
fn a_command_after_a_reset_into_a_shift_from_before() {
    let mut made = Made::engaged();
    made.speed = 75.0;
    made.until(2000);
    made.pulse(Up, 100);
    made.shifts_to = Some(3);
    made.run(10);
    made.restart = true;
    made.until(2500);
    made.pulse(Up, 100);
    (made.gear, made.shifts_to) = (3, None);
    made.run(500);
    let measure = made.measure(SHIFTING);
    assert_eq!((measure.reached[0], measure.seen), (0, None));
    assert!(measure.truth.expect("the shift ran").unknowable);
}

/// A shift that comes 1.4 s late, in fourth until 5.1 s; a gear is read. Until 1.5 s after the first command a box can
/// know that it must still come; then the gearbox has refused, as far as it can tell.
#[test]
fn a_command_into_a_shift_that_comes_late() {
    let again_after = |ms: u32| {
        let mut made = Made::van();
        made.spec.facts.signals.gear = true;
        (made.gear, made.gear_read) = (3, Some(3.0));
        made.take_over();
        made.speed = 60.0;
        made.until(3000);
        made.pulse(Up, 100);
        made.until(4400);
        made.shifts_to = Some(4);
        made.until(3000 + ms);
        made.pulse(Up, 100);
        made.until(5100);
        (made.gear, made.shifts_to) = (4, None);
        made.run(500);
        made
    };
    assert!(!again_after(1480).truth(SHIFTING, -0.72, 0.01).unknowable);
    assert!(again_after(1490).truth(SHIFTING, -0.71, 0.01).unknowable);
}

/// Up at 2000 ms at 45 km/h, down so much later.
fn up_and_down(spacing_ms: u32, between: impl Fn(&mut Made)) -> Made {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(2000);
    made.shift(Up);
    between(&mut made);
    made.until(2000 + spacing_ms);
    made.shift(Down);
    made.run(500);
    made
}

/// 2 s apart, one tick allowed.
#[test]
fn opposite_commands_too_close() {
    up_and_down(1990, |_| ()).seen(DWELL, 0.0);
    // At the limit there is nothing to excuse.
    up_and_down(1990, |made| made.pedal = 60.0).seen(DWELL, 0.0);
    let broken = up_and_down(1980, |_| ());
    broken.seen(DWELL, -0.01);
    // The line 3>2 lies at 27 km/h.
    assert_eq!(broken.broken(), [DWELL, "only on the line"]);
    assert_eq!(broken.measure(DWELL).reached[0], 1);
    two_ups(1500).nothing(DWELL);
    // A box that has started afresh in between can't know of the first.
    up_and_down(1500, |made| made.restart = true).nothing(DWELL);
}

/// A quarter of the pedal, or more than the pair's gap in speed (43 − 27 = 16 km/h at 20 %), excuses it.
#[test]
fn pedal_or_speed_may_want_the_other_gear() {
    let pedal = up_and_down(1500, |made| made.pedal = 45.0);
    assert_eq!((pedal.measure(DWELL).excused, pedal.measure(DWELL).seen), (1, None));
    up_and_down(1500, |made| made.pedal = 44.5).seen(DWELL, -0.49);
    let speed = up_and_down(1500, |made| made.speed = 28.0);
    assert_eq!((speed.measure(DWELL).excused, speed.measure(DWELL).seen), (1, None));
    up_and_down(1500, |made| made.speed = 29.0).seen(DWELL, -0.49);
}
