//! What an alarm waits for, and which rows may be passed over until it comes.

use crate::rules::alarm::Alarm;

/// An alarm that has looked at rows at 100 and 110 ms, in which nothing was asked of it.
fn at_rest() -> Alarm {
    let alarm = Alarm::default();
    alarm.begin(100, false);
    alarm.begin(110, true);
    alarm
}

/// Nothing has been looked at, so nothing is known to stay as it is.
#[test]
fn before_the_first_row_it_sleeps_through_none() {
    assert!(!Alarm::default().sleeps(0));
}

#[test]
fn with_nothing_to_wait_for_it_sleeps_on() {
    assert!(at_rest().sleeps(120) && at_rest().sleeps(1_000_000));
}

/// A row that brings something may change what the next one sees; so may what changes in a row without being asked for.
#[test]
fn after_a_row_that_brings_something_the_next_one_is_looked_at() {
    let alarm = at_rest();
    alarm.begin(120, false);
    assert!(!alarm.sleeps(130));
    alarm.begin(130, true);
    assert!(alarm.sleeps(140));
    alarm.keep_awake();
    assert!(!alarm.sleeps(140));
    alarm.begin(140, true);
    assert!(alarm.sleeps(150));
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
        assert!(alarm.sleeps(149) && !alarm.sleeps(150) && !alarm.sleeps(151), "{waits:?}");
        assert!(alarm.passed(150, 100, 50));
    }
    let alarm = at_rest();
    assert!(!alarm.exceeded(110, 100, 40));
    assert!(alarm.sleeps(140) && !alarm.sleeps(141) && !alarm.sleeps(142));
    assert!(!alarm.exceeded(140, 100, 40) && alarm.exceeded(141, 100, 40));
}

/// What has passed is not waited for.
#[test]
fn what_has_passed_wakes_no_more() {
    let alarm = at_rest();
    assert!(alarm.passed(110, 100, 10));
    assert!(alarm.sleeps(120));
}

/// A row in which something comes due isn't the last to be looked at, even if it brings nothing: the one after it sees
/// what has come of that.
#[test]
fn after_a_row_in_which_something_comes_due_the_next_one_is_looked_at() {
    let alarm = at_rest();
    assert!(!alarm.passed(110, 100, 50));
    alarm.begin(150, true);
    assert!(alarm.passed(150, 100, 50));
    assert!(!alarm.sleeps(160));
    alarm.begin(160, true);
    assert!(alarm.sleeps(170));
    // Looked at before it comes due, it sleeps again, and waits for what is asked for anew.
    let alarm = at_rest();
    assert!(!alarm.passed(110, 100, 50));
    alarm.begin(140, true);
    assert!(!alarm.passed(140, 100, 90));
    assert!(alarm.sleeps(189) && !alarm.sleeps(190));
}
