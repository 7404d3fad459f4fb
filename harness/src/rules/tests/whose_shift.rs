//! What the story tells of a shift, of who caused it, and of the gear that the box could read at a command.

use super::commands::rpm;
use super::made::{Made, spec};
use super::retold::{flagged_as, reads, told};
use crate::signal::{Content, Direction, Signal};
use crate::spec::vehicle::EntryGear;

/// The gearbox shifts from now on, for 600 ms.
fn shifts(made: &mut Made, to: u8) {
    made.shifts_to = Some(to);
    made.run(600);
    (made.gear, made.shifts_to) = (to, None);
}

/// The commands that caused the shifts told.
fn causes(made: &Made) -> Vec<Option<usize>> {
    told(made).shifts.iter().map(|s| s.command).collect()
}

/// In third, at the limit that the hatch's gate sets, the box raises the limit to fourth: a shift to fourth is that
/// command's, one to fifth or second is the gearbox's own.
#[test]
fn under_a_limit_a_shift_up_to_the_new_limit_is_the_commands() {
    let shift_to = |to: u8| {
        let mut made = Made::of(spec("hatch.toml"));
        (made.gear, made.gear_read) = (3, Some(3.0));
        made.take_over();
        made.until(3000);
        made.pulse(Direction::Up, 120);
        made.until(3200);
        shifts(&mut made, to);
        made.run(100);
        assert_eq!(told(&made).commands[0].asks_for(), Some(4));
        causes(&made)
    };
    assert_eq!(shift_to(4), [Some(0)]);
    assert_eq!([shift_to(5), shift_to(2)], [[None], [None]]);
}

/// The next shift begins in the tick in which one ends: both are told.
#[test]
fn two_shifts_without_a_pause() {
    let mut made = Made::engaged();
    made.until(2000);
    made.shifts_to = Some(3);
    made.run(600);
    made.gear = 3;
    shifts(&mut made, 4);
    made.run(100);
    let shifts = told(&made).shifts.iter().map(|s| (s.from_ms, s.to_ms, s.from, s.to)).collect::<Vec<_>>();
    assert_eq!(shifts, [(2000, 2600, 2, 3), (2600, 3200, 3, 4)]);
}

/// A tap that has been closed for 40 ms is one, and its shift begins within 1.5 s: of the command at 2000 ms, refused, no
/// later shift is the answer, even one the same way.
#[test]
fn a_shift_comes_within_its_time_of_the_command() {
    let shift_at = |ms: u32, to: u8| {
        let mut made = Made::engaged();
        made.gear = 3;
        made.until(2000);
        made.pulse(Direction::Up, 20);
        made.until(ms);
        shifts(&mut made, to);
        made.run(100);
        causes(&made)
    };
    assert_eq!([shift_at(2030, 4), shift_at(2040, 4), shift_at(3500, 4)], [[None], [Some(0)], [Some(0)]]);
    assert_eq!([shift_at(3510, 4), shift_at(8000, 4)], [[None], [None]]);
    assert_eq!(shift_at(2200, 2), [None], "the other way");
}

/// The driver's tap ends at 2040 ms, last seen closed at 2030 ms: a shift that begins up to 1.5 s later may be its own.
#[test]
fn a_gear_comes_by_itself_where_neither_box_nor_driver_asked() {
    let by_itself = |up: bool, after_ms: u32| {
        let mut made = Made::engaged();
        made.until(2000);
        (made.taps.up, made.taps.down) = (up, !up);
        made.run(40);
        (made.taps.up, made.taps.down) = (false, false);
        made.until(2030 + after_ms);
        shifts(&mut made, 3);
        made.until(6000);
        made.pulse(Direction::Up, 100);
        told(&made).commands[0].gear_by_itself
    };
    for up in [true, false] {
        assert_eq!([by_itself(up, 200), by_itself(up, 1500), by_itself(up, 1510)], [false, false, true], "{up}");
    }
    // What the box has commanded hasn't come by itself either.
    let mut made = Made::engaged();
    made.gear = 4;
    made.until(3000);
    made.shift(Direction::Down);
    made.until(6000);
    made.pulse(Direction::Down, 100);
    assert!(!told(&made).commands[1].gear_by_itself);
}

/// One that ends in the gear that it left has come to nothing. One that begins in the tick in which another ends is a shift
/// for itself.
#[test]
fn a_shift_that_fails_and_one_that_follows_at_once() {
    let mut made = Made::engaged();
    made.until(2000);
    made.shifts_to = Some(3);
    made.run(300);
    made.shifts_to = None;
    made.run(1000);
    assert!(told(&made).shifts.is_empty());
    let mut made = Made::engaged();
    made.until(2000);
    shifts(&mut made, 3);
    shifts(&mut made, 4);
    made.run(1000);
    let last = *told(&made).shifts.last().expect("a shift");
    assert_eq!((last.from_ms, last.to_ms, last.from, last.to, last.ended), (2600, 3200, 3, 4, true));
}

