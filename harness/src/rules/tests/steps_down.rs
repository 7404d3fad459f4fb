//! Steps down: how many at once, and the grip that they take.

use super::made::Made;
use crate::rules::find;
use crate::signal::Direction::{Down, Up};
use crate::units::Ms;

const CASCADE: &str = "downshift cascade limit";
const GRIP: &str = "grip needed by a downshift";
const ICE: &str = "grip needed on a slippery road";

/// In sixth, then at this speed and pedal so many steps down, 700 ms apart: all within the window of 1.5 s.
fn steps_from_sixth(steps: u32, kmh: f64, pedal: f64) -> Made {
    let mut made = Made::engaged();
    made.speed = 100.0;
    for at_ms in [3000, 6000, 9000, 12_000] {
        made.until(at_ms);
        made.shift(Up);
    }
    made.until(15_000);
    (made.speed, made.pedal) = (kmh, pedal);
    made.until(16_000);
    for _ in 0..steps {
        made.shift(Down);
    }
    made.run(500);
    made
}

/// Three steps take two waits: at 700 ms each they fit into 1.5 s, at 750 ms they don't.
#[test]
fn a_cascade_of_three_needs_room_for_two_waits() {
    let rule = super::super::RULES[find(CASCADE).unwrap()];
    let asks = |wait_ms: f64| {
        let mut spec = super::made::spec("van.toml");
        (spec.limits.cascade_steps, spec.limits.shift_blind) = (3, Ms::new(wait_ms));
        [0, 1].map(|situation| (rule.asks)(&spec, situation))
    };
    assert_eq!(asks(700.0), [true, true]);
    assert_eq!(asks(750.0), [false, true]);
}

/// The third step is 4>3, due at 38 km/h with a closed pedal. At steady speed one count is allowed above it.
#[test]
fn a_speed_that_has_really_fallen_but_for_a_count() {
    let fallen = steps_from_sixth(3, 39.0, 20.0);
    fallen.seen(CASCADE, 0.0);
    assert_eq!(fallen.measure(CASCADE).excused, 1);
    let not_quite = steps_from_sixth(3, 39.1, 20.0);
    not_quite.seen(CASCADE, -1.0);
    assert_eq!(not_quite.measure(CASCADE).excused, 0);
}

/// Two steps within the window are as many as are allowed; a pedal at 90 % is on the floor.
#[test]
fn what_a_cascade_is_looked_for_in() {
    for (steps, pedal, reached) in
        [(1, 90.0, [0, 1]), (2, 90.0, [1, 2]), (1, 89.0, [0, 0]), (2, 89.0, [1, 0]), (3, 90.0, [2, 3])]
    {
        let made = steps_from_sixth(steps, 100.0, pedal);
        assert_eq!(made.measure(CASCADE).reached[..2], reached, "{steps} steps at {pedal} %");
    }
}

/// The share of its weight, %, that the van's driven axle needs as grip by the formula: second over third, 2.21 and 1.46 by
/// 3.70, over wheels of 0.375 m; the engine drags with 20 Nm and 10 Nm more for each 1000 rpm through gears that pass on
/// 92 %, and is spun up, 0.3 kg·m², within 400 ms; 55 % of 2600 kg rest on the axle.
fn grip_of_third_to_second_pct(kmh: f64) -> f64 {
    let per_m = 2.21 * 3.70 / 0.375;
    let rad_s = |ratio: f64| kmh / 3.6 * ratio * 3.70 / 0.375;
    let rpm = rad_s(2.21) * 60.0 / std::f64::consts::TAU;
    let (drag_nm, spin_nm) = (20.0 + 10.0 * rpm / 1000.0, 0.3 * (rad_s(2.21) - rad_s(1.46)) / 0.4);
    100.0 * (drag_nm / 0.92 + spin_nm) * per_m / (2600.0 * 9.806_65 * 0.55)
}

/// Third to second with this pedal, at a true speed that stands since its last whole number was read.
fn third_to_second(read_kmh: f64, kmh: f64, accel_mps2: f64, pedal: f64) -> Made {
    let mut made = Made::engaged();
    made.speed = 60.0;
    made.until(2000);
    made.shift(Up);
    (made.speed, made.pedal) = (read_kmh, pedal);
    made.until(6000);
    made.run(10);
    (made.speed, made.accel) = (kmh, accel_mps2);
    made.shift(Down);
    made
}

/// 30 km/h read, 30.4 km/h in truth at 2 m/s²: one count and 2·3.6·0.2 km/h may lie between what is read and what is, and
/// 1 % is left to the formula.
#[test]
fn the_grip_by_the_true_speed_and_gear() {
    let made = third_to_second(30.0, 30.4, -2.0, 0.0);
    made.seen(GRIP, 15.0 - grip_of_third_to_second_pct(30.0));
    let needed = grip_of_third_to_second_pct(30.4);
    let tolerance = 1.0 + grip_of_third_to_second_pct(30.4 + 2.44) - needed;
    let truth = made.truth(GRIP, 15.0 - needed, tolerance);
    assert!(!truth.unknowable);
}

/// A speed read more than a count too low, as by wheels that stand, tells no box how much grip it needs.
#[test]
fn a_speed_read_that_is_not_the_roads() {
    for (kmh, unknowable) in [(31.0, false), (31.1, true), (52.0, true)] {
        let made = third_to_second(30.0, kmh, 0.0, 0.0);
        let needed = grip_of_third_to_second_pct(kmh);
        let tolerance = 1.0 + grip_of_third_to_second_pct(kmh + 1.0) - needed;
        assert_eq!(made.truth(GRIP, 15.0 - needed, tolerance).unknowable, unknowable, "{kmh} km/h");
    }
}

/// Below 3 % the pedal is released, at 3 % it isn't. A road of which no grip is told is no slippery one.
#[test]
fn a_pedal_just_not_released_and_a_grip_untold() {
    let released = third_to_second(30.0, 30.0, 0.0, 2.9);
    released.seen(GRIP, 15.0 - grip_of_third_to_second_pct(30.0));
    released.nothing(ICE);
    third_to_second(30.0, 30.0, 0.0, 3.0).nothing(GRIP);
}
