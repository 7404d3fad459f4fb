//! What the map's wishes leave to the other rules: the gear at rest, the foot that comes off, rolling out, and what a
//! gear signal that stands excuses. The van's lines up to 20 % pedal: 2>3 43, 3>2 27, 4>3 38 km/h.

use super::made::Made;
use super::map_wants::{engaged_in, engaged_with};
use crate::signal::Direction::{self, Down, Up};
use crate::signal::{Announcement, Lever};
use crate::units::Rpm;

const SOON: &str = "response deadline";
const SETTLES: &str = "settles on map gear";
const LIGHT: &str = "light-pedal minimum upshift speed";
const COASTING: &str = "coasting downshift";
const LUGGING: &str = "no lugging under load";

/// In fourth at 30 km/h from the start. Announced at 800 ms the box may be quiet for 500 ms; 3 s and a tick from then
/// on.
#[test]
fn the_clock_of_a_gear_at_rest_starts_after_the_quiet_time() {
    let mut made = engaged_in(4, 30.0);
    made.until(6000);
    assert_eq!(made.seen(SETTLES, 3.01 - 4.7).at_ms, 1300);
}

/// Second at 46 km/h from 3000 ms on, and no command: third is due. With the pedal closed, and an engine speed stated up to
/// which the box keeps the gear that brakes, second is right too: all of the 3 s and a tick are left. A closed pedal excuses
/// nothing where no engine speed is stated, an open one nothing anywhere; nor is a gear too high one that brakes.
#[test]
fn the_gear_that_brakes_may_rest() {
    let rests = |gear: u8, kmh: f64, pedal: f64, stated: bool| {
        let mut made = engaged_with(gear, kmh.min(39.0), pedal);
        made.spec.limits.downhill_rpm = stated.then_some(Rpm(3500.0));
        made.until(3000);
        made.speed = kmh;
        made.until(9000);
        made
    };
    rests(2, 46.0, 0.0, true).seen(SETTLES, 3.01);
    rests(2, 46.0, 2.0, true).seen(SETTLES, 3.01);
    for (gear, kmh, pedal, stated) in [(2, 46.0, 0.0, false), (2, 46.0, 10.0, true), (4, 30.0, 0.0, true)] {
        let mark = rests(gear, kmh, pedal, stated).measure(SETTLES).seen;
        assert!(mark.is_some_and(|mark| mark.broken()), "{gear} at {kmh} km/h, {pedal} %: {mark:?}");
    }
}

/// Second at 46 km/h from 3000 ms on, up at 3010 ms. A tap counts after 40 ms: until the tick of 3050 ms the gear is
/// the one that the map doesn't allow, and a tick of 10 ms was spent before.
#[test]
fn a_gear_counts_from_the_tick_in_which_the_tap_does() {
    let mut made = engaged_in(2, 42.0);
    made.until(3000);
    made.speed = 46.0;
    made.run(10);
    made.shift(Up);
    made.gear_read = Some(3.0);
    made.run(500);
    assert_eq!(made.seen(SETTLES, 3.01 - 0.03).at_ms, 3020);
}

/// The same, and the gearbox refuses. The tap counts at 3140 ms, three ticks after the closing; the gear signal
/// corrects that from the answer of 4100 ms on, a second after it; and from 1.5 s after it, beyond 4600 ms, the box may
/// know that it was refused.
#[test]
fn a_refusal_excuses_from_when_it_can_be_known() {
    let mut made = engaged_in(2, 42.0);
    made.until(3000);
    made.speed = 46.0;
    made.until(3100);
    made.pulse(Up, 100);
    made.until(8000);
    assert_eq!(made.seen(SETTLES, 3.01 - 0.03 - 0.51).at_ms, 3110);
}

/// Refused at 3100 ms, out of the gate at 6000 ms and in again 500 ms later, announced at 6800 ms: twice the quiet time
/// after that the wish is due anew.
#[test]
fn a_new_hand_over_forgets_the_refusal() {
    let mut made = engaged_in(2, 42.0);
    made.until(3000);
    made.speed = 46.0;
    made.until(3100);
    made.pulse(Up, 100);
    made.until(6000);
    made.lever = Lever::D;
    made.run(500);
    made.lever = Lever::Gate;
    made.run(300);
    made.say(Announcement::Engaged);
    made.until(8300);
    assert_eq!(made.seen(SOON, 0.355 - 0.5).at_ms, 7800);
}

