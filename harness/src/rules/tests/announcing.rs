//! The two rules on what the box announces.

use super::hand_over::flagged;
use super::made::Made;
use crate::signal::{Announcement, Direction, Lever};

const SAYS: &str = "every transition announced";
const FALSE: &str = "no false announcement";

/// Announced 510 ms after the flag has risen, with the tick; and the lever's cause has its own word.
#[test]
fn announcing_in_time() {
    let says_after = |ms: u32| {
        let mut made = flagged();
        made.run(ms);
        made.say(Announcement::Engaged);
        made.run(1000);
        made
    };
    says_after(510).seen(SAYS, 0.0);
    says_after(520).seen(SAYS, -0.01);
    says_after(5000).seen(SAYS, -4.49);
    assert_eq!(says_after(510).measure(SAYS).reached[..3], [1, 0, 0]);
    let leaves = |word: Announcement| {
        let mut made = says_after(0);
        made.lever = Lever::D;
        made.run(50);
        made.flag = Some(false);
        made.say(word);
        made.run(1000);
        made
    };
    leaves(Announcement::Disengaged).seen(SAYS, 0.51);
    leaves(Announcement::Fault).seen(SAYS, -5.0);
}

/// A box has 2 s to start: what it lets pass in silence before that is no fault.
#[test]
fn a_box_that_starts_may_be_silent() {
    let rises_at = |ms: u32| {
        let mut made = Made::van();
        made.flag = Some(false);
        made.run(500);
        made.lever = Lever::Gate;
        made.until(ms);
        made.flag = Some(true);
        made.until(ms + 4000);
        made
    };
    rises_at(800).nothing(SAYS);
    rises_at(1990).nothing(SAYS);
    rises_at(2000).seen(SAYS, -5.0);
}

/// With no flag the cause itself tells: 100 ms to let go with a tick, 500 ms to say so with another.
#[test]
fn letting_go_in_silence() {
    let says_at = |ms: u32| {
        let mut made = Made::van();
        made.run(2000);
        made.take_over();
        made.until(4000);
        made.lever = Lever::D;
        made.until(ms);
        made.say(Announcement::Disengaged);
        made.run(1000);
        made
    };
    says_at(4620).seen(SAYS, 0.0);
    says_at(4630).seen(SAYS, -0.01);
    assert_eq!(says_at(4620).measure(SAYS).reached[1], 1);
}

#[test]
fn announcements_without_their_event() {
    // Twice for one engagement, 0.7 s apart.
    let mut twice = Made::engaged();
    twice.until(1500);
    twice.say(Announcement::Engaged);
    twice.run(100);
    assert_eq!(twice.seen(FALSE, -0.7).at_ms, 1500);
    // Ready twice, 0.2 s apart.
    let mut ready = Made::van();
    ready.run(100);
    ready.say(Announcement::Ready);
    ready.run(200);
    ready.seen(FALSE, 5.0);
    ready.say(Announcement::Ready);
    ready.run(100);
    ready.seen(FALSE, -0.2);
    // A command under a flag that has never been up.
    let mut denied = flagged();
    denied.flag = Some(false);
    denied.run(1000);
    denied.pulse(Direction::Up, 60);
    denied.seen(FALSE, -5.0);
    // "Fault" while the flag is up and stays up.
    let mut cries = flagged();
    cries.run(1000);
    cries.say(Announcement::Fault);
    cries.run(100);
    cries.seen(FALSE, -5.0);
    Made::van().nothing(FALSE);
}

/// Twelve in 10 s are allowed. The second comes 0.7 s after the first and the others 0.83 s apart, so the thirteenth
/// 0.7 + 11·0.83 = 9.83 s after the first.
#[test]
fn a_storm_of_announcements() {
    let mut made = Made::engaged();
    for round in 0..13 {
        made.lever = if round % 2 == 0 { Lever::D } else { Lever::Gate };
        made.run(500);
        made.say(if round % 2 == 0 { Announcement::Disengaged } else { Announcement::Engaged });
        made.run(330);
    }
    // A tick is allowed.
    made.seen(FALSE, 0.01 - 0.17);
}