/// Third gear turns the engine 1.46 · 3.70 times as fast as the wheels: within 4 % of that, it is third. Below 10 km/h the
/// ratio tells nothing.
#[test]
fn engine_speed_tells_the_gear() {
    let told_by = |kmh: f64, share: f64| {
        let mut made = Made::van();
        made.spec.facts.signals.engine_speed = true;
        (made.speed, made.engine_rpm_read) = (kmh, Some(share * rpm(1.46, kmh)));
        made.until(2050);
        made.pulse(Direction::Up, 60);
        told(&made).commands[0].gear_told
    };
    for share in [0.961, 1.0, 1.039] {
        assert_eq!(told_by(30.0, share), Some((3, 2000)), "{share}");
    }
    assert_eq!([told_by(30.0, 0.959), told_by(30.0, 1.041)], [None; 2]);
    assert_eq!([told_by(10.0, 1.0), told_by(9.0, 1.0)], [Some((3, 2000)), None]);
}

/// The older of the two readings says when it was told; a value that no engine speed can be is none.
#[test]
fn a_gear_is_as_old_as_the_older_reading() {
    let told_with = |change: fn(&mut Made), engine: Content| {
        let mut made = Made::van();
        made.spec.facts.signals.engine_speed = true;
        (made.speed, made.engine_rpm_read) = (30.0, Some(rpm(1.46, 30.0)));
        made.until(1950);
        change(&mut made);
        made.until(2050);
        made.pulse(Direction::Up, 60);
        reads(&mut made, Signal::EngineSpeed, 2000, engine);
        told(&made).commands[0].gear_told
    };
    let right = || Content::Value(rpm(1.46, 30.0));
    assert_eq!(told_with(|_| {}, right()), Some((3, 2000)));
    assert_eq!(told_with(|made| made.link[0] = false, right()), Some((3, 1900)));
    for wrong in [16_384.0, -1.0] {
        assert_eq!(told_with(|_| {}, Content::Value(wrong)), Some((3, 1900)), "{wrong}");
    }
}

/// Nor is a pedal beyond 100 % or below 0 one: the answer before it counts, 150 ms old.
#[test]
fn a_pedal_that_cannot_be_is_not_read() {
    for (pedal, expected) in
        [(100.0, (Some(100.0), Some(50))), (101.0, (Some(20.0), Some(150))), (-1.0, (Some(20.0), Some(150)))]
    {
        let mut made = Made::engaged();
        made.until(2050);
        made.pulse(Direction::Up, 60);
        reads(&mut made, Signal::Pedal, 2000, Content::Value(pedal));
        let command = told(&made).commands[0];
        assert_eq!((command.pedal_seen, command.age_seen_ms), expected, "{pedal} %");
    }
}

/// A box that reads third and counts fourth for a second.
#[test]
fn a_count_beside_the_gear_read() {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(3);
    (made.gear, made.gear_read) = (3, Some(3.0));
    flagged_as(&mut made);
    made.until(5000);
    for row in &mut made.recording.rows {
        row.counted_gear = Some(if (2000..3000).contains(&row.t_ms) { 4 } else { 3 });
    }
    let off: Vec<_> = told(&made).miscounts.iter().map(|m| (m.from_ms, m.to_ms, m.counted, m.gear)).collect();
    assert_eq!(off, [(2000, 3000, 4, 3)]);
}

/// With the engine speed frozen from 2100 ms on, and all else standing, a gear read that changes at 2500 ms shows that
/// not all of it is frozen: the 3 s to notice count from there. Gear 0 is none, and shows nothing.
#[test]
fn a_gear_read_lives_as_the_rest_does() {
    let stuck_at = |gear: f64| {
        let mut made = Made::van();
        let facts = &mut made.spec.facts;
        (facts.signals.gear, facts.signals.engine_speed, facts.notices_stuck) = (true, true, true);
        (made.engine_rpm_read, made.engine_lives, made.gear_read) = (Some(1500.0), true, Some(2.0));
        flagged_as(&mut made);
        made.until(2010);
        made.engine_lives = false;
        made.until(2500);
        made.gear_read = Some(gear);
        made.until(8000);
        told(&made).releases.iter().map(|r| r.closing.at_ms).collect::<Vec<u32>>()
    };
    assert_eq!(stuck_at(2.0), [5100]);
    assert_eq!(stuck_at(3.0), [5500]);
    assert_eq!(stuck_at(0.0), [5100]);
}
