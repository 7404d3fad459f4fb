//! A gearbox that refuses: which commands count as refused, which as repeated, and what the box could know of it. 1.5 s
//! are what a shift may take to come, and one repetition is allowed.

use super::commands::rpm;
use super::made::Made;
use crate::signal::Direction::{self, Down, Up};
use crate::signal::{Announcement, Lever};
use crate::spec::facts::OnCause;
use crate::spec::vehicle::{EntryGear, GateMeans};

const SOON: &str = "response deadline";
const REFUSED: &str = "refused shift handled";

/// A box that reads the gear, engaged in second at 45 km/h.
fn in_second() -> Made {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    made.gear_read = Some(2.0);
    made.take_over();
    made.speed = 45.0;
    made
}

/// Up taps at these times, none of them obeyed.
fn tap_up(made: &mut Made, at_ms: &[u32]) {
    for &ms in at_ms {
        made.until(ms);
        made.pulse(Up, 100);
    }
    made.run(2000);
}

/// Three taps are two repetitions, one too many; the gear, or the engine speed of second at 45 km/h, tells that nothing
/// moves. Who reads neither can't know.
#[test]
fn who_can_know_a_refusal() {
    for (gear, engine) in [(true, false), (false, true), (false, false)] {
        let mut made = Made::van();
        (made.spec.facts.signals.gear, made.spec.facts.signals.engine_speed) = (gear, engine);
        made.gear_read = gear.then_some(2.0);
        made.engine_rpm_read = engine.then_some(rpm(2.21, 45.0));
        made.take_over();
        made.speed = 45.0;
        tap_up(&mut made, &[2000, 4000, 6000]);
        if gear || engine {
            let mark = made.truth(REFUSED, -1.0, 0.0);
            assert!(!mark.unknowable, "{gear} {engine}");
            // The third is the one too many.
            assert_eq!(mark.at_ms, 6000, "{gear} {engine}");
            assert_eq!(made.measure(REFUSED).reached[0], 3, "{gear} {engine}");
        } else {
            made.nothing(REFUSED);
        }
    }
}

#[test]
fn a_command_that_is_obeyed_is_none() {
    let mut made = in_second();
    made.until(2000);
    made.shift(Up);
    made.gear_read = Some(3.0);
    made.run(3000);
    made.nothing(REFUSED);
}

/// Obeyed is what begins within 1.5 s of the closing.
#[test]
fn a_shift_that_comes_too_late_was_refused() {
    let begins = |ms: u32| {
        let mut made = in_second();
        made.until(3000);
        made.pulse(Up, 100);
        made.until(ms);
        made.shifts_to = Some(3);
        made.run(600);
        (made.gear, made.gear_read, made.shifts_to) = (3, Some(3.0), None);
        made.run(1000);
        made
    };
    begins(4490).nothing(REFUSED);
    begins(4510).truth(REFUSED, 1.0, 0.0);
    assert_eq!(begins(4510).measure(REFUSED).reached[0], 1);
}

/// A drive that ends before 1.5 s have gone by doesn't tell.
#[test]
fn a_command_at_the_end_may_still_be_obeyed() {
    let ends = |ms: u32| {
        let mut made = in_second();
        made.until(2000);
        made.pulse(Up, 100);
        made.until(ms);
        made
    };
    ends(3500).nothing(REFUSED);
    ends(3510).truth(REFUSED, 1.0, 0.0);
}

/// Up into third, as asked; then fourth is refused.
#[test]
fn a_shift_of_before_obeys_no_later_command() {
    let mut made = in_second();
    made.until(2000);
    made.shift(Up);
    made.gear_read = Some(3.0);
    made.until(4000);
    made.pulse(Up, 100);
    made.run(2000);
    made.truth(REFUSED, 1.0, 0.0);
    assert_eq!(made.measure(REFUSED).reached[0], 1);
}

/// Under a limit of third the gearbox may stay below as it likes: only a limit that stands at the gear, and is lowered,
/// must show.
#[test]
fn what_a_limit_must_show() {
    let taps = |direction: Direction, gear: u8| {
        let mut made = Made::van();
        made.spec.facts.signals.gear = true;
        (made.spec.vehicle.gearbox.gate.means, made.spec.vehicle.gearbox.gate.entry) =
            (GateMeans::RangeLimit, EntryGear::Current);
        (made.gear, made.gear_read) = (gear, Some(3.0));
        made.take_over();
        made.until(3000);
        made.pulse(direction, 100);
        made.run(2000);
        made
    };
    taps(Down, 3).truth(REFUSED, 1.0, 0.0);
    taps(Down, 2).nothing(REFUSED);
    taps(Up, 3).nothing(REFUSED);
    taps(Up, 2).nothing(REFUSED);
}

