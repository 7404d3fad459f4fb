//! Which shifts count as gone the wrong way, which box can tell, and what begins the count anew.

use super::made::{Made, spec};
use crate::rules::{RULES, find};
use crate::signal::Direction::{Down, Up};
use crate::signal::{Announcement, Direction, Lever};

const WRONG: &str = "wrong direction disengages";

/// The van, in fifth at 30 km/h, with a box that reads the gear; engaged, now it is 1000 ms.
fn engaged() -> Made {
    let mut made = reads_gear();
    made.take_over();
    made
}

/// The same in D.
fn reads_gear() -> Made {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    (made.gear, made.gear_read, made.speed) = (5, Some(5.0), 30.0);
    made
}

/// A command of 100 ms, upon which the gearbox goes to a gear, from so long after the closing until 700 ms after it.
/// The gear read follows.
fn answered(made: &mut Made, command: Direction, from_ms: u32, to: u8) {
    made.pulse(command, 100);
    made.run(from_ms - 100);
    made.shifts_to = Some(to);
    made.run(700 - from_ms);
    (made.gear, made.shifts_to, made.gear_read) = (to, None, Some(f64::from(to)));
}

/// Whether a box can tell the way of a shift: by the gear or the engine speed that it reads, and never below a limit,
/// where the gearbox shifts either way by itself.
#[test]
fn which_box_can_tell_the_way_of_a_shift() {
    let rule = &RULES[find(WRONG).unwrap()];
    let why_not = |gear: bool, engine_speed: bool| {
        let mut spec = spec("van.toml");
        (spec.facts.signals.gear, spec.facts.signals.engine_speed) = (gear, engine_speed);
        (rule.cant_judge)(&spec)
    };
    assert!(why_not(false, false).is_some_and(|why| why.contains("neither gear nor engine speed")));
    assert_eq!([why_not(true, false), why_not(false, true), why_not(true, true)], [None, None, None]);
    let hatch = spec("hatch.toml");
    assert!(hatch.facts.signals.gear);
    assert!((rule.cant_judge)(&hatch).is_some_and(|why| why.contains("limit")));
    // Of one that can't, nothing is measured.
    let mut made = engaged();
    made.until(2000);
    answered(&mut made, Up, 100, 4);
    made.run(1000);
    made.truth(WRONG, 1.0, 0.0);
    made.spec.facts.signals.gear = false;
    made.nothing(WRONG);
}

/// A shift answers a command if it begins within 500 ms of it, and neither before it nor with the next one.
#[test]
fn which_shift_answers_a_command() {
    let begins_after = |ms: u32, to: u8| {
        let mut made = engaged();
        made.until(2000);
        answered(&mut made, Up, ms, to);
        made.run(1000);
        made
    };
    begins_after(490, 4).truth(WRONG, 1.0, 0.0);
    begins_after(500, 4).nothing(WRONG);
    begins_after(100, 6).nothing(WRONG);
    // One that began before the command, by itself.
    let mut made = engaged();
    made.until(2000);
    made.shifts_to = Some(4);
    made.run(300);
    made.pulse(Up, 100);
    made.run(300);
    (made.gear, made.shifts_to) = (4, None);
    made.run(1000);
    made.nothing(WRONG);
    // In the tick of the command it does answer it, as far as anybody can tell; in that of the next, it answers the
    // next.
    let two = |begins_ms: u32| {
        let mut made = engaged();
        made.until(2000);
        made.pulse(Down, 100);
        made.until(begins_ms);
        made.shifts_to = Some(6);
        made.until(2300);
        made.pulse(Up, 100);
        made.run(300);
        (made.gear, made.shifts_to) = (6, None);
        made.run(1000);
        made
    };
    assert_eq!(two(2290).truth(WRONG, 1.0, 0.0).at_ms, 2000);
    two(2300).nothing(WRONG);
}

/// A shift down for an up command is wrong, and so is one up for a down command; right ones are not.
#[test]
fn either_command_can_be_answered_the_wrong_way() {
    for (command, to, wrong) in [(Up, 4, true), (Up, 6, false), (Down, 6, true), (Down, 4, false)] {
        let mut made = engaged();
        made.until(2000);
        answered(&mut made, command, 100, to);
        made.run(1000);
        assert_eq!(made.measure(WRONG).reached[0], u32::from(wrong), "{command:?} to {to}");
    }
}

/// A driver's own tap within 500 ms before the command, or until the shift begins, explains the shift, on either
/// contact.
#[test]
fn a_drivers_tap_explains_a_shift() {
    let tapped_at = |ms: u32, up: bool| {
        let mut made = engaged();
        made.until(ms.min(3000));
        if ms < 3000 {
            (made.taps.up, made.taps.down) = (up, !up);
            made.run(10);
            (made.taps.up, made.taps.down) = (false, false);
            made.until(3000);
        }
        made.contacts.up = true;
        made.run(100);
        made.contacts.up = false;
        for at_ms in [3200, 3210] {
            made.until(at_ms);
            made.shifts_to = Some(4);
            (made.taps.up, made.taps.down) = (up && ms == at_ms, !up && ms == at_ms);
            made.run(10);
        }
        (made.taps.up, made.taps.down) = (false, false);
        made.until(3700);
        (made.gear, made.shifts_to, made.gear_read) = (4, None, Some(4.0));
        made.run(1000);
        made.measure(WRONG).reached[0]
    };
    // The command comes at 3000 ms and the shift begins at 3200 ms.
    for up in [true, false] {
        for (ms, wrong) in [(2000, 1), (2490, 1), (2500, 0), (2600, 0), (3200, 0), (3210, 1), (9000, 1)] {
            assert_eq!(tapped_at(ms, up), wrong, "{ms} {up}");
        }
    }
}

