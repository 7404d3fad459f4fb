//! Claims that are one rule's and no other's: after power-up, right after engaging, after an engagement has ended, after
//! data have been lost.

use super::made::Made;
use crate::signal::Direction::Up;
use crate::signal::{Announcement, Lever, Range};
use crate::units::Ms;

const POWER_UP: &str = "power-up quiet";
const RIGHT: &str = "engages only when all is right";
const QUIET: &str = "no shift right after engaging";
const LATER: &str = "no command when it may not";
const REARM: &str = "re-arm needs lever cycle";
const DATA: &str = "lost data disengages";

/// A box that says it is quiet for 1 s after power-up.
fn quiet_for_a_second() -> Made {
    let mut made = Made::van();
    made.spec.limits.boot_quiet = Ms::new(1000.0);
    made
}

/// Reset at 3 s, into the gate half a second later; a tick is allowed.
#[test]
fn engaging_before_the_box_may_after_a_reset() {
    let engages_after = |ms: u32| {
        let mut made = quiet_for_a_second();
        made.run(3000);
        made.restart = true;
        made.run(500);
        made.lever = Lever::Gate;
        made.until(3000 + ms);
        made.say(Announcement::Engaged);
        made.run(500);
        made
    };
    assert_eq!(engages_after(980).seen(POWER_UP, -0.01).at_ms, 3980);
    engages_after(990).seen(POWER_UP, 0.0);
    engages_after(1500).seen(POWER_UP, 0.51);
    assert_eq!(engages_after(990).measure(POWER_UP).reached[..2], [1, 0]);
}

/// 100 ms after the lever, where 200 ms are asked for: that is the rule's on the conditions, and charged once.
#[test]
fn an_engagement_that_may_not_be_is_not_measured_from_power_up() {
    let mut made = quiet_for_a_second();
    made.run(500);
    made.lever = Lever::Gate;
    made.run(100);
    made.say(Announcement::Engaged);
    made.run(500);
    made.nothing(POWER_UP);
    assert!(made.broken().contains(&RIGHT));
}

/// In the gate from 500 ms on and all right for 200 ms, a tick allowed: it may have engaged at 690 ms, and says nothing. 490
/// ms after that, again with a tick, a command tells nothing of the 500 ms of quiet; sooner it can't have kept them.
#[test]
fn the_first_command_of_a_box_that_has_not_said_when_it_engaged() {
    let command_at = |ms: u32| {
        let mut made = Made::van();
        made.run(500);
        made.lever = Lever::Gate;
        made.until(ms);
        made.pulse(Up, 100);
        made
    };
    assert_eq!(command_at(1170).seen(QUIET, -0.01).at_ms, 1170);
    command_at(1180).nothing(QUIET);
    command_at(3000).nothing(QUIET);
}

/// The lever leaves at 2 s; with the release time of 100 ms and a tick the box must not command from 2110 ms on.
#[test]
fn a_command_a_second_after_it_must_not() {
    let mut made = Made::engaged();
    made.until(2000);
    made.lever = Lever::D;
    made.until(3100);
    made.pulse(Up, 60);
    made.until(8000);
    assert_eq!(made.seen(LATER, -0.99).at_ms, 3100);
}

/// What doesn't last for 3 s, from 2110 ms on, tells nothing.
#[test]
fn a_short_time_without_a_command() {
    let back_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.lever = Lever::D;
        made.until(ms);
        made.lever = Lever::Gate;
        made.run(1000);
        made
    };
    back_at(5100).nothing(LATER);
    assert_eq!(back_at(5110).seen(LATER, 3.0).at_ms, 2110);
    assert_eq!(back_at(5110).measure(LATER).reached[0], 1);
}

/// The driver taps at 2 s; at 5 s the box shows itself engaged without a take-over: the rule on re-arming has that.
#[test]
fn engaging_again_without_a_take_over_is_charged_once() {
    let mut made = Made::engaged();
    made.until(2000);
    made.taps.down = true;
    made.run(100);
    made.taps.down = false;
    made.until(5000);
    made.say(Announcement::Engaged);
    made.until(8000);
    // 5.89 s from 2110 ms on, capped.
    made.seen(LATER, 5.0);
    assert!(made.broken().contains(&REARM) && !made.broken().contains(&LATER), "{:?}", made.broken());
}

/// The range leaves high half a second after the lever has come, before the box has shown anything; with 200 ms to release
/// and a tick it must not engage from 210 ms after that on. 1.79 s later it says that it is engaged. It may have been armed
/// still, so the rule on re-arming has nothing of it, whatever had ended before.
#[test]
fn engaging_in_low_range_after_a_take_over_that_came_to_nothing() {
    let says_so = |before: fn(&mut Made)| {
        let mut made = Made::van();
        before(&mut made);
        made.lever = Lever::D;
        made.run(1000);
        made.lever = Lever::Gate;
        made.run(500);
        made.range = Range::Transit;
        made.run(2000);
        made.say(Announcement::Engaged);
        made.run(3500);
        made
    };
    assert_eq!(says_so(|_| ()).seen(LATER, -1.79).at_ms, 3500);
    // An engagement that the lever ended.
    let again = says_so(|made| {
        made.take_over();
        made.run(1000);
    });
    assert_eq!(again.seen(LATER, -1.79).at_ms, 5500);
    assert!(!again.broken().contains(&REARM), "{:?}", again.broken());
}

/// The speed is read last at 2 s; at 2.7 s, when it is old but not lost, the lever ends the engagement: no data were lost
/// while engaged. Nor where the box may not have engaged at all when the speed was lost.
#[test]
fn data_lost_count_for_a_box_that_surely_was_engaged() {
    let mut lever = Made::engaged();
    lever.until(2010);
    lever.link[0] = false;
    lever.until(2700);
    lever.lever = Lever::D;
    lever.run(2000);
    assert_eq!(lever.measure(DATA).reached, [0; 6]);
    let mut unsure = Made::van();
    unsure.run(500);
    unsure.lever = Lever::Gate;
    unsure.until(610);
    unsure.link[0] = false;
    unsure.run(2500);
    assert_eq!(unsure.measure(DATA).reached, [0; 6]);
}
