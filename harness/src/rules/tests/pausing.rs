//! Boxes that pause: what is a transition, which must be announced, and what is only going on.

use super::changes::as_is;
use super::made::Made;
use crate::signal::{Announcement, Contacts, Direction, Lever, Range};
use crate::spec::facts::OnCause;
use crate::units::Ms;

const SAYS: &str = "every transition announced";
const RIGHT: &str = "engages only when all is right";
const REARM: &str = "re-arm needs lever cycle";
const LATER: &str = "no command when it may not";

/// A box with a flag that the driver's tap, lost data or neither pauses: in the gate at 2500 ms, flag and word at 2800 ms,
/// now it is 5000 ms.
fn flagged(differs: fn(&mut Made)) -> Made {
    let mut made = Made::van();
    differs(&mut made);
    made.flag = Some(false);
    made.run(2500);
    made.lever = Lever::Gate;
    made.run(300);
    made.flag = Some(true);
    made.say(Announcement::Engaged);
    made.until(5000);
    made
}

fn tap_pauses(made: &mut Made) {
    made.spec.facts.driver_tap = OnCause::PausesMs(3000);
}

fn data_pause(made: &mut Made) {
    made.spec.facts.lost_data = OnCause::PausesMs(500);
}

/// The driver's tap for so long.
fn tap(made: &mut Made, ms: u32) {
    made.taps = Contacts { up: true, down: false };
    made.run(ms);
    made.taps = Contacts::default();
}

/// How many engagements, and how many ends of one, had to be announced.
fn to_announce(made: &Made) -> [u32; 2] {
    let reached = made.measure(SAYS).reached;
    [reached[0], reached[1] + reached[2]]
}

/// Tapped until 5090 ms, so paused until 8090 ms: the flag falls and rises again without a word. There was one engagement,
/// announced as it came.
#[test]
fn a_pause_and_its_end_are_no_transitions() {
    let mut made = flagged(tap_pauses);
    made.taps.up = true;
    made.run(50);
    made.flag = Some(false);
    made.run(50);
    made.taps.up = false;
    made.until(8300);
    made.flag = Some(true);
    made.until(12_000);
    made.seen(SAYS, 0.51);
    assert_eq!(to_announce(&made), [1, 0]);
    assert_eq!(made.measure(RIGHT).reached[0], 1);
    assert_eq!(made.broken(), [""; 0]);
}

/// Out of the gate at 5000 ms and back at 5500 ms: such a box too lets go and engages anew, and must say so.
#[test]
fn a_lever_cycle_ends_what_taps_only_pause() {
    let cycled = |word: Option<Announcement>| {
        let mut made = flagged(tap_pauses);
        made.lever = Lever::D;
        made.run(50);
        made.flag = Some(false);
        made.say(Announcement::Disengaged);
        made.until(5500);
        made.lever = Lever::Gate;
        made.until(5800);
        made.flag = Some(true);
        if let Some(word) = word {
            made.say(word);
        }
        made.until(9000);
        made
    };
    let told = cycled(Some(Announcement::Engaged));
    told.seen(SAYS, 0.51);
    assert_eq!(to_announce(&told), [2, 1]);
    assert_eq!((told.measure(REARM).reached[3], told.broken()), (1, vec![]));
    assert_eq!(cycled(None).seen(SAYS, -5.0).at_ms, 5800);
}

