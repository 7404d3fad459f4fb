//! Announcements and their events: what is due, what may be left out, which word is wrong, and what has no event.

use super::hand_over::flagged;
use super::made::{Made, spec};
use crate::rules::{RULES, find};
use crate::signal::Announcement::{Disengaged, Engaged, Fault, Ready};
use crate::signal::{Announcement, Direction, Lever};

const SAYS: &str = "every transition announced";
const FALSE: &str = "no false announcement";

/// Nothing is asked of a box that announces nothing.
#[test]
fn a_box_that_announces_nothing() {
    let mut silent = spec("van.toml");
    silent.facts.announces = false;
    for name in [SAYS, FALSE] {
        let rule = &RULES[find(name).unwrap()];
        assert!((rule.does_not_apply)(&silent).is_some_and(|why| why.contains("announces nothing")), "{name}");
        assert_eq!((rule.does_not_apply)(&spec("van.toml")), None, "{name}");
    }
}

/// The flag has risen at 2800 ms; "ready" is another word than the one that is due, and one said long before doesn't
/// count.
#[test]
fn another_word_than_the_one_that_is_due() {
    let says = |word: Announcement| {
        let mut made = flagged();
        made.run(100);
        made.say(word);
        made.run(3000);
        made
    };
    says(Engaged).seen(SAYS, 0.41);
    for word in [Ready, Disengaged, Fault] {
        assert_eq!(says(word).seen(SAYS, -5.0).at_ms, 2800, "{word:?}");
    }
    // Engaged again at 6300 ms, and this time silently.
    let mut made = says(Engaged);
    made.lever = Lever::D;
    made.run(50);
    made.flag = Some(false);
    made.say(Disengaged);
    made.until(6000);
    made.lever = Lever::Gate;
    made.run(300);
    made.flag = Some(true);
    made.run(3000);
    assert_eq!(made.seen(SAYS, -5.0).at_ms, 6300);
}

/// 500 ms and a tick to say it: where the drive ends sooner, or with the last moment, nothing was due.
#[test]
fn a_drive_that_ends_before_it_had_to_be_said() {
    let ends_after = |ms: u32| {
        let mut made = flagged();
        made.run(ms);
        made
    };
    ends_after(500).nothing(SAYS);
    ends_after(510).nothing(SAYS);
    assert_eq!(ends_after(520).seen(SAYS, -5.0).at_ms, 2800);
}

/// Nor where the box is reset before; with the last moment too.
#[test]
fn a_box_that_starts_afresh_before_it_had_to_say_it() {
    let reset_after = |ms: u32| {
        let mut made = flagged();
        made.run(ms);
        (made.restart, made.flag) = (true, Some(false));
        made.run(5000);
        made
    };
    reset_after(300).nothing(SAYS);
    reset_after(510).nothing(SAYS);
    reset_after(520).seen(SAYS, -5.0);
}

/// Nor where it lets go again before: only that is to be said then, 0.1 s after it and with 0.51 s allowed. What is
/// said in time counts even so.
#[test]
fn a_box_that_lets_go_before_it_had_to_say_that_it_engaged() {
    let lets_go_after = |ms: u32, says: bool| {
        let mut made = flagged();
        made.run(200);
        if says {
            made.say(Engaged);
        }
        made.until(2800 + ms - 50);
        made.lever = Lever::D;
        made.run(50);
        made.flag = Some(false);
        made.run(100);
        made.say(Disengaged);
        made.run(3000);
        made
    };
    let kept = lets_go_after(300, false);
    assert_eq!(kept.seen(SAYS, 0.41).at_ms, 3100);
    assert_eq!(kept.measure(SAYS).reached[..3], [0, 1, 0]);
    lets_go_after(510, false).seen(SAYS, 0.41);
    assert_eq!(lets_go_after(520, false).seen(SAYS, -5.0).at_ms, 2800);
    let said = lets_go_after(300, true);
    assert_eq!(said.seen(SAYS, 0.31).at_ms, 2800);
    assert_eq!(said.measure(SAYS).reached[..3], [1, 1, 0]);
}

/// Engaged and announced, with no data read for a time that ends at 4500 ms: the last row in which they are older than
/// 500 ms is at 4490 ms. Then the lever leaves the gate, and the word comes so long after that row, with the flag.
fn lever_after_old_data(word: Announcement, ms: u32) -> Made {
    let mut made = flagged();
    made.run(100);
    made.say(Engaged);
    made.until(3610);
    made.link = [false; 2];
    made.until(4500);
    made.link = [true; 2];
    made.until(4490 + ms - 50);
    made.lever = Lever::D;
    made.run(50);
    made.flag = Some(false);
    made.say(word);
    made.run(2000);
    made
}