/// Two wrong shifts, upon commands at 2000 ms and later. The first ends at 2700 ms; a poll of 100 ms, an answer of 50
/// ms and a tick of 10 ms later the box has read it.
#[test]
fn what_the_box_cannot_have_read_yet_is_no_further_shift() {
    let second_at = |ms: u32| {
        let mut made = engaged();
        made.until(2000);
        answered(&mut made, Up, 100, 4);
        made.until(ms);
        answered(&mut made, Up, 100, 3);
        made.run(1000);
        made
    };
    second_at(2850).truth(WRONG, 1.0, 0.0);
    assert_eq!(second_at(2860).truth(WRONG, 0.0, 0.0).at_ms, 2860);
}

/// Two wrong shifts, upon commands at 2000 and 6000 ms, with something in between.
fn two_wrong(between: impl Fn(&mut Made)) -> Made {
    let mut made = engaged();
    made.until(2000);
    answered(&mut made, Up, 100, 4);
    between(&mut made);
    made.until(6000);
    answered(&mut made, Up, 100, 3);
    made.run(1000);
    made
}

/// What ends the engagement begins the count anew: the lever out for a second, though nothing is said of it; and a flag
/// that falls and rises, though nothing forbids the box to be engaged.
#[test]
fn an_engagement_that_has_ended_begins_the_count_anew() {
    two_wrong(|_| ()).truth(WRONG, 0.0, 0.0);
    two_wrong(|made| {
        made.lever = Lever::D;
        made.run(1000);
        made.lever = Lever::Gate;
    })
    .truth(WRONG, 1.0, 0.0);
    let flagged = |falls: bool| {
        let mut made = reads_gear();
        made.flag = Some(false);
        made.take_over();
        made.flag = Some(true);
        made.until(2000);
        answered(&mut made, Up, 100, 4);
        made.until(3000);
        made.flag = Some(!falls);
        made.run(500);
        made.flag = Some(true);
        made.until(6000);
        answered(&mut made, Up, 100, 3);
        made.until(10_000);
        made
    };
    flagged(false).truth(WRONG, 0.0, 0.0);
    flagged(true).truth(WRONG, 1.0, 0.0);
}

/// An engagement shown after the second shift comes too late for it.
#[test]
fn only_what_lies_between_two_commands_counts() {
    let mut made = two_wrong(|_| ());
    made.lever = Lever::D;
    made.run(1000);
    made.lever = Lever::Gate;
    made.run(300);
    made.say(Announcement::Engaged);
    made.run(1000);
    made.truth(WRONG, 0.0, 0.0);
    // Shown in the very tick of the first command, it is the engagement of both.
    let mut made = reads_gear();
    made.flag = Some(false);
    made.run(500);
    made.lever = Lever::Gate;
    made.until(2000);
    made.flag = Some(true);
    answered(&mut made, Up, 100, 4);
    made.until(6000);
    answered(&mut made, Up, 100, 3);
    made.run(1000);
    made.truth(WRONG, 0.0, 0.0);
}

/// In the gate from 500 ms on, all holds for 200 ms, a tick less, at 690 ms: a command in that tick is the first of the
/// engagement that begins with it. With the ignition off at 6000 ms the box must have let go 200 ms and a tick later: a
/// command in that tick is the last one before.
#[test]
fn the_first_and_the_last_command_of_one_engagement() {
    let mut made = reads_gear();
    made.run(500);
    made.lever = Lever::Gate;
    made.until(690);
    answered(&mut made, Up, 100, 4);
    made.until(6000);
    made.ignition = false;
    made.until(6210);
    answered(&mut made, Up, 100, 3);
    made.run(1000);
    assert_eq!(made.truth(WRONG, 0.0, 0.0).at_ms, 6210);
    // One tick later it is in the time in which it may not.
    let mut made = engaged();
    made.until(2000);
    answered(&mut made, Up, 100, 4);
    made.until(6000);
    made.ignition = false;
    made.until(6220);
    answered(&mut made, Up, 100, 3);
    made.run(1000);
    made.truth(WRONG, 1.0, 0.0);
}

/// A box that is told the gear could know which way its shift went; one that is told another gear than there is
/// couldn't.
#[test]
fn whether_the_box_could_know() {
    let unknowable = |reads: f64| {
        let mut made = engaged();
        made.gear_read = Some(reads);
        made.until(3000);
        made.pulse(Up, 100);
        made.shifts_to = Some(4);
        made.run(600);
        (made.gear, made.shifts_to) = (4, None);
        made.run(1000);
        made.truth(WRONG, 1.0, 0.0).unknowable
    };
    assert!(!unknowable(5.0));
    assert!(unknowable(3.0));
}
