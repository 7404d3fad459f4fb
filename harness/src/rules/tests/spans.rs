//! What the story tells of stretches of time: a shift due in them, right conditions without a take-over, data between fresh
//! and lost, steady driving; and of engaging as the box shows it.

use super::made::{Made, spec};
use super::retold::{arrives, flagged_as, row, told};
use crate::rules::may_command::State;
use crate::signal::{Announcement, Content, Direction, Lever, Range, Signal};
use crate::spec::facts::{AfterEdge, OnCause};
use crate::spec::vehicle::EntryGear;

/// In third at 40 km/h and 20 % nothing is due: down is at 27 km/h, up at 57. Another speed from 2000 ms on.
#[test]
fn a_shift_is_due_at_the_line_and_beyond() {
    let due_at = |kmh: f64| {
        let mut made = Made::van();
        made.spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(3);
        (made.gear, made.speed) = (3, 40.0);
        made.take_over();
        made.until(2000);
        made.speed = kmh;
        made.until(3000);
        let span = *told(&made).spans.last().expect("a span");
        assert_eq!(span.state, State::May);
        span.shift_due
    };
    assert_eq!([26.0, 27.0, 28.0, 40.0].map(due_at), [true, true, false, false]);
    assert_eq!([56.0, 57.0, 58.0].map(due_at), [false, true, true]);
}

/// A box that starts with the lever in the gate: all else must be right for the 200 ms that conditions have to hold.
#[test]
fn a_start_in_the_gate_counts_once_all_else_has_held() {
    let starts = |kmh: f64| {
        let mut made = Made::van();
        (made.lever, made.speed) = (Lever::Gate, kmh);
        made
    };
    let counted = |kmh: f64, for_ms: u32| {
        let mut made = starts(kmh);
        made.run(for_ms);
        told(&made).edgeless
    };
    // Right from the first tick on; the last tick begins 10 ms before the end.
    assert_eq!([counted(40.0, 200), counted(40.0, 210), counted(40.0, 5000)], [0, 1, 1]);
    assert_eq!(counted(41.0, 5000), 0, "above the ceiling");
    // Right from 1000 ms on, when 40 km/h are read for the first time.
    let slows = |until_ms: u32| {
        let mut made = starts(45.0);
        made.until(1000);
        made.speed = 40.0;
        made.until(until_ms);
        told(&made).edgeless
    };
    assert_eq!([slows(1200), slows(1210)], [0, 1]);
}

/// Speed or pedal is read last at 1000 ms and counts for less than 500 ms. The range comes in time for the 200 ms, or in
/// the tick after that.
#[test]
fn old_data_are_not_right_for_a_start_in_the_gate() {
    let high_at = |side: usize, ms: u32| {
        let mut made = Made::van();
        (made.lever, made.range) = (Lever::Gate, Range::Low);
        made.until(1010);
        made.link[side] = false;
        made.until(ms);
        made.range = Range::High;
        made.until(2500);
        told(&made).edgeless
    };
    for side in [0, 1] {
        assert_eq!([high_at(side, 1290), high_at(side, 1300)], [1, 0], "{side}");
    }
}

/// Speed and pedal arrive at 2000 ms, and then so much later: 500 ms are fresh.
#[test]
fn data_older_than_fresh_while_the_box_may_command() {
    let next_at = |ms: u32, engaged: bool| {
        let mut made = if engaged { Made::engaged() } else { Made::van() };
        made.until(2010);
        made.link = [false; 2];
        made.until(2590);
        made.link = [true; 2];
        made.until(4000);
        for signal in [Signal::Speed, Signal::Pedal] {
            arrives(&mut made, signal, Content::Value(20.0), ms);
        }
        told(&made).stale_spells
    };
    // Both are in the tick at 2510 ms.
    assert_eq!(next_at(2505, true), 0);
    // One in the tick after that.
    assert_eq!(next_at(2515, true), 1);
    assert_eq!(next_at(2515, false), 0, "in D");
    // Twice is two.
    let mut twice = Made::engaged();
    for off_ms in [2010, 4010] {
        twice.until(off_ms);
        twice.link = [false; 2];
        twice.run(680);
        twice.link = [true; 2];
    }
    twice.until(6000);
    assert_eq!(told(&twice).stale_spells, 2);
}