/// A cause is near within 300 ms, 500 ms to say so, and a tick. With two causes near either word is right; with the
/// driver alone it is "disengaged", and a wrong one is as far off as the nearest cause that it would be right for.
#[test]
fn a_word_is_wrong_where_no_cause_of_its_own_is_near() {
    let margin = |word: Announcement, ms: u32| {
        let mark = lever_after_old_data(word, ms).measure(SAYS).seen.unwrap();
        (mark.margin, mark.at_ms)
    };
    // Engaging was announced with 0.41 s left: that is the smallest margin where the word is right.
    assert_eq!(margin(Fault, 810), (0.41, 2800));
    assert_eq!(margin(Fault, 820), (-0.82, 5310));
    assert_eq!(margin(Fault, 1500), (-1.5, 5990));
    assert_eq!(margin(Disengaged, 810), (0.41, 2800));
    assert_eq!(margin(Disengaged, 1500), (0.41, 2800));
    // What counts is which cause the box announces: either way it has let go.
    assert_eq!(lever_after_old_data(Fault, 820).measure(SAYS).reached[..3], [1, 0, 1]);
    assert_eq!(lever_after_old_data(Disengaged, 820).measure(SAYS).reached[..3], [1, 1, 0]);
}

/// Lost data are a fault. The driver was last at it as the lever was out, in the row at 2490 ms.
#[test]
fn lost_data_are_a_fault() {
    let says_at = |word: Announcement, ms: u32| {
        let mut made = flagged();
        made.run(100);
        made.say(Engaged);
        made.until(ms - 1500);
        made.link = [false; 2];
        made.until(ms);
        made.flag = Some(false);
        made.say(word);
        made.run(2000);
        made
    };
    says_at(Fault, 4800).seen(SAYS, 0.41);
    assert_eq!(says_at(Fault, 4800).measure(SAYS).reached[..3], [1, 0, 1]);
    assert_eq!(says_at(Disengaged, 4800).seen(SAYS, 2.49 - 4.8).at_ms, 4800);
    // Margins are capped at 5 s.
    says_at(Disengaged, 9000).seen(SAYS, -5.0);
}

/// In D, never engaged: no data until the first answers at 1000 ms, so that they are missing for the last time in the
/// row at 990 ms. A fault within 300 ms of that, and 500 ms to say so, is one; "disengaged" is wrong at any time.
#[test]
fn a_fault_told_by_a_box_that_is_not_engaged() {
    let margins = |flag: Option<bool>, word: Announcement, ms: u32| {
        let mut made = Made::van();
        (made.flag, made.link) = (flag, [false; 2]);
        made.until(1000);
        made.link = [true; 2];
        made.until(ms);
        made.say(word);
        made.run(2000);
        made.measure(FALSE).seen.map(|mark| (mark.margin, mark.at_ms))
    };
    for flag in [None, Some(false)] {
        for (word, ms, expected) in [
            (Fault, 1790, 5.0),
            (Fault, 1800, -5.0),
            (Fault, 3000, -5.0),
            (Disengaged, 1500, -5.0),
            (Disengaged, 3000, -5.0),
        ] {
            assert_eq!(margins(flag, word, ms), Some((expected, ms)), "{word:?} {ms} {flag:?}");
        }
    }
}

/// A fault that the box knows of is no event as long as its flag stays up.
#[test]
fn a_fault_told_under_a_flag_that_stays_up() {
    let mut made = flagged();
    made.until(4000);
    made.link = [false; 2];
    made.run(700);
    made.say(Fault);
    made.run(10);
    made.link = [true; 2];
    made.run(3000);
    assert_eq!(made.seen(FALSE, -5.0).at_ms, 4700);
}

/// "Fault" for want of data, and then "ready": two events, two words.
#[test]
fn ready_after_a_fault_is_no_repetition() {
    let mut made = Made::van();
    made.link = [false; 2];
    made.run(200);
    made.say(Fault);
    made.run(100);
    made.link = [true; 2];
    made.run(200);
    made.say(Ready);
    made.run(1000);
    made.seen(FALSE, 5.0);
    // Before anything is read, it is not.
    let mut made = Made::van();
    made.link = [false; 2];
    made.run(200);
    made.say(Ready);
    made.run(1000);
    made.seen(FALSE, -5.0);
}

