//! Answers that are no samples: what they excuse, what they explain, and how they are counted. And a speed that leaps up,
//! which is one, but is no reason for an upshift.

use super::made::Made;
use crate::signal::Direction::Up;
use crate::signal::{Announcement, Content, Lever, Signal};
use std::ops::RangeInclusive;

const INVALID: &str = "invalid answer is not a number";
const LEAP: &str = "implausible speed holds";

fn say_at(made: &mut Made, signal: Signal, times_ms: RangeInclusive<u32>, content: Content) {
    let answers = made.recording.delivered.iter_mut();
    answers.filter(|d| d.answer.signal == signal && times_ms.contains(&d.arrived_ms)).for_each(|d| {
        d.answer.content = content;
    });
}

/// Answers of a signal that came in this time are refused.
fn refuse(made: &mut Made, signal: Signal, times_ms: RangeInclusive<u32>) {
    say_at(made, signal, times_ms, Content::Negative(0x11));
}

/// Into the gate at 500 ms, announced at a time; over at 2500 ms.
fn announced_at(ms: u32) -> Made {
    let mut made = Made::van();
    made.engine_rpm_read = Some(1500.0);
    made.run(500);
    made.lever = Lever::Gate;
    made.until(ms);
    made.say(Announcement::Engaged);
    made.until(2500);
    made
}

/// Engaged at 600 ms, 100 ms after the lever, where 200 ms are asked for: too early, but on numbers. What is refused from
/// 2 s on has no part in it.
#[test]
fn engaging_too_early_is_not_the_fault_of_an_answer_that_is_refused_later() {
    let mut made = announced_at(600);
    refuse(&mut made, Signal::Speed, 2000..=2500);
    assert_eq!(made.seen(INVALID, 1.0).at_ms, 2500);
    assert_eq!(made.measure(INVALID).reached[..3], [1, 0, 0]);
}

/// At 800 ms all has been right for 300 ms, by the speed of 700 ms: a refusal in that tick changes nothing.
#[test]
fn a_box_may_engage_while_an_answer_is_refused() {
    let mut made = announced_at(800);
    refuse(&mut made, Signal::Speed, 800..=800);
    made.seen(INVALID, 1.0);
    assert_eq!(made.measure(INVALID).reached[..3], [1, 0, 0]);
}

/// Speed and pedal decide on engaging, the engine speed refused in the same tick doesn't: it was 1,500 rpm before. The
/// pedal does.
#[test]
fn only_speed_and_pedal_may_mislead_a_box_that_engages() {
    for (signal, margin) in [(Signal::EngineSpeed, 1.0), (Signal::Pedal, -1.0), (Signal::Speed, -1.0)] {
        let mut made = announced_at(600);
        refuse(&mut made, signal, 600..=600);
        made.seen(INVALID, margin);
        assert_eq!(made.measure(INVALID).reached[..3], [0, 0, 1], "{signal:?}");
    }
}

/// What comes within a second of the last one is the same spell; refusals and impossible values are counted apart.
#[test]
fn spells_of_invalid_answers() {
    let spells = |second_ms: u32, content: Content| {
        let mut made = Made::engaged();
        made.until(4000);
        refuse(&mut made, Signal::Speed, 2000..=2000);
        say_at(&mut made, Signal::Speed, second_ms..=second_ms, content);
        made.measure(INVALID).reached[..3].to_vec()
    };
    assert_eq!(spells(2100, Content::Negative(0x11)), [1, 0, 0]);
    assert_eq!(spells(3000, Content::Negative(0x11)), [1, 0, 0]);
    assert_eq!(spells(3100, Content::Negative(0x11)), [2, 0, 0]);
    assert_eq!(spells(2100, Content::Value(300.0)), [1, 1, 0]);
}

/// In the gate from 510 ms on. All has held for 200 ms, a tick allowed, at 700 ms: from then on it may be engaged.
#[test]
fn a_spell_counts_by_the_state_in_which_it_begins() {
    for (ms, reached) in [(500, [0, 0, 0]), (600, [0, 0, 1]), (700, [1, 0, 0])] {
        let mut made = Made::van();
        made.until(510);
        made.lever = Lever::Gate;
        made.until(1500);
        refuse(&mut made, Signal::Pedal, ms..=ms);
        assert_eq!(made.measure(INVALID).reached[..3], reached, "{ms}");
    }
    // In the tick of the driver's tap nobody can tell whether the box is engaged still.
    let mut tapped = Made::engaged();
    tapped.until(2000);
    tapped.taps.down = true;
    tapped.run(100);
    tapped.taps.down = false;
    tapped.run(1000);
    refuse(&mut tapped, Signal::Pedal, 2000..=2000);
    tapped.nothing(INVALID);
}

/// The line 2>3 lies at 43 km/h, and 5 km/h below it is near enough: 38 km/h, read in the very tick of the command, 37 km/h
/// before.
#[test]
fn what_is_read_in_the_tick_of_a_command_explains_it() {
    for (kmh, margin) in [(38.0, 1.0), (37.0, -1.0)] {
        let mut made = Made::engaged();
        made.speed = 37.0;
        made.until(6500);
        made.speed = kmh;
        made.pulse(Up, 100);
        refuse(&mut made, Signal::Pedal, 6400..=6400);
        made.seen(INVALID, margin);
    }
}

/// 45 km/h lies beyond the line 2>3 at 43, and far below 3>4 at 57. Where the gearbox has refused third, a box that asks
/// again is explained by second, the true gear; where third is in, nothing explains it.
#[test]
fn the_gear_counted_or_the_true_one_explains_a_command() {
    for (obeys, margin) in [(false, 1.0), (true, -1.0)] {
        let mut made = Made::engaged();
        made.speed = 45.0;
        made.until(1500);
        if obeys {
            made.shift(Up);
        } else {
            made.pulse(Up, 100);
        }
        made.until(5000);
        made.pulse(Up, 100);
        refuse(&mut made, Signal::Pedal, 4900..=4900);
        made.seen(INVALID, margin);
    }
}

/// To 90 km/h in one update at 4 s, and third 200 ms later, where 500 ms of plausible speed are asked for, a tick allowed.
/// From 43 km/h on, the line 2>3, the speed before had asked for it as well.
#[test]
fn an_upshift_that_was_due_before_the_speed_leapt() {
    let leapt_from = |kmh: f64| {
        let mut made = Made::engaged();
        while made.speed < kmh {
            made.speed = (made.speed + 2.0).min(kmh);
            made.run(100);
        }
        made.until(4000);
        made.speed = 90.0;
        made.run(200);
        made.shift(Up);
        made
    };
    assert_eq!(leapt_from(42.0).seen(LEAP, -0.29).at_ms, 4200);
    assert_eq!(leapt_from(43.0).measure(LEAP).seen, None);
    assert_eq!(leapt_from(43.0).measure(LEAP).reached[..3], [0, 1, 0]);
}
