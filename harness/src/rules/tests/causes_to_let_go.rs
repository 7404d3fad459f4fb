//! What may have made an engaged box let go, to the tick.

use super::made::{Made, spec};
use super::retold::{arrives, excuses, flagged, flagged_as, lets_go, reads, row};
use crate::signal::{Content, Direction, Signal};
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;
use crate::units::Ms;

/// The van's box with a gear signal, or with an engine speed and perhaps a way to notice frozen data.
fn gear_read() -> Spec {
    let mut spec = spec("van.toml");
    spec.facts.signals.gear = true;
    spec
}
fn engine_read(notices_stuck: bool) -> Spec {
    let mut spec = spec("van.toml");
    (spec.facts.signals.engine_speed, spec.facts.notices_stuck) = (true, notices_stuck);
    spec
}

/// Speed arrives last at 2000 ms: 500 ms later it is just fresh.
#[test]
fn data_older_than_fresh() {
    let at = |ms: u32| {
        let mut made = flagged(spec("van.toml"));
        made.until(2010);
        made.link[0] = false;
        made.until(ms);
        excuses(&lets_go(made)).data_ms
    };
    assert_eq!(at(2500), None);
    assert_eq!(at(2510), Some(2510));
}

/// Below 10 V a box may let go by itself.
#[test]
fn a_weak_supply() {
    let at = |supply_mv: u32| {
        let mut made = flagged(spec("van.toml"));
        made.until(2500);
        row(&mut made, 2000).inputs.supply_mv = supply_mv;
        excuses(&lets_go(made)).other_ms
    };
    assert_eq!(at(10_000), None);
    assert_eq!(at(9_999), Some(2000));
}

/// Held from 2000 to 2300 ms, and so short that a box sees the edge alone. Before, the lever came at 500 ms.
#[test]
fn a_drivers_tap_for_as_long_as_it_is_held() {
    let held = |up: bool| {
        let mut made = flagged(spec("van.toml"));
        made.until(2000);
        (made.taps.up, made.taps.down) = (up, !up);
        made.run(300);
        (made.taps.up, made.taps.down) = (false, false);
        made.until(2600);
        excuses(&lets_go(made)).driver_ms
    };
    assert_eq!([held(true), held(false)], [Some(2290); 2]);
    let short = |edges: [u8; 2]| {
        let mut made = flagged(spec("van.toml"));
        made.until(2600);
        let inputs = &mut row(&mut made, 2000).inputs;
        [inputs.tap_up_edges, inputs.tap_down_edges] = edges;
        excuses(&lets_go(made)).driver_ms
    };
    assert_eq!(short([0, 0]), Some(490));
    assert_eq!([short([1, 0]), short([0, 1])], [Some(2000); 2]);
}

/// A negative answer; and two answers of a signal less than half a period of 100 ms apart.
#[test]
fn a_link_that_behaves_oddly() {
    let with = |change: fn(&mut Made)| {
        let mut made = flagged(spec("van.toml"));
        made.until(2500);
        change(&mut made);
        excuses(&lets_go(made)).other_ms
    };
    assert_eq!(with(|made| reads(made, Signal::Pedal, 2000, Content::Negative(0x22))), Some(2000));
    assert_eq!(with(|made| arrives(made, Signal::Pedal, Content::Value(20.0), 2050)), None);
    assert_eq!(with(|made| arrives(made, Signal::Pedal, Content::Value(20.0), 2049)), Some(2050));
    assert_eq!(with(|made| arrives(made, Signal::Speed, Content::Value(20.0), 2051)), Some(2100));
    assert_eq!(with(|_| {}), None);
}

/// A box that reads the engine speed has a witness of live data. Speed and pedal stand until 2000 ms, and again from then
/// on: after a second of it such a box may call it a freeze, even one that doesn't have to.
#[test]
fn readings_that_stand_still_for_a_second() {
    let at = |ms: u32| {
        let mut made = Made::of(engine_read(false));
        (made.engine_rpm_read, made.engine_lives) = (Some(1500.0), true);
        flagged_as(&mut made);
        made.until(2000);
        made.speed = 21.0;
        made.until(ms);
        excuses(&lets_go(made)).other_ms
    };
    assert_eq!(at(2990), Some(1990), "the second before 2000 ms");
    assert_eq!(at(3000), Some(3000));
}

/// An engine speed that lives until 2000 ms; the answer at 2100 ms is another for the last time.
fn engine_freezes(stuck_noticed_ms: f64, then: fn(&mut Made)) -> Made {
    let mut made = Made::of(engine_read(true));
    made.spec.limits.stuck_noticed = Ms::new(stuck_noticed_ms);
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.0), true);
    flagged_as(&mut made);
    made.until(2000);
    then(&mut made);
    made.run(10);
    made.engine_lives = false;
    made
}