/// The flag may follow its word by a tick; two ticks are 0.02 s, and one that never comes is 5 s.
#[test]
fn a_flag_that_follows_its_word() {
    let follows_after = |ms: u32| {
        let mut made = flagged();
        made.flag = Some(false);
        made.say(Engaged);
        made.run(ms);
        made.flag = Some(ms < 9000);
        made.run(2000);
        made
    };
    follows_after(10).seen(FALSE, 5.0);
    assert_eq!(follows_after(20).seen(FALSE, -0.02).at_ms, 2800);
    follows_after(700).seen(FALSE, -0.7);
    follows_after(9000).seen(FALSE, -5.0);
}

/// The flag rises at 2800 ms and the box says so in the same tick: said again, it lies as far from its event as the
/// second word from the flag, or the next rise.
#[test]
fn one_rise_of_the_flag_is_told_once() {
    let again_after = |ms: u32, rises_after: Option<u32>| {
        let mut made = flagged();
        made.say(Engaged);
        made.run(ms);
        made.say(Engaged);
        if let Some(rises_ms) = rises_after {
            made.run(10);
            made.flag = Some(false);
            made.run(rises_ms - 10);
            made.flag = Some(true);
        }
        made.run(3000);
        made
    };
    assert_eq!(again_after(300, None).seen(FALSE, -0.3).at_ms, 3100);
    again_after(700, None).seen(FALSE, -0.7);
    again_after(700, Some(200)).seen(FALSE, -0.2);
    again_after(300, Some(600)).seen(FALSE, -0.3);
    // It said so first in the tick before its flag rose.
    let mut made = flagged();
    made.flag = Some(false);
    made.say(Engaged);
    made.run(10);
    made.flag = Some(true);
    made.run(490);
    made.say(Engaged);
    made.run(3000);
    made.seen(FALSE, -0.49);
}

/// Without a flag a second word for one letting go is as false as it is late after the first, once the box can't have
/// been engaged in between: the lever left the gate at 2000 ms.
#[test]
fn letting_go_is_told_once() {
    let again_at = |ms: u32, first: Announcement, second: Announcement| {
        let mut made = Made::engaged();
        made.until(2000);
        made.lever = Lever::D;
        made.run(50);
        made.say(first);
        made.until(ms);
        made.say(second);
        made.run(2000);
        made
    };
    assert_eq!(again_at(2750, Disengaged, Disengaged).seen(FALSE, -0.7).at_ms, 2750);
    again_at(5050, Disengaged, Disengaged).seen(FALSE, -3.0);
    // Whichever the word.
    again_at(3250, Fault, Disengaged).seen(FALSE, -1.2);
}

/// A command under a flag that is down is denied by it, unless the flag rises in the next tick.
#[test]
fn a_flag_that_rises_with_the_command() {
    let rises_after = |ms: u32| {
        let mut made = Made::van();
        made.flag = Some(false);
        made.run(2500);
        made.lever = Lever::Gate;
        made.run(1500);
        made.contacts.up = true;
        made.run(ms);
        made.flag = Some(true);
        made.run(100);
        made.contacts.up = false;
        made.run(1000);
        made
    };
    rises_after(0).nothing(FALSE);
    rises_after(10).nothing(FALSE);
    assert_eq!(rises_after(20).seen(FALSE, -5.0).at_ms, 4000);
    // It was up until 500 ms before: that long it denies.
    let mut made = flagged();
    made.until(4010);
    made.flag = Some(false);
    made.until(4500);
    made.pulse(Direction::Up, 60);
    made.run(1000);
    made.seen(FALSE, -0.5);
}

/// Eight words within 10 s, the last one with the last moment of it.
#[test]
fn eight_words_within_ten_seconds() {
    let eight = |last_ms: u32| {
        let mut made = Made::van();
        for at_ms in [3000, 4000, 5000, 6000, 7000, 8000, 9000, last_ms] {
            made.until(at_ms);
            made.say(Ready);
            made.run(10);
        }
        let measure = made.measure(FALSE);
        (measure.reached[0], measure.reached[1])
    };
    assert_eq!(eight(10_000), (8, 1));
    assert_eq!(eight(13_000), (8, 1));
    assert_eq!(eight(13_010), (8, 0));
}
