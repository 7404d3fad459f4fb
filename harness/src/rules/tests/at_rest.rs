//! Speed and pedal at rest: which stretches count, for how long, and how far off the gear may be. The van's lines at 20 %
//! pedal: 2>3 at 43, 3>2 at 27, 4>3 at 38 km/h.

use super::conformance::{in_fourth, slow_to};
use super::made::{Made, spec};
use crate::signal::Direction::Down;
use crate::signal::Lever;

const SETTLES: &str = "settles on map gear";
const FIRST: &str = "never commands first";

/// Engaged at 800 ms in second at 20 km/h, as the map has it; from 500 ms later on it counts as at rest, and for 3 s it must
/// rest to tell. One tick is allowed, in truth the second of a shift.
#[test]
fn a_gear_that_the_map_allows() {
    let rests_until = |ms: u32| {
        let mut made = Made::engaged();
        made.until(ms);
        made
    };
    let told = rests_until(4300);
    assert_eq!(told.seen(SETTLES, 3.01).at_ms, 1300);
    told.truth(SETTLES, 3.01, 1.0);
    assert_eq!(told.measure(SETTLES).reached[..2], [1, 0]);
    rests_until(4290).nothing(SETTLES);
}

/// In second at 50 km/h, 7 km/h beyond the line to third. The leap of the speed at 1000 ms is doubted for twice 500 ms; then
/// it rests for 1 s in a gear that the map doesn't allow: too short to tell of the truth.
#[test]
fn a_short_rest_in_another_gear_counts_by_what_was_read() {
    let mut made = Made::engaged();
    made.speed = 50.0;
    made.until(3000);
    assert_eq!(made.seen(SETTLES, 2.01).at_ms, 2000);
    let measure = made.measure(SETTLES);
    assert_eq!((measure.truth, &measure.reached[..2]), (None, &[0, 1][..]));
}

/// In fourth at 25 km/h second is right: two steps, for which the box has 3 s, 1 s more and a tick. The stretch begins with
/// the update that reads 25 km/h, 100 ms before the wait.
#[test]
fn a_gear_two_steps_off_has_a_second_more() {
    let down_after = |ms: u32| {
        let mut made = in_fourth();
        slow_to(&mut made, 25.0);
        made.run(ms);
        made.shift(Down);
        made
    };
    down_after(3900).seen(SETTLES, 0.01);
    down_after(4000).seen(SETTLES, -0.09);
    down_after(4000).truth(SETTLES, -0.09, 1.0);
}

/// Under a range limit the gearbox stays below it as it likes: the true gear tells nothing. 25 km/h at 20 % pedal lie away
/// from the hatch's lines, 3>2 at 19.6 and 2>3 at 34.3 km/h.
#[test]
fn under_a_range_limit_only_what_was_read_counts() {
    let mut made = Made::of(spec("hatch.toml"));
    (made.gear_read, made.speed) = (Some(2.0), 25.0);
    made.take_over();
    made.until(6000);
    let measure = made.measure(SETTLES);
    assert!(measure.seen.is_some(), "{measure:?}");
    assert_eq!((measure.truth, measure.reached[0]), (None, 1));
}

/// Standing is 3 km/h or less. A vehicle that stood already, or rolls out in D, tells nothing of first.
#[test]
fn rolling_to_a_standstill_in_the_gate() {
    for (from_kmh, to_kmh, lever, counted) in
        [(4.0, 3.0, Lever::Gate, 1), (3.0, 2.0, Lever::Gate, 0), (4.0, 3.5, Lever::Gate, 0), (4.0, 3.0, Lever::D, 0)]
    {
        let mut made = Made::van();
        made.speed = from_kmh;
        made.take_over();
        made.lever = lever;
        made.run(500);
        made.speed = to_kmh;
        made.run(500);
        assert_eq!(made.measure(FIRST).reached[1], counted, "{from_kmh} to {to_kmh} km/h in {lever:?}");
    }
}
