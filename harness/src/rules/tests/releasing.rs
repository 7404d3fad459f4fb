//! The four rules on disengaging, and what comes later.

use super::made::Made;
use crate::signal::{Announcement, Contacts, Direction, Lever, Range};
use crate::spec::facts::Answers;
use crate::units::Ms;

const TAP: &str = "driver's tap wins";
const LEVER: &str = "leaving the gate disengages";
const RANGE: &str = "low range disengages";
const DATA: &str = "lost data disengages";
const SHOULD: &str = "engages when it should";
const LATER: &str = "no command when it may not";

/// A rule, its release time in ms, its cause.
type Releasing = (&'static str, u32, fn(&mut Made));

const RULES: [Releasing; 3] = [
    (TAP, 100, |made| made.taps = Contacts { up: true, down: false }),
    (LEVER, 100, |made| made.lever = Lever::D),
    (RANGE, 200, |made| made.range = Range::Transit),
];

/// The box closes up at 2000 ms, the cause comes at 2050 ms, the contact opens `after_ms` later.
fn pulse_over(cause: fn(&mut Made), after_ms: u32) -> Made {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(2000);
    made.contacts = Contacts { up: true, down: false };
    made.run(50);
    cause(&mut made);
    made.run(after_ms);
    made.contacts = Contacts::default();
    made.run(3000);
    made
}

/// Allowed: the release time and one tick.
#[test]
fn an_own_pulse_ends_in_time() {
    for (rule, limit_ms, cause) in RULES {
        let kept = pulse_over(cause, limit_ms + 10);
        assert_eq!(kept.seen(rule, 0.0).at_ms, 2050);
        assert_eq!(kept.measure(rule).reached[..3], [1, 0, 1], "{rule}");
        assert!(!kept.broken().contains(&rule));
        let broken = pulse_over(cause, limit_ms + 30);
        broken.seen(rule, -0.02);
        assert_eq!(broken.broken(), [rule]);
        // No own pulse: the whole time is left, with the tick.
        pulse_over(cause, 50).seen(rule, (f64::from(limit_ms) - 40.0) / 1000.0);
    }
}

/// The pulse of a request is the harness's and runs out by itself: asked for at 2000 ms, in a tick of 10 ms, it was over
/// for the box 40 ms before the cause, however long the contact stays closed.
#[test]
fn what_was_asked_for_before_the_cause_runs_out() {
    let asking = |mut made: Made| {
        made.spec.facts.answers = Answers::Requests { width: Ms::new(200.0), gap: Ms::new(100.0) };
        made
    };
    for (rule, limit_ms, cause) in RULES {
        let kept = asking(pulse_over(cause, 250));
        kept.seen(rule, f64::from(limit_ms + 10 + 40) / 1000.0);
        assert_eq!(kept.measure(rule).reached[..3], [1, 0, 1], "{rule}");
        assert!(!kept.broken().contains(&rule));
        let asked_after = |after_ms: u32| {
            let mut made = Made::engaged();
            made.speed = 60.0;
            made.until(2000);
            cause(&mut made);
            made.run(after_ms);
            made.pulse(Direction::Up, 200);
            made.run(3000);
            asking(made)
        };
        // Asked for at the end of the time to react, with the tick it takes: just in time. A tick later it is a command that
        // begins after the cause.
        asked_after(limit_ms).seen(rule, 0.0);
        asked_after(limit_ms + 10).seen(rule, -f64::from(limit_ms + 10) / 1000.0);
    }
}

/// A command that begins 600 ms after the cause is 600 ms beyond.
#[test]
fn no_command_begins_after_the_cause() {
    for (rule, _, cause) in RULES {
        let mut made = Made::engaged();
        // Fast enough for third and fourth: the driver's own tap counts too.
        made.speed = 60.0;
        made.until(2000);
        cause(&mut made);
        made.run(600);
        made.pulse(Direction::Up, 100);
        made.run(3000);
        made.seen(rule, -0.6);
        assert_eq!(made.broken(), [rule]);
    }
}

#[test]
fn a_cause_in_a_shift_counts_as_such() {
    for (rule, _, cause) in RULES {
        let mut made = Made::engaged();
        made.speed = 45.0;
        made.until(2000);
        made.pulse(Direction::Up, 100);
        made.shifts_to = Some(3);
        made.run(200);
        cause(&mut made);
        made.run(2000);
        assert_eq!(made.measure(rule).reached[..3], [1, 1, 0], "{rule}");
        assert!(made.broken().is_empty(), "{rule}: {:?}", made.broken());
    }
}

/// Nothing engaged, nothing to let go.
#[test]
fn a_cause_that_meets_no_engagement_asks_for_nothing() {
    for (rule, _, cause) in RULES {
        let mut made = Made::van();
        made.run(1000);
        cause(&mut made);
        made.run(2000);
        made.nothing(rule);
    }
}

/// The last speed arrives at 2000 ms; it is older than 1 s from the tick at 3010 ms on. From there the release time of
/// 100 ms is allowed, one poll of 100 ms and one tick: until 3220 ms.
#[test]
fn lost_data() {
    let opens_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2010);
        made.link[0] = false;
        made.until(2950);
        made.contacts.up = true;
        made.until(ms);
        made.contacts.up = false;
        made.run(2000);
        made
    };
    opens_at(3220).seen(DATA, 0.0);
    opens_at(3250).seen(DATA, -0.03);
    assert_eq!(opens_at(3220).measure(DATA).reached[..5], [1, 0, 1, 1, 0]);
    // The pedal alone; and both at once, which is neither.
    for (speed, pedal, counts) in [(true, false, [1, 0, 0, 0, 1]), (false, false, [1, 0, 0, 0, 0])] {
        let mut made = Made::engaged();
        made.until(2010);
        made.link = [speed, pedal];
        made.run(3000);
        assert_eq!(made.measure(DATA).reached[..5], counts);
    }
    // 0.9 of the time is no loss.
    let mut made = Made::engaged();
    made.until(2010);
    made.link[0] = false;
    made.until(2900);
    made.link[0] = true;
    made.run(2000);
    made.nothing(DATA);
}