/// A box that must notice a freeze within 1 s may call it one after half of that, though speed and pedal have stood for
/// less than a second: speed since 2000 ms, all of it since 2100 ms.
#[test]
fn a_freeze_before_speed_and_pedal_have_stood_for_a_second() {
    let at = |ms: u32| {
        let mut made = engine_freezes(1000.0, |made| made.speed = 21.0);
        made.until(ms);
        let excuses = excuses(&lets_go(made));
        (excuses.steady_ms, excuses.other_ms)
    };
    // Steady with a living engine speed until 1990 ms: no cause.
    assert_eq!(at(2590), (Some(1990), None));
    assert_eq!(at(2600), (Some(1990), Some(2600)));
}

/// Where it has 3 s to notice, all must have stood for 1 s, from 2100 ms on; until then speed and pedal stand rightly.
#[test]
fn steady_readings_are_right_until_the_engine_speed_has_stood_too() {
    let at = |ms: u32| {
        let mut made = engine_freezes(3000.0, |_| {});
        made.until(ms);
        let excuses = excuses(&lets_go(made));
        (excuses.steady_ms, excuses.other_ms)
    };
    assert_eq!(at(3090), (Some(3090), None));
    assert_eq!(at(3100), (Some(3090), Some(3100)));
}

/// The engine speed, frozen at 2100 ms, is answered last at 2900 ms: 800 ms are all that it shows, however long the rest
/// goes on.
#[test]
fn what_stands_is_witnessed_only_as_long_as_the_engine_speed_is_answered() {
    let mut made = engine_freezes(3000.0, |_| {});
    made.until(2910);
    made.engine_rpm_read = None;
    made.until(4000);
    let excuses = excuses(&lets_go(made));
    assert_eq!((excuses.steady_ms, excuses.other_ms), (Some(4000), None));
}

/// A gear that comes by itself from 3000 ms on excuses for 10 s, in a gate that holds the gear. Below a limit the gearbox
/// shifts as it likes.
#[test]
fn a_shift_that_comes_by_itself() {
    let at = |means: GateMeans, ms: u32| {
        let mut made = Made::of(gear_read());
        made.spec.vehicle.gearbox.gate.means = means;
        made.gear_read = Some(2.0);
        flagged_as(&mut made);
        made.until(3000);
        made.shifts_to = Some(3);
        made.run(600);
        (made.gear, made.gear_read, made.shifts_to) = (3, Some(3.0), None);
        made.until(ms);
        excuses(&lets_go(made)).other_ms
    };
    assert_eq!(at(GateMeans::HeldGear, 12_990), Some(12_990));
    assert_eq!(at(GateMeans::HeldGear, 13_000), Some(12_990));
    assert_eq!(at(GateMeans::RangeLimit, 12_990), None);
}

/// Nor is the box's own shift a cause, if it comes as commanded and is read.
#[test]
fn an_own_shift_is_no_cause() {
    let mut made = Made::of(gear_read());
    made.gear_read = Some(2.0);
    flagged_as(&mut made);
    made.until(3000);
    made.shift(Direction::Up);
    made.gear_read = Some(3.0);
    made.until(6000);
    assert_eq!(excuses(&lets_go(made)).other_ms, None);
}

/// Commanded up at 2000 ms, then down at 3000 ms: a shift up that ends after that tells the box of a gearbox that goes the
/// other way, for 10 s from its beginning at 2500 ms, also when the next has begun by then. One that ended before is the
/// command's own.
#[test]
fn a_shift_that_goes_the_other_way_than_the_last_command() {
    let at = |ends_ms: u32, down_from_ms: u32, ms: u32| {
        let mut made = Made::of(gear_read());
        made.gear_read = Some(2.0);
        flagged_as(&mut made);
        made.until(2000);
        while made.now() < ms {
            let now = made.now();
            made.contacts.up = (2000..2100).contains(&now);
            made.contacts.down = (3000..3100).contains(&now);
            made.gear = if now >= ends_ms { 3 } else { 2 };
            made.shifts_to = if now >= down_from_ms { Some(2) } else { (2500..ends_ms).contains(&now).then_some(3) };
            made.run(10);
        }
        excuses(&lets_go(made)).other_ms
    };
    assert_eq!(at(2990, 9000, 3500), None);
    assert_eq!(at(3000, 9000, 3500), Some(3500));
    assert_eq!(at(3500, 9000, 3200), Some(3200), "while it runs");
    assert_eq!(at(3500, 3600, 3900), Some(3900), "the next runs");
}