/// 1 km/h below the line of the closed pedal, at 42 km/h. 15 % are light: a foot that was there before hasn't come off.
/// At 42 km/h the van's box doesn't engage, and a box that isn't engaged isn't asked.
#[test]
fn a_foot_comes_off_from_more_than_light() {
    let lift = |from: f64| {
        let mut made = engaged_with(2, 42.0, from);
        made.until(3000);
        made.pedal = 0.0;
        made.run(500);
        made.measure(LIGHT).reached[1]
    };
    assert_eq!(lift(15.0), 0);
    assert_eq!(lift(15.5), 1);
    let mut fast = Made::van();
    fast.speed = 42.0;
    fast.run(500);
    fast.lever = Lever::Gate;
    fast.run(1500);
    fast.pedal = 0.0;
    fast.run(500);
    fast.nothing(LIGHT);
}

/// In fourth at 40 km/h, and from 3000 ms on 1 km/h less at each update.
fn slows_to(mut made: Made, kmh: f64) -> Made {
    made.until(made.now().max(3000));
    while made.speed > kmh {
        made.speed -= 1.0;
        made.run(100);
    }
    made
}

/// Line 38 km/h, window 5, one count: 32 km/h is the least. Below 3 % the pedal is closed, and rolling out is coasting
/// where it is closed all along.
#[test]
fn rolling_out_with_a_closed_pedal() {
    slows_to(engaged_with(4, 40.0, 3.0), 20.0).nothing(COASTING);
    slows_to(engaged_with(4, 40.0, 2.9), 20.0).seen(COASTING, 20.0 - 32.0);
    for (first, then) in [(0.0, 10.0), (10.0, 0.0)] {
        let mut made = slows_to(engaged_with(4, 40.0, first), 35.0);
        made.pedal = then;
        slows_to(made, 20.0).nothing(COASTING);
    }
}

/// Slowing by 1 m/s² it loses 3.6·0.355 km/h while the box responds.
#[test]
fn rolling_out_the_box_may_lose_what_the_vehicle_loses() {
    let mut made = engaged_with(4, 40.0, 0.0);
    made.accel = -1.0;
    let mut made = slows_to(made, 31.0);
    made.shift(Down);
    made.seen(COASTING, 31.0 - (32.0 - 3.6 * 0.355));
}

/// A command on the line itself is a coasting downshift that came at once.
#[test]
fn a_coasting_downshift_on_its_line() {
    for (pedal, coasts) in [(0.0, 1), (2.9, 1), (3.0, 0)] {
        let mut made = slows_to(engaged_with(4, 40.0, pedal), 38.0);
        made.shift(Down);
        assert_eq!(made.measure(COASTING).reached[0], coasts, "{pedal}");
    }
}

/// Wheels that nearly lock read 30 km/h for an update while the vehicle slows by 1 m/s²: the command comes back on the
/// line, 8 km/h above that reading, and 5 + 1 + 3.6·0.355 km/h above the least.
#[test]
fn a_command_on_the_line_may_lose_what_the_vehicle_loses() {
    let mut made = engaged_with(4, 40.0, 0.0);
    made.accel = -1.0;
    made.until(3000);
    for kmh in [38.0, 34.0, 30.0, 34.0] {
        made.speed = kmh;
        made.run(100);
    }
    made.speed = 38.0;
    made.shift(Down);
    made.seen(COASTING, 6.0 + 3.6 * 0.355);
}

/// In third at 30 km/h or 1146 rpm with 80 % pedal from 4100 ms on, by a gear signal that is frozen: the gearbox has
/// shifted. A box that has asked for second and isn't shown it may wait; one that has asked for fourth lugs until 9 s,
/// 3 s are allowed.
#[test]
fn a_frozen_gear_signal_excuses_only_who_asked_for_a_lower_gear() {
    let asks = |direction: Direction| {
        let mut made = engaged_in(3, 30.0);
        made.until(3000);
        made.shift(direction);
        made.until(4100);
        made.pedal = 80.0;
        made.until(9000);
        made
    };
    asks(Down).nothing(LUGGING);
    assert_eq!(asks(Up).seen(LUGGING, 3.0 - 4.9).at_ms, 4100);
}
