//! Letting go: causes, the time that is left of a release, and what is asked of which box about taking over anew.

use super::made::{Made, spec};
use crate::rules::{RULES, find};
use crate::signal::{Direction, Lever};
use crate::spec::Spec;
use crate::spec::facts::{OnCause, TapWiring};

const OWN: &str = "own tap is not a driver tap";
const REARM: &str = "re-arm needs lever cycle";
const TAP: &str = "driver's tap wins";

/// Which of a rule's first situations a run with this spec is asked for.
fn asked<const N: usize>(rule: &str, spec: &Spec) -> [bool; N] {
    let rule = &RULES[find(rule).expect("a rule")];
    std::array::from_fn(|situation| (rule.asks)(spec, situation))
}

/// A pulse read back is there to be had only where the box's contacts and the driver's share the wires.
#[test]
fn own_pulses_are_read_back_on_shared_wires_only() {
    let mut made = Made::engaged();
    made.until(2000);
    made.pulse(Direction::Up, 100);
    made.run(500);
    assert_eq!(asked(OWN, &made.spec), [true, true, false]);
    assert_eq!(made.measure(OWN).reached[..3], [1, 0, 0]);
    // It hasn't let go: as well as can be, at the command.
    assert_eq!(made.seen(OWN, 5.0).at_ms, 2000);
    made.spec.facts.tap_wiring = TapWiring::Shared;
    assert_eq!(asked(OWN, &made.spec), [true, true, true]);
    assert_eq!(made.measure(OWN).reached[..3], [1, 0, 1]);
    // A command before the take-over is none while engaged.
    let mut before = Made::van();
    before.run(300);
    before.pulse(Direction::Up, 100);
    before.nothing(OWN);
}

/// The lever has been in the gate from the start, all is well, and 6 s later the flag falls.
#[test]
fn letting_go_without_any_cause_ever() {
    let mut made = Made::van();
    (made.lever, made.flag) = (Lever::Gate, Some(true));
    made.run(6000);
    made.flag = Some(false);
    made.run(500);
    assert_eq!(made.seen(OWN, -5.0).at_ms, 6000);
}

/// What a box never lets go for can't arm it anew: the van does it for tap, range and data; the hatch's tap only pauses
/// it, and it knows of no range.
#[test]
fn taking_over_anew_is_asked_after_what_ends_an_engagement() {
    let mut van = spec("van.toml");
    assert_eq!(asked(REARM, &van), [true; 5]);
    assert_eq!(asked(REARM, &spec("hatch.toml")), [false, false, true, true, true]);
    van.facts.lost_data = OnCause::PausesMs(1000);
    assert_eq!(asked(REARM, &van), [true, true, false, true, true]);
    van.facts.signals.range = false;
    assert_eq!(asked(REARM, &van), [true, false, false, true, true]);
    van.facts.signals.range = true;
    van.vehicle.gearbox.low_range = None;
    assert_eq!(asked(REARM, &van), [true, false, false, true, true]);
}

/// The tap at 2000 ms has to have let go by 2110 ms, with the release time and a tick. Until the lever is back in the
/// gate it must not engage: 1 s of that is the situation.
#[test]
fn a_second_in_the_gate_after_the_tap() {
    let back_at = |ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        made.taps.down = true;
        made.run(10);
        made.taps.down = false;
        made.until(2500);
        made.lever = Lever::D;
        made.until(ms);
        made.lever = Lever::Gate;
        made.run(1000);
        made
    };
    assert_eq!(back_at(3110).seen(REARM, 1.0).at_ms, 2110);
    assert_eq!(back_at(3110).measure(REARM).reached, [1, 0, 0, 0, 0, 0]);
    back_at(3100).nothing(REARM);
}

/// Five engagements are allowed in 10 s. The first was shown at 800 ms: the fifth comes within 12 s of it, or a tick
/// later.
#[test]
fn as_many_engagements_as_are_allowed() {
    let fifth_after = |ms: u32| {
        let mut made = Made::engaged();
        for _ in 0..3 {
            made.lever = Lever::D;
            made.take_over();
        }
        made.lever = Lever::D;
        made.until(ms);
        made.take_over();
        made.measure(REARM).reached[4]
    };
    assert_eq!(fifth_after(12_000), 1);
    assert_eq!(fifth_after(12_010), 0);
}

/// The last pulse ended at 2100 ms and the tap came at 2500 ms: 400 ms sooner it would have met that pulse, and then
/// 100 ms and a tick are allowed.
#[test]
fn a_cause_after_a_pulse_has_so_much_to_spare() {
    let mut made = Made::engaged();
    made.speed = 45.0;
    made.until(2000);
    made.pulse(Direction::Up, 100);
    made.until(2500);
    made.taps.up = true;
    made.run(10);
    made.taps.up = false;
    made.run(2000);
    assert_eq!(made.seen(TAP, 0.51).at_ms, 2500);
}

/// Either direction is a situation of its own; a tap that ends no engagement is none.
#[test]
fn taps_up_and_down_are_told_apart() {
    let tapped = |mut made: Made, direction: Direction| {
        made.until(2000);
        let contact = if direction == Direction::Up { &mut made.taps.up } else { &mut made.taps.down };
        *contact = true;
        made.run(10);
        (made.taps.up, made.taps.down) = (false, false);
        made.run(500);
        made.measure(TAP).reached
    };
    assert_eq!(tapped(Made::engaged(), Direction::Up), [1, 0, 0, 1, 0, 0]);
    assert_eq!(tapped(Made::engaged(), Direction::Down), [1, 0, 0, 0, 1, 0]);
    assert_eq!(tapped(Made::van(), Direction::Up), [0; 6]);
    // Nor is one in the tick in which the ignition goes off: that ends the engagement.
    let mut off = Made::engaged();
    off.until(2000);
    off.ignition = false;
    assert_eq!(tapped(off, Direction::Up), [0; 6]);
}
