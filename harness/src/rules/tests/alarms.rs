//! What an alarm waits for, and which rows may be passed over until it comes.

use crate::rules::alarm::Alarm;

/// An alarm that has looked at rows at 100 and 110 ms, in which nothing was asked of it.
fn at_rest() -> Alarm {
    let alarm = Alarm::default();
    alarm.begin(100, None, false);
    alarm.begin(110, None, true);
    alarm
}

/// Whether it sleeps through a row at this time, ms.
fn sleeps(alarm: &Alarm, at_ms: u32) -> bool {
    at_ms < alarm.sleeps_until_ms(None)
}

/// Nothing has been looked at, so nothing is known to stay as it is.
#[test]
fn before_the_first_row_it_sleeps_through_none() {
    assert!(!sleeps(&Alarm::default(), 0));
}

#[test]
fn with_nothing_to_wait_for_it_sleeps_on() {
    assert!(sleeps(&at_rest(), 120) && sleeps(&at_rest(), 1_000_000));
}

/// A row that brings something may change what the next one sees; so may what changes in a row without being asked for.
#[test]
fn after_a_row_that_brings_something_the_next_one_is_looked_at() {
    let alarm = at_rest();
    alarm.begin(120, None, false);
    assert!(!sleeps(&alarm, 130));
    alarm.begin(130, None, true);
    assert!(sleeps(&alarm, 140));
    alarm.keep_awake();
    assert!(!sleeps(&alarm, 140));
    alarm.begin(140, None, true);
    assert!(sleeps(&alarm, 150));
}

/// 50 ms from 100 ms on have passed at 150 ms; 80 ms from 100 ms on come later, whichever is asked for first. More than
/// 40 ms have passed from 141 ms on.
#[test]
fn it_sleeps_until_the_earliest_time_that_it_waits_for() {
    for waits in [[50, 80], [80, 50]] {
        let alarm = at_rest();
        for ms in waits {
            assert!(!alarm.passed(110, 100, ms));
        }
        assert!(sleeps(&alarm, 149) && !sleeps(&alarm, 150) && !sleeps(&alarm, 151), "{waits:?}");
        assert!(alarm.passed(150, 100, 50));
    }
    let alarm = at_rest();
    assert!(!alarm.exceeded(110, 100, 40));
    assert!(sleeps(&alarm, 140) && !sleeps(&alarm, 141) && !sleeps(&alarm, 142));
    assert!(!alarm.exceeded(140, 100, 40) && alarm.exceeded(141, 100, 40));
}

/// What has passed is not waited for.
#[test]
fn what_has_passed_wakes_no_more() {
    let alarm = at_rest();
    assert!(alarm.passed(110, 100, 10));
    assert!(sleeps(&alarm, 120));
}

/// A row in which something comes due isn't the last to be looked at, even if it brings nothing: the one after it sees
/// what has come of that.
#[test]
fn after_a_row_in_which_something_comes_due_the_next_one_is_looked_at() {
    let alarm = at_rest();
    assert!(!alarm.passed(110, 100, 50));
    alarm.begin(150, None, true);
    assert!(alarm.passed(150, 100, 50));
    assert!(!sleeps(&alarm, 160));
    alarm.begin(160, None, true);
    assert!(sleeps(&alarm, 170));
    // Looked at before it comes due, it sleeps again, and waits for what is asked for anew.
    let alarm = at_rest();
    assert!(!alarm.passed(110, 100, 50));
    alarm.begin(140, None, true);
    assert!(!alarm.passed(140, 100, 90));
    assert!(sleeps(&alarm, 189) && !sleeps(&alarm, 190));
}

/// Data of 100 ms are 50 ms old at 150 ms; if the same come again at 130 ms, that is put off until 180 ms. What waits for
/// 160 ms by the clock isn't put off by them.
#[test]
fn data_that_come_again_put_off_what_waits_for_their_age() {
    let alarm = at_rest();
    assert!(!alarm.aged(110, 100, 80) && !alarm.aged(110, 100, 50));
    assert_eq!(alarm.sleeps_until_ms(Some(100)), 150);
    assert_eq!(alarm.sleeps_until_ms(Some(130)), 180);
    assert!(!alarm.passed(110, 100, 60));
    assert_eq!(alarm.sleeps_until_ms(Some(100)), 150);
    assert_eq!(alarm.sleeps_until_ms(Some(130)), 160);
}

/// Data that have been too old for something change it when they come again; in a row that asks for no age, or for one
/// that they haven't reached, they change nothing.
#[test]
fn data_too_old_for_something_are_heeded_when_they_come_again() {
    let alarm = at_rest();
    assert!(!alarm.aged(110, 100, 11) && !alarm.heeds_age());
    assert!(alarm.aged(110, 100, 10) && alarm.heeds_age());
    alarm.begin(120, Some(100), true);
    assert!(!alarm.heeds_age());
}

/// The row in which data reach an age that was waited for isn't the last to be looked at.
#[test]
fn after_a_row_in_which_data_reach_an_age_the_next_one_is_looked_at() {
    for (at_ms, sleeps) in [(149, true), (150, false)] {
        let alarm = at_rest();
        assert!(!alarm.aged(110, 100, 50));
        alarm.begin(at_ms, Some(100), true);
        assert_eq!(alarm.sleeps_until_ms(Some(100)) > at_ms, sleeps);
    }
}