/// The lever leaves at 2000 ms and comes back at 5000 ms. A command at 4900 ms: 0.1 s to the new take-over.
#[test]
fn a_command_long_after_the_cause() {
    let command_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.lever = Lever::D;
        made.until(ms);
        made.pulse(Direction::Up, 60);
        made.until(5000);
        made.lever = Lever::Gate;
        made.run(100);
        made
    };
    let made = command_at(4900);
    assert_eq!(made.seen(LATER, -0.1).at_ms, 4900);
    assert_eq!(made.broken(), [LATER]);
    // Within a second the lever's own rule has it, and only that one.
    assert_eq!(command_at(2900).broken(), [LEVER]);
    // 7 s without a command: capped at 5 s.
    let mut kept = Made::engaged();
    kept.until(2000);
    kept.lever = Lever::D;
    kept.run(7000);
    kept.seen(LATER, 5.0);
    assert_eq!(kept.measure(LATER).reached[0], 1);
    Made::engaged().nothing(LATER);
}

/// From 40 km/h, the ceiling, to 46 km/h, as fast as an engine can; third is due from 43 km/h on.
fn speed_up(made: &mut Made) {
    for _ in 0..3 {
        made.run(100);
        made.speed += 2.0;
    }
}

/// The lever comes in at 600 ms, in low range; high at 1000 ms, so all has held at 1200 ms. The limit is 1 s, one tick is
/// allowed: 1990 ms just keeps it.
#[test]
fn the_first_command_after_low_range() {
    let command_at = |ms: u32, low: Range| {
        let mut made = Made::van();
        (made.range, made.speed) = (low, 40.0);
        made.run(600);
        made.lever = Lever::Gate;
        made.until(1000);
        made.range = Range::High;
        made.until(1300);
        made.say(Announcement::Engaged);
        speed_up(&mut made);
        made.until(ms);
        made.pulse(Direction::Up, 100);
        made
    };
    for low in [Range::Low, Range::Transit] {
        let broken = command_at(1970, low);
        assert_eq!(broken.seen(RANGE, -0.02).at_ms, 1970);
        assert_eq!(broken.broken(), [RANGE]);
        let kept = command_at(1990, low);
        kept.seen(RANGE, 0.0);
        assert_eq!(kept.measure(RANGE).reached[..4], [0, 0, 0, 1]);
        assert!(kept.broken().is_empty(), "{:?}", kept.broken());
    }
    command_at(1970, Range::High).nothing(RANGE);
    // A box that starts afresh doesn't know of it.
    let mut afresh = Made::van();
    (afresh.range, afresh.speed) = (Range::Low, 40.0);
    afresh.run(200);
    (afresh.range, afresh.restart) = (Range::High, true);
    afresh.run(100);
    afresh.lever = Lever::Gate;
    afresh.run(300);
    afresh.say(Announcement::Engaged);
    speed_up(&mut afresh);
    afresh.run(210);
    afresh.pulse(Direction::Up, 100);
    afresh.nothing(RANGE);
}

/// High again at 3000 ms. A box may let a take-over go that comes before the range has been high for 1 s; one that comes
/// later it may not.
#[test]
fn a_take_over_soon_after_low_range_may_be_let_go() {
    let taken_over_at = |ms: u32| {
        let mut made = Made::van();
        made.range = Range::Low;
        made.until(3000);
        made.range = Range::High;
        made.until(ms);
        made.lever = Lever::Gate;
        made.run(4000);
        made
    };
    taken_over_at(3900).nothing(SHOULD);
    taken_over_at(4020).seen(SHOULD, -2.79);
}

/// The lever leaves at 3000 ms; the release time and a tick end at 3110 ms, and the flag stays up until 3400 ms. One that
/// falls in time leaves 4.89 s to the end of the drive.
#[test]
fn a_flag_that_stays_up() {
    let falls_at = |ms: u32| {
        let mut made = Made::engaged();
        made.flag = Some(true);
        made.until(3000);
        made.lever = Lever::D;
        made.until(ms);
        made.flag = Some(false);
        made.say(Announcement::Disengaged);
        made.until(8000);
        made
    };
    assert_eq!(falls_at(3400).seen(LATER, -0.29).at_ms, 3110);
    falls_at(3110).seen(LATER, 4.89);
}
