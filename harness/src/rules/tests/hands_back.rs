//! What a box shows as it engages and lets go, and what is held against it: flags that stay up, words without their
//! event, engagements and their ends that nobody says.

use super::hand_over::flagged;
use super::made::Made;
use crate::outcome::Basis;
use crate::rules::{Judge, find};
use crate::signal::{Announcement, Contacts, Direction, Lever};
use crate::spec::facts::{ReArm, TakeOver};
use crate::units::Ms;

const SAYS: &str = "every transition announced";
const FALSE: &str = "no false announcement";
const OWN: &str = "own tap is not a driver tap";
const LATER: &str = "no command when it may not";
const QUIET: &str = "no shift right after engaging";
const REARM: &str = "re-arm needs lever cycle";
const TAP: &str = "driver's tap wins";
const RIGHT: &str = "engages only when all is right";

/// The driver's tap, for a tick.
fn tap(made: &mut Made) {
    made.taps = Contacts { up: true, down: false };
    made.run(10);
    made.taps = Contacts::default();
}

/// The lever leaves at 3000 ms; the release time and a tick end at 3110 ms. The flag stays up for so long beyond that.
#[test]
fn a_flag_that_stays_up_counts_to_its_end() {
    for (falls_ms, margin) in [(3120, -0.01), (3130, -0.02), (3400, -0.29), (3410, -0.3)] {
        let mut made = Made::engaged();
        made.flag = Some(true);
        made.until(3000);
        made.lever = Lever::D;
        made.until(falls_ms);
        made.flag = Some(false);
        made.say(Announcement::Disengaged);
        made.until(8000);
        assert_eq!(made.seen(LATER, margin).at_ms, 3110, "{falls_ms}");
    }
}

/// The flag was up for the last time at 4990 ms, the command comes at 5500 ms.
#[test]
fn a_command_some_time_after_the_flag_has_fallen() {
    let mut made = flagged();
    made.until(5000);
    made.flag = Some(false);
    made.until(5500);
    made.pulse(Direction::Up, 60);
    assert_eq!(made.seen(FALSE, -0.51).at_ms, 5500);
}

/// Nothing shows that it has engaged, but it may have, at 690 ms. The driver's tap at 2000 ms ends that; 100 ms and a tick
/// later it must have let go, and the tick after is the last in which "disengaged" has its event.
#[test]
fn disengaged_is_said_where_it_may_have_been_engaged() {
    let said_at = |ms: u32| {
        let mut made = Made::van();
        made.run(500);
        made.lever = Lever::Gate;
        made.until(2000);
        tap(&mut made);
        made.until(ms);
        made.say(Announcement::Disengaged);
        made.run(10);
        made
    };
    said_at(2110).seen(FALSE, 5.0);
    assert_eq!(said_at(2120).seen(FALSE, -5.0).at_ms, 2120);
}

/// Ready is who has read something: either will do.
#[test]
fn ready_is_said_once_something_is_read() {
    for (link, margin) in [([true, true], 5.0), ([true, false], 5.0), ([false, true], 5.0), ([false; 2], -5.0)] {
        let mut made = Made::van();
        made.link = link;
        made.run(100);
        made.say(Announcement::Ready);
        made.run(10);
        assert_eq!(made.seen(FALSE, margin).at_ms, 100, "{link:?}");
    }
}

/// Who isn't engaged lets nothing go, whatever it says; and who shows a flag lets go once, with the flag.
#[test]
fn a_word_alone_is_no_letting_go() {
    let mut made = Made::van();
    made.run(3000);
    made.say(Announcement::Fault);
    made.run(100);
    made.nothing(OWN);
    let mut flag = flagged();
    flag.say(Announcement::Engaged);
    flag.until(5000);
    tap(&mut flag);
    flag.run(40);
    flag.flag = Some(false);
    flag.run(50);
    flag.say(Announcement::Disengaged);
    flag.run(1000);
    assert_eq!(flag.measure(OWN).reached[..2], [0, 1]);
}

/// A box with no flag engages at 2.7 s or later and says no word, until the drive ends long after: its first command shows
/// it, the second tells nothing new.
#[test]
fn an_engagement_that_only_a_command_shows() {
    let mut made = Made::van();
    made.run(2500);
    made.lever = Lever::Gate;
    made.until(4000);
    made.shift(Direction::Up);
    made.until(6000);
    made.shift(Direction::Up);
    made.run(2000);
    assert_eq!(made.seen(SAYS, -5.0).at_ms, 4000);
    assert_eq!(made.measure(SAYS).reached[..2], [1, 0]);
    // The driver's lever cycle is the next one.
    made.lever = Lever::D;
    made.run(500);
    made.lever = Lever::Gate;
    made.run(1000);
    made.shift(Direction::Down);
    made.run(2000);
    assert_eq!(made.measure(SAYS).reached[0], 2);
}

/// A flag shows it where there is one: one engagement, not told a second time by the command.
#[test]
fn an_engagement_that_the_flag_shows() {
    let mut made = flagged();
    made.until(4000);
    made.shift(Direction::Up);
    made.run(2000);
    assert_eq!(made.seen(SAYS, -5.0).at_ms, 2800);
    assert_eq!(made.measure(SAYS).reached[..2], [1, 0]);
}

/// Who has never said that it is engaged has nothing to take back, and who is switched off needs no last word.
#[test]
fn ends_that_nobody_must_say() {
    let mut silent = Made::van();
    silent.run(2500);
    silent.lever = Lever::Gate;
    silent.until(5000);
    tap(&mut silent);
    silent.run(2000);
    silent.nothing(SAYS);
    let mut off = Made::van();
    off.run(2000);
    off.take_over();
    off.until(5000);
    off.ignition = false;
    off.run(2000);
    off.nothing(SAYS);
}