/// Steady from 1 s on, the run-in of 20 s ends at 21 s. Braking is no steady driving: it ends one stretch, and after it
/// another begins.
#[test]
fn braking_parts_steady_driving() {
    let mut made = Made::engaged();
    made.steady = true;
    made.until(31_000);
    assert_eq!(told(&made).steady, [(21_000, 31_000)]);
    for ms in (25_000..26_000).step_by(10) {
        row(&mut made, ms).truth.brake_mps2 = 1.0;
    }
    assert_eq!(told(&made).steady, [(21_000, 25_000), (26_000, 31_000)]);
}

/// A contact that is closed in one tick opens with the next.
#[test]
fn a_contact_closed_for_a_tick() {
    let mut made = Made::engaged();
    made.until(2000);
    made.pulse(Direction::Up, 10);
    made.until(3000);
    made.pulse(Direction::Down, 60);
    made.until(4000);
    let opened: Vec<(u32, u32)> = told(&made).commands.iter().map(|c| (c.at_ms, c.open_ms)).collect();
    assert_eq!(opened, [(2000, 2010), (3000, 3060)]);
}

/// When a box that shows nothing else has shown itself engaged by closing a contact.
fn shown_by_closing(made: &mut Made, closes: &[(u32, Direction)]) -> Vec<u32> {
    for &(ms, direction) in closes {
        made.until(ms);
        made.pulse(direction, 60);
    }
    told(made).engagings.iter().map(|e| e.at_ms).collect()
}

fn says_nothing() -> Made {
    let mut made = Made::van();
    made.spec.facts.announces = false;
    made.spec.facts.after_edge = AfterEdge::AnyTime;
    made
}

/// The first closure shows it, whichever way; later ones are only commands, until the box has had to let go.
#[test]
fn the_first_closure_shows_a_box_engaged() {
    let mut made = says_nothing();
    made.until(500);
    made.lever = Lever::Gate;
    let first = [(1500, Direction::Up), (3000, Direction::Down)];
    assert_eq!(shown_by_closing(&mut made, &first), [1500]);
    made.until(5000);
    made.lever = Lever::D;
    made.until(6000);
    made.lever = Lever::Gate;
    assert_eq!(shown_by_closing(&mut made, &[(7000, Direction::Down), (8500, Direction::Up)]), [1500, 7000]);
}

/// Contacts that close from power-up on, with no take-over: one engagement, however many of them.
#[test]
fn closures_while_it_may_not_are_one_engagement() {
    let closes = [(0, Direction::Up), (1000, Direction::Down), (2000, Direction::Up)];
    assert_eq!(shown_by_closing(&mut says_nothing(), &closes), [0]);
}

/// The driver's tap pauses from 2000 ms on, until 3 s after its end. The flag that rises again within that time is an
/// engagement, where none may be; one that rises after it goes on with the one that stands.
#[test]
fn a_flag_that_rises_after_a_pause_goes_on() {
    let rises_again = |ms: u32| {
        let mut made = Made::of(spec("van.toml"));
        made.spec.facts.driver_tap = OnCause::PausesMs(3000);
        flagged_as(&mut made);
        made.until(2000);
        made.taps.up = true;
        made.run(50);
        made.flag = Some(false);
        made.run(50);
        made.taps.up = false;
        made.until(ms);
        made.flag = Some(true);
        made.run(2000);
        told(&made).engagings.iter().map(|e| e.at_ms).collect::<Vec<u32>>()
    };
    assert_eq!(rises_again(5500), [800]);
    assert_eq!(rises_again(4000), [800, 4000]);
}

/// An announcement may come 500 ms late: the lowest speed since then counts. 20 km/h are read until 200 ms, 25 at 300 ms,
/// then 35.
#[test]
fn an_announcement_counts_with_the_lowest_speed_that_it_may_be_late_for() {
    let announced_at = |ms: u32| {
        let mut made = Made::van();
        made.until(250);
        made.speed = 25.0;
        made.until(350);
        made.speed = 35.0;
        made.until(500);
        made.lever = Lever::Gate;
        made.until(ms);
        made.say(Announcement::Engaged);
        made.run(10);
        told(&made).engagings.iter().map(|e| e.speed_seen).collect::<Vec<_>>()
    };
    assert_eq!(announced_at(800), [Some(25.0)]);
    assert_eq!(announced_at(810), [Some(35.0)]);
}
