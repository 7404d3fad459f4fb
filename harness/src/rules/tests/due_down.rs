//! Shifts that are plainly due, for a box that shows nothing and after a hard stop; and what was read lately.

use super::made::{Made, spec};
use super::map_wants::engaged_in;
use super::retold::told;
use crate::rules::story::Story;
use crate::rules::story::tape::Sample;
use crate::signal::Lever;
use crate::spec::facts::AfterEdge;
use crate::spec::vehicle::EntryGear;

/// From when to when a downshift was due after a hard stop, ms: in third at 30 km/h, then 0.9 g from 4000 ms on, 6 km/h in
/// each 100 ms, down to a speed that stays for 2 s, in which the box shows this flag.
fn due_after_stop(kmh: f64, flag: Option<bool>) -> Vec<(u32, u32)> {
    let mut made = Made::van();
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(3);
    (made.gear, made.speed) = (3, 30.0);
    made.take_over();
    made.until(4000);
    made.accel = -9.0;
    while made.speed > kmh {
        made.speed = (made.speed - 6.0).max(kmh);
        made.run(100);
    }
    made.accel = 0.0;
    made.flag = flag;
    made.run(2000);
    let story = told(&made);
    assert!(story.leaps.is_empty());
    story.after_stops.iter().map(|a| (a.from_ms, a.to_ms)).collect()
}

/// A stop of 0.7 g or more between two answers, from 5030 to 5070 ms, is looked back on for 12 s from its last tick. From the
/// answer at 5100 ms on the pedal has the box go down from fourth, at 50 km/h where the line lies at 88 km/h.
#[test]
fn a_hard_stop_is_looked_back_on_from_its_end() {
    for (accel, due) in [(-6.9, None), (-7.0, Some((5100, 17_070))), (-8.0, Some((5100, 17_070)))] {
        let mut made = engaged_in(4, 50.0);
        made.until(5030);
        made.accel = accel;
        made.run(50);
        made.accel = 0.0;
        made.until(5100);
        made.pedal = 90.0;
        made.until(18_000);
        assert_eq!(told(&made).after_stops.last().map(|a| (a.from_ms, a.to_ms)), due, "{accel}");
    }
}

/// Third gear's line down is at 27 km/h, and 3 km/h below it is plainly below. At 3 km/h it stands, up to 6 it may as well.
/// While it brakes nothing is asked for, and the last tick begins 10 ms before the end.
#[test]
fn a_downshift_is_plainly_due_well_below_its_line_and_above_standstill() {
    for (kmh, braking_ms) in [(24.0, 100), (23.0, 200), (7.0, 400)] {
        let from_ms = 4000 + braking_ms;
        assert_eq!(due_after_stop(kmh, None), [(from_ms, from_ms + 1990)], "{kmh} km/h");
    }
    for kmh in [27.0, 25.0, 6.0, 4.0] {
        assert_eq!(due_after_stop(kmh, None), [], "{kmh} km/h");
    }
    // Nothing is due of a box whose flag is down.
    assert_eq!(due_after_stop(24.0, Some(false)), []);
}

/// A box that shows nothing, in a gear at 30 km/h and then at another speed for 6 s: until when a shift was
/// plainly due, and when it came.
fn due_at(gear: u8, kmh: f64) -> Vec<(u32, Option<u32>)> {
    let mut made = Made::van();
    made.spec.facts.announces = false;
    made.spec.facts.after_edge = AfterEdge::AnyTime;
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(gear);
    (made.gear, made.speed) = (gear, 30.0);
    made.until(2500);
    made.lever = Lever::Gate;
    made.until(6000);
    made.speed = kmh;
    made.until(12_000);
    told(&made).plainly_due.iter().map(|d| (d.until_ms, d.engaged_ms)).collect()
}

/// The line 2>3 is at 43 km/h, 3>2 at 27: 3 km/h beyond it is plain. Down to 6 km/h it may as well stand.
#[test]
fn a_shift_is_plainly_due_three_kmh_beyond_its_line() {
    let to_the_end = [(12_000, None)];
    assert_eq!([due_at(2, 45.0), due_at(2, 46.0)], [vec![], to_the_end.to_vec()]);
    assert_eq!([due_at(3, 25.0), due_at(3, 24.0)], [vec![], to_the_end.to_vec()]);
    assert_eq!([due_at(3, 6.0), due_at(3, 7.0)], [vec![], to_the_end.to_vec()]);
}

fn samples(values: &[(u32, f64)]) -> Vec<Sample> {
    values.iter().map(|&(at_ms, value)| Sample { at_ms, value }).collect()
}

/// At 50 km/h, with a pedal that rises by 10 % from answer to answer: 2>3 lies at 43 km/h for 20 % and at 47 for 30 %, so the
/// pair that speaks best for it is 7 km/h beyond.
#[test]
fn each_pedal_of_late_is_looked_at() {
    let speeds = samples(&[(0, 50.0), (100, 50.0), (200, 50.0)]);
    let pedals = samples(&[(0, 20.0), (100, 30.0), (200, 40.0)]);
    let story = Story { speeds, pedals, ..Story::default() };
    assert_eq!(story.beyond_kmh(&spec("van.toml"), 200, 2, 3), Some(7.0));
}

/// From the first instant to the last one, both included.
#[test]
fn a_speed_of_standstill_in_between() {
    let story = Story { speeds: samples(&[(1000, 20.0), (2000, 3.0), (3000, 20.0)]), ..Story::default() };
    let spec = spec("van.toml");
    for (from_ms, to_ms, stood) in [(2000, 3000, true), (2001, 3000, false), (1000, 2000, true), (1000, 1999, false)] {
        assert_eq!(story.stood_between(&spec, from_ms, to_ms), stood, "{from_ms} to {to_ms} ms");
    }
}