/// All has held at 2690 ms, a tick allowed, and the flag rises in that very tick: 490 ms and a tick to the command.
#[test]
fn a_flag_that_rises_as_soon_as_it_may() {
    let mut made = Made::van();
    made.flag = Some(false);
    made.run(2500);
    made.lever = Lever::Gate;
    made.until(2690);
    made.flag = Some(true);
    made.until(3180);
    made.pulse(Direction::Up, 60);
    made.seen(QUIET, 0.0);
    assert_eq!(made.measure(QUIET).reached[..2], [1, 1]);
}

/// It has said that it let go at 2050 ms, and says nothing as it engages again, from 3190 ms on. A command 810 ms later may
/// come long after that or not: it tells nothing.
#[test]
fn an_old_word_shows_no_new_engagement() {
    let mut made = Made::engaged();
    made.until(2000);
    tap(&mut made);
    made.run(40);
    made.say(Announcement::Disengaged);
    made.until(2500);
    made.lever = Lever::D;
    made.until(3000);
    made.lever = Lever::Gate;
    made.until(4000);
    made.pulse(Direction::Up, 60);
    made.nothing(QUIET);
}

/// Tapped at 2000 ms, then out of the gate for 500 ms until 2800 ms. It may have engaged again as the next tap comes at
/// 3300 ms, and says so at 3350 ms, when it may not yet have seen that tap: its take-over is the lever, out 0.48 s longer
/// than 30 ms less a tick.
#[test]
fn engaging_just_as_the_driver_taps() {
    let mut made = Made::engaged();
    made.until(2000);
    tap(&mut made);
    made.until(2300);
    made.lever = Lever::D;
    made.until(2800);
    made.lever = Lever::Gate;
    made.until(3300);
    tap(&mut made);
    made.until(3350);
    made.say(Announcement::Engaged);
    made.run(100);
    made.seen(REARM, 0.48);
    assert_eq!(made.measure(REARM).reached[3], 1);
}

/// Pressed at 1500 ms, tapped at 2500 ms, and engaged in the very tick in which the lever comes back from a bounce of 10 ms.
/// That is no take-over: the last one was 1 s before the tap.
#[test]
fn engaging_as_the_lever_bounces_back() {
    let mut made = Made::van();
    (made.spec.facts.take_over, made.spec.facts.re_arm) = (TakeOver::Button, ReArm::BackInGate);
    made.button = Some(false);
    made.run(500);
    made.lever = Lever::Gate;
    made.until(1500);
    made.button = Some(true);
    made.until(1600);
    made.button = Some(false);
    made.until(1800);
    made.say(Announcement::Engaged);
    made.until(2500);
    tap(&mut made);
    made.until(4000);
    made.lever = Lever::D;
    made.run(10);
    made.lever = Lever::Gate;
    made.say(Announcement::Engaged);
    made.run(100);
    assert_eq!(made.seen(REARM, -1.0).at_ms, 4010);
}

/// The tap at 2000 ms ends it, the lever goes out and in by 2410 ms. A command at 2500 ms comes before all has held anew: it
/// has nothing to do with the tap.
#[test]
fn a_command_soon_after_the_next_take_over() {
    let mut made = Made::engaged();
    made.until(2000);
    tap(&mut made);
    made.run(90);
    made.lever = Lever::D;
    made.until(2410);
    made.lever = Lever::Gate;
    made.until(2500);
    made.pulse(Direction::Up, 60);
    made.run(1000);
    assert!(!made.measure(TAP).seen.is_some_and(|m| m.broken()));
    assert!(made.broken().contains(&RIGHT), "{:?}", made.broken());
}

/// A box that is to notice within 1 s that all stands still may take it for a freeze after half of that. The last change
/// came at 2000 ms; the lever came in at 500 ms and was out for the last time at 490 ms: 2.4 s − 0.49 s − 0.31 s.
#[test]
fn readings_that_stand_still_for_a_while_excuse_it() {
    let lets_go_at = |ms: u32| {
        let mut made = Made::van();
        (made.spec.facts.signals.engine_speed, made.spec.facts.notices_stuck) = (true, true);
        made.spec.limits.stuck_noticed = Ms::new(1000.0);
        (made.engine_rpm_read, made.engine_lives, made.flag) = (Some(1500.0), true, Some(false));
        while made.now() < 2000 {
            made.speed = if made.now().is_multiple_of(200) { 20.0 } else { 21.0 };
            made.lever = if made.now() < 500 { Lever::D } else { Lever::Gate };
            made.flag = Some(made.now() >= 800);
            made.run(100);
        }
        // The answer at 2000 ms is the last that differs from the one before.
        made.speed = 20.0;
        made.run(10);
        (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
        made.until(ms);
        made.flag = Some(false);
        made.run(10);
        made
    };
    assert_eq!(lets_go_at(2400).seen(OWN, -1.6).at_ms, 2400);
    lets_go_at(2500).seen(OWN, 0.31);
}

/// A sentence tells a practitioner what happened: 180 ms after the lever, where 200 ms are the least.
#[test]
fn a_failure_is_said_in_words() {
    let mut made = Made::van();
    made.run(500);
    made.lever = Lever::Gate;
    made.until(680);
    made.say(Announcement::Engaged);
    made.run(10);
    let rule = &crate::rules::RULES[find(RIGHT).expect("a rule")];
    let said = Judge::default().says(&made.spec, &made.recording, rule, Basis::Seen, 680);
    assert_eq!(said, "the box engages at 0.68 s before all conditions have held for 0.20 s");
}