/// Third is refused, then first: two wishes, each asked for once.
#[test]
fn the_other_way_is_no_repetition() {
    let mut made = in_second();
    made.until(2000);
    made.pulse(Up, 100);
    made.until(4000);
    made.pulse(Down, 100);
    made.run(2000);
    made.truth(REFUSED, 1.0, 0.0);
    assert_eq!(made.measure(REFUSED).reached[0], 2);
}

/// Up into third as asked, back to second by itself, then refused: that command is the first of its kind.
#[test]
fn what_was_obeyed_is_not_repeated() {
    let mut made = in_second();
    made.until(2000);
    made.shift(Up);
    made.gear_read = Some(3.0);
    made.until(3500);
    made.shifts_to = Some(2);
    made.run(600);
    (made.gear, made.gear_read, made.shifts_to) = (2, Some(2.0), None);
    made.until(5000);
    made.pulse(Up, 100);
    made.run(2000);
    made.truth(REFUSED, 1.0, 0.0);
}

/// To know of a refusal the box must have been told the gear since it first asked, the right one, and have waited: 1.5
/// s, or the second that the blind time is, if that is less.
#[test]
fn what_a_box_must_have_read_to_know() {
    let third = |ms: u32| [2000, 2500, ms];
    let third_tap = |taps: [u32; 3], answers_from_2010: Option<f64>, answers_from_2110: Option<f64>| {
        let mut made = in_second();
        made.until(2000);
        made.contacts.up = true;
        made.run(10);
        made.gear_read = answers_from_2010;
        made.run(90);
        made.contacts.up = false;
        made.run(10);
        made.gear_read = answers_from_2110;
        tap_up(&mut made, &taps[1..]);
        made.truth(REFUSED, -1.0, 0.0)
    };
    for (ms, from_2010, from_2110, knows) in [
        (4000, Some(2.0), Some(2.0), true),
        // Told last in the tick of the first tap, or 100 ms after it.
        (4000, None, None, false),
        (4000, Some(2.0), None, true),
        // Told third all the while.
        (4000, Some(3.0), Some(3.0), false),
        (2990, Some(2.0), Some(2.0), false),
        (3000, Some(2.0), Some(2.0), true),
    ] {
        let mark = third_tap(third(ms), from_2010, from_2110);
        assert_eq!((mark.at_ms, !mark.unknowable), (ms, knows), "{ms} {from_2010:?} {from_2110:?}");
    }
}

/// The gearbox refuses third and the box gives up; then the data are lost for 1.3 s, which pauses the box for a second or
/// two. The gearbox is as it was, and so may be what the box thinks of it.
#[test]
fn a_refusal_outlasts_a_loss_of_data() {
    for reaction in [OnCause::PausesMs(1000), OnCause::Disengages] {
        for refused in [true, false] {
            let mut made = Made::van();
            made.spec.facts.signals.gear = true;
            made.spec.facts.lost_data = reaction;
            made.gear_read = Some(2.0);
            made.take_over();
            made.flag = Some(true);
            made.speed = 36.0;
            made.run(500);
            if refused {
                made.speed = 50.0;
                made.run(500);
                made.pulse(Up, 100);
                made.run(3000);
            }
            made.link = [false; 2];
            made.run(1000);
            made.flag = Some(false);
            made.run(300);
            made.link = [true; 2];
            made.speed = 50.0;
            made.run(1200);
            made.flag = Some(reaction != OnCause::Disengages);
            made.run(8000);
            let paused = reaction != OnCause::Disengages;
            assert_eq!(made.broken().contains(&SOON), paused && !refused, "{reaction:?}, refused: {refused}");
        }
    }
}

/// The gearbox refuses third, the box gives up, the lever bounces for 10 ms: the refusal stands. Held out for long enough
/// to disengage it doesn't.
#[test]
fn a_refusal_outlasts_a_bounce_of_the_lever() {
    let asks_again_after = |out_ms: u32| {
        let mut made = Made::van();
        made.spec.facts.signals.gear = true;
        made.gear_read = Some(2.0);
        made.take_over();
        made.flag = Some(true);
        made.speed = 50.0;
        made.run(500);
        made.pulse(Up, 100);
        made.run(3000);
        made.lever = Lever::D;
        made.flag = Some(out_ms == 10);
        made.run(out_ms);
        made.lever = Lever::Gate;
        if out_ms > 10 {
            made.speed = 36.0;
            made.run(1000);
            made.say(Announcement::Engaged);
            made.flag = Some(true);
            made.run(1500);
            made.speed = 50.0;
        }
        made.run(5000);
        made.broken().contains(&SOON)
    };
    assert!(!asks_again_after(10));
    assert!(asks_again_after(500));
}