/// The flag falls without a word. What only pauses the box needs none; what ends the engagement, or nothing at all, does.
#[test]
fn a_flag_that_falls_in_silence() {
    type Falls = (&'static str, fn(&mut Made), fn(&mut Made), u32);
    let cases: [Falls; 11] = [
        ("in a tap that pauses", tap_pauses, |made| tap(made, 50), 0),
        // 330 ms after its cause, as a box does that is late: the pause is the same.
        (
            "late after a tap that pauses",
            tap_pauses,
            |made| {
                tap(made, 10);
                made.run(320);
            },
            0,
        ),
        ("in a tap that ends it", as_is, |made| tap(made, 50), 1),
        // Up to 30 ms out of the gate are a bounce: the driver's hand may pause it for that. Then the lever has left.
        (
            "out for 20 ms",
            tap_pauses,
            |made| {
                made.lever = Lever::D;
                made.run(20);
            },
            0,
        ),
        (
            "out for 30 ms",
            tap_pauses,
            |made| {
                made.lever = Lever::D;
                made.run(30);
            },
            1,
        ),
        // Older than 500 ms from 5510 to 5690 ms: a cause for 300 ms more, and a tick.
        ("310 ms after old data, which pause", data_pause, |made| old_data(made, 6000), 0),
        ("320 ms after old data, which pause", data_pause, |made| old_data(made, 6010), 1),
        ("310 ms after old data, which end it", as_is, |made| old_data(made, 6000), 1),
        // Who switches off needs no word.
        (
            "as the ignition goes off",
            as_is,
            |made| {
                made.ignition = false;
                made.run(50);
            },
            0,
        ),
        (
            "as the range leaves high",
            tap_pauses,
            |made| {
                made.range = Range::Transit;
                made.run(50);
            },
            1,
        ),
        (
            "of a box that announces nothing, in a tap that ends it",
            |made| made.spec.facts.announces = false,
            |made| tap(made, 50),
            0,
        ),
    ];
    for (what, differs, cause, expected) in cases {
        let mut made = flagged(differs);
        cause(&mut made);
        made.flag = Some(false);
        made.run(20);
        made.lever = Lever::Gate;
        made.run(1000);
        assert_eq!(to_announce(&made)[1], expected, "{what}");
        let broken = made.measure(SAYS).seen.is_some_and(|m| m.broken());
        assert_eq!(broken, expected == 1, "{what}");
    }
}

/// The last speed comes at 5000 ms, the next at 5700 ms; then until a time.
fn old_data(made: &mut Made, until_ms: u32) {
    made.run(10);
    made.link[0] = false;
    made.until(5700);
    made.link[0] = true;
    made.until(until_ms);
}

/// A tap pauses the box from 5000 ms on, for 5 s. The lever, which may bounce for 200 ms, leaves at 8000 ms: 8200 ms is
/// where the pause gives way to that end. A flag that rises before, at 7000 ms or in the last tick, is charged with that;
/// that it stays up then is the same failure.
#[test]
fn a_flag_that_rises_in_a_pause_is_charged_once() {
    for (rises_ms, margin) in [(7000, -1.2), (8190, -0.01)] {
        let mut made = flagged(|made| {
            made.spec.facts.driver_tap = OnCause::PausesMs(5000);
            made.spec.limits.lever_bounce = Ms::new(200.0);
        });
        tap(&mut made, 10);
        made.run(40);
        made.flag = Some(false);
        while made.now() < 11_000 {
            made.lever = if made.now() < 8000 { Lever::Gate } else { Lever::D };
            made.flag = Some(made.now() >= rises_ms);
            made.run(10);
        }
        assert_eq!(made.seen(LATER, margin).at_ms, rises_ms);
    }
}

/// The driver taps on the wire that the box's own pulse is on, and the box notices and lets go. Such a tap ends the
/// engagement, and that must be announced; where it only pauses the box, nothing must.
#[test]
fn a_tap_hidden_in_an_own_pulse() {
    let tapped = |differs: fn(&mut Made)| {
        let mut made = flagged(differs);
        made.spec.facts.tap_wiring = crate::spec::facts::TapWiring::Shared;
        made.contacts.up = true;
        made.run(50);
        made.taps.up = true;
        made.run(50);
        (made.contacts, made.taps) = (Contacts::default(), Contacts::default());
        made.flag = Some(false);
        made.run(2000);
        made
    };
    assert_eq!(to_announce(&tapped(as_is)), [1, 1]);
    assert_eq!(to_announce(&tapped(tap_pauses)), [1, 0]);
}

/// Out of its pause it goes on with commands, and the first of them is no first command after engaging.
#[test]
fn a_command_right_after_a_pause_is_none_right_after_engaging() {
    let mut made = flagged(tap_pauses);
    made.speed = 45.0;
    tap(&mut made, 50);
    made.flag = Some(false);
    made.until(8300);
    made.flag = Some(true);
    made.pulse(Direction::Up, 100);
    made.run(500);
    // 5.5 s after the engagement at 2800 ms, 5 s beyond the limit of 0.5 s: capped.
    assert_eq!(made.seen("no shift right after engaging", 5.0).at_ms, 8300);
}
