//! Ties: which instants count, how many causes meet in them, and what is in the making.

use super::made::Made;
use crate::signal::{Announcement, Contacts, Direction, Lever, Range};
use crate::spec::facts::TakeOver;
use crate::units::Ms;

const TIES: &str = "disengaging wins ties";
const LEVER: &str = "leaving the gate disengages";

/// A cause, and how it begins.
type Begins = (&'static str, fn(&mut Made));

const TAP: Begins = ("tap", |made| made.taps.up = true);
const RANGE: Begins = ("range", |made| made.range = Range::Transit);
const IGNITION: Begins = ("ignition", |made| made.ignition = false);
const OUT: Begins = ("lever", |made| made.lever = Lever::D);

/// Engaged since 800 ms; the causes begin at 3000 ms, each so much later, and stay for 500 ms.
fn causes(begin: &[(Begins, u32)]) -> Made {
    let mut made = Made::engaged();
    made.until(3000);
    for &((_, begins), later_ms) in begin {
        made.run(later_ms);
        begins(&mut made);
    }
    made.run(500);
    made
}

/// How often engaging was due, a shift was due, two causes met, a pulse ran, a shift ran.
fn met(made: &Made) -> [u32; 5] {
    let [engaging, due, two, pulse, shift, _] = made.measure(TIES).reached;
    [engaging, due, two, pulse, shift]
}

/// With no command in the drive nothing is anywhere near: 5 s at once.
#[test]
fn one_cause_is_a_tie_of_its_own() {
    for cause in [TAP, RANGE, IGNITION] {
        let made = causes(&[(cause, 0)]);
        assert_eq!(made.seen(TIES, 5.0).at_ms, 3000, "{}", cause.0);
        assert_eq!(met(&made), [0; 5], "{}", cause.0);
    }
    // The lever may bounce: alone it makes no tie.
    causes(&[(OUT, 0)]).nothing(TIES);
}

#[test]
fn two_causes_that_begin_in_one_tick() {
    for pair in [[TAP, RANGE], [TAP, IGNITION], [RANGE, IGNITION], [TAP, OUT], [RANGE, OUT], [IGNITION, OUT]] {
        let names = [pair[0].0, pair[1].0];
        assert_eq!(met(&causes(&[(pair[0], 0), (pair[1], 0)])), [0, 0, 1, 0, 0], "{names:?}");
        assert_eq!(met(&causes(&[(pair[1], 0), (pair[0], 10)])), [0; 5], "{names:?}");
    }
}

/// The last speed comes at 2000 ms and is older than 1 s at 3010 ms.
#[test]
fn a_tap_in_the_tick_in_which_data_are_lost() {
    let tapped_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2010);
        made.link[0] = false;
        made.until(ms);
        made.taps.up = true;
        made.run(500);
        made
    };
    assert_eq!(met(&tapped_at(3010)), [0, 0, 1, 0, 0]);
    assert_eq!(met(&tapped_at(3000)), [0; 5]);
}

#[test]
fn a_tap_while_nothing_is_engaged() {
    let mut made = Made::van();
    made.run(3000);
    made.taps.up = true;
    made.run(500);
    made.nothing(TIES);
}

/// Into the gate at 500 ms: engaging falls due at 700 ms, and what comes within 50 ms of that meets it. The box may engage
/// from 690 ms on, before which a tap has nothing to end.
#[test]
fn a_tap_just_as_engaging_is_due() {
    let tapped_at = |ms: u32| {
        let mut made = Made::van();
        made.run(500);
        made.lever = Lever::Gate;
        made.until(ms);
        made.taps.up = true;
        made.run(10);
        made.taps.up = false;
        made.run(100);
        made
    };
    tapped_at(650).nothing(TIES);
    // What is seen of the tick before tells how long all has held: 150 ms and 250 ms.
    for ms in [660, 760] {
        assert_eq!(met(&tapped_at(ms)), [1, 0, 0, 0, 0], "{ms}");
    }
    tapped_at(770).seen(TIES, 5.0);
    assert_eq!(met(&tapped_at(770)), [0; 5]);
}

/// A box with a button engages as it is pressed, here at 1500 ms where all has long held.
#[test]
fn a_tap_just_as_the_button_is_pressed() {
    let tapped_at = |ms: u32| {
        let mut made = Made::van();
        made.spec.facts.take_over = TakeOver::Button;
        made.button = Some(false);
        made.run(500);
        made.lever = Lever::Gate;
        made.until(1500);
        made.button = Some(true);
        made.until(ms);
        made.taps.up = true;
        made.run(100);
        made
    };
    assert_eq!(met(&tapped_at(1550)), [1, 0, 0, 0, 0]);
    assert_eq!(met(&tapped_at(1560)), [0; 5]);
}

/// A lever that may bounce for 200 ms leaves at 2000 ms. At 2200 ms it has left, 100 ms and more after the box had to let
/// go; a command in that tick breaks the lever's own rule, and a tap in it makes no second failure of that.
#[test]
fn a_command_that_another_rule_forbids_already_is_charged_once() {
    let mut made = Made::van();
    made.spec.limits.lever_bounce = Ms::new(200.0);
    made.take_over();
    made.speed = 45.0;
    made.until(2000);
    made.lever = Lever::D;
    made.until(2200);
    (made.taps.up, made.contacts.up) = (true, true);
    made.run(10);
    (made.taps, made.contacts) = Default::default();
    made.run(1000);
    made.seen(TIES, 5.0);
    assert_eq!(made.broken(), [LEVER]);
}

/// The tap at 2000 ms pauses the box, which has 300 ms to open its contacts. All but the box's pause is right again at
/// 2010 ms. A command at 2180 ms is within that time: another cause in its tick makes no failure of it.
#[test]
fn a_command_within_the_reaction_time_of_a_cause_before() {
    let mut made = Made::van();
    made.spec.facts.driver_tap = crate::spec::facts::OnCause::PausesMs(3000);
    made.spec.limits.tap_release = Ms::new(300.0);
    made.take_over();
    made.until(2000);
    made.taps = Contacts { up: true, down: false };
    made.run(10);
    made.taps = Contacts::default();
    made.until(2180);
    made.range = Range::Transit;
    made.pulse(Direction::Up, 10);
    made.say(Announcement::Disengaged);
    made.run(1000);
    assert!(!made.broken().contains(&TIES), "{:?}", made.broken());
}
