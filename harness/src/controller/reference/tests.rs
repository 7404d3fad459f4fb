//! The reference against sequences worked out by hand on a small map.

mod bench;

use super::*;
use crate::controller::hello::HelloLine;
use crate::signal::Contacts;
use crate::spec::facts::{OutOfFirst, ReArm, TakeOver, TapWiring};
use bench::Bench;
pub(in crate::controller) use bench::hello;

fn words(seen: &[(u64, String)]) -> Vec<(u64, &str)> {
    seen.iter().map(|(t, what)| (*t, what.as_str())).collect()
}

/// Gate at 500 ms, seen as a take-over 30 ms later; conditions then hold for 200 ms.
#[test]
fn it_engages_after_bounce_and_the_held_time() {
    let mut bench = Bench::new(None);
    assert_eq!(words(&bench.run(500)), [(0, "Ready")]);
    bench.inputs.lever = Lever::Gate;
    assert_eq!(words(&bench.run(500)), [(730, "Engaged")]);
    assert_eq!((bench.last.engaged, bench.last.counted_gear), (Some(true), Some(2)));
}

#[test]
fn the_gate_at_power_up_is_no_take_over() {
    assert_eq!(words(&Bench::of(hello(), None, 0, Lever::Gate).run(5000)), [(0, "Ready")]);
    let seen = Bench::of(hello(), Some(Fault::LevelTriggered), 0, Lever::Gate).run(5000);
    assert_eq!(words(&seen)[1], (200, "Engaged"));
}

#[test]
fn the_ceiling_is_inclusive_and_in_kmh() {
    for (speed, fault, engages) in [
        (40.0, None, true),
        (41.0, None, false),
        (64.0, Some(Fault::CeilingInMph), true),
        (65.0, Some(Fault::CeilingInMph), false),
    ] {
        let mut bench = Bench::new(fault);
        bench.speed = speed;
        bench.run(500);
        bench.inputs.lever = Lever::Gate;
        assert_eq!(bench.run(3000).iter().any(|(_, what)| what == "Engaged"), engages, "{speed}");
    }
}

/// At 40 % pedal 2>3 is due at 30 + 0.4·30 = 42 km/h. The pulse lasts 120 ms.
#[test]
fn it_shifts_up_on_the_line_with_one_pulse() {
    let mut bench = Bench::engaged(None);
    bench.pedal = 40.0;
    for speed in [12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 26.0, 28.0, 30.0, 32.0, 34.0, 36.0, 38.0, 40.0, 41.0] {
        bench.speed = speed;
        assert_eq!(bench.run(200), []);
    }
    bench.speed = 42.0;
    let t = bench.t_ms;
    assert_eq!(words(&bench.run(3000)), [(t, "up"), (t + 120, "open")]);
    assert_eq!(bench.last.counted_gear, Some(3));
    // Down at 20 + 0.4·20 = 28 km/h.
    for speed in [40.0, 37.0, 34.0, 31.0, 29.0] {
        bench.speed = speed;
        assert_eq!(bench.run(100), []);
    }
    bench.speed = 28.0;
    let t = bench.t_ms;
    assert_eq!(words(&bench.run(3000)), [(t, "down"), (t + 120, "open")]);
}

#[test]
fn every_cause_opens_the_contacts_and_wins_over_the_shift() {
    type Change = fn(&mut Inputs);
    let causes: [(&str, Change, u64); 4] = [
        ("Disengaged", |inputs| inputs.lever = Lever::N, 30),
        ("Disengaged", |inputs| inputs.tap_down_edges = 1, 0),
        ("Fault", |inputs| inputs.range = Some(Range::Transit), 0),
        ("Fault", |inputs| inputs.ignition = false, 0),
    ];
    for (announced, cause, after_ms) in causes {
        let mut bench = Bench::engaged(None);
        bench.run(1000);
        bench.speed = 12.0;
        bench.run(100);
        bench.box_.state.counted = 3;
        bench.run(50);
        assert_eq!(bench.last.action, Action::Contacts(Contacts { up: false, down: true }));
        cause(&mut bench.inputs);
        let t = bench.t_ms;
        assert_eq!(words(&bench.run(200)), [(t + after_ms, announced), (t + after_ms, "open")]);
        assert_eq!(bench.last.engaged, Some(false));
    }
}

/// Last answers at 900 ms; lost beyond 1,000 ms of age, that is at 1,910 ms.
#[test]
fn lost_data_disengage() {
    let mut bench = Bench::engaged(None);
    bench.answers = false;
    assert_eq!(words(&bench.run(3000)), [(1910, "Fault")]);
    bench.answers = true;
    assert_eq!(bench.run(10_000), []);
    let mut bench = Bench::engaged(Some(Fault::TakesBackByItself));
    bench.answers = false;
    bench.run(3000);
    bench.answers = true;
    assert!(bench.run(10_000).iter().any(|(_, what)| what == "Engaged"));
}

#[test]
fn a_speed_that_jumps_holds_commands() {
    let mut bench = Bench::engaged(None);
    bench.run(1000);
    bench.box_.state.counted = 3;
    bench.speed = 15.0;
    let t = bench.t_ms;
    // Due at once (3>2 at 20 km/h), but 5 km/h in 100 ms is more than the 25 km/h/s allow: 2.5 and 2 of rounding.
    assert_eq!(words(&bench.run(1000)), [(t + 500, "down"), (t + 620, "open")]);
}

#[test]
fn the_start_of_the_clock_makes_no_difference() {
    let run = |start_ms| {
        let mut bench = Bench::of(hello(), None, start_ms, Lever::D);
        let mut seen = bench.run(500);
        bench.inputs.lever = Lever::Gate;
        seen.extend(bench.run(1000));
        bench.speed = 32.0;
        seen.extend(bench.run(3000));
        seen
    };
    let seen = run(0);
    assert!(seen.iter().any(|(_, what)| what == "up"));
    for start_ms in [1, 65_535, u64::from(u32::MAX) - 500, u64::MAX - 2000] {
        assert_eq!(run(start_ms), seen);
    }
}

/// 5 km/h per second from 10 km/h at 1,000 ms with 20 % pedal: 2>3 at 36 km/h, 5.2 s later, 3>4 at 66 km/h, 11.2 s
/// later. From 80 km/h at 15,000 ms released: 4>3 at 50 km/h, 6 s later, 3>2 at 20 km/h, 12 s later, and no more.
#[test]
fn up_and_down_through_the_gears() {
    let mut bench = Bench::engaged(None);
    let mut seen = Vec::new();
    bench.pedal = 20.0;
    while bench.t_ms < 15_000 {
        bench.speed = 10.0 + 0.5 * (bench.t_ms / 100 - 10) as f64;
        seen.extend(bench.run(100));
    }
    bench.pedal = 0.0;
    while bench.t_ms < 35_000 {
        bench.speed = (80.0 - 0.5 * (bench.t_ms / 100 - 150) as f64).max(0.0);
        seen.extend(bench.run(100));
    }
    let starts: Vec<(u64, &str)> = words(&seen).into_iter().filter(|(_, what)| *what != "open").collect();
    assert_eq!(starts, [(6200, "up"), (12_200, "up"), (21_000, "down"), (27_000, "down")]);
}

/// Engaged, in second gear, with an upshift starting in the next tick.
fn about_to_shift_up(hello: Hello) -> Bench {
    let mut bench = Bench::of(hello, None, 0, Lever::D);
    bench.speed = 31.0;
    bench.run(500);
    bench.inputs.lever = Lever::Gate;
    // Second by the entry rule; 2>3 is due at 30 km/h, 1,000 ms after the lever entered.
    assert_eq!(words(&bench.run(1000)), [(730, "Engaged")]);
    bench
}

/// The box's pulse comes back on the shared input one tick later. It is an echo until 60 ms after the pulse of 120 ms,
/// and only on the contact that was closed.
#[test]
fn an_echo_is_no_tap_and_a_tap_is_no_echo() {
    let shared = || Hello { tap_wiring: TapWiring::Shared, ..hello() };
    let tapped = |from_ms: u64, ms: u64, down: bool| {
        let mut bench = about_to_shift_up(shared());
        assert_eq!(words(&bench.run(10)), [(1500, "up")]);
        (bench.inputs.tap_up, bench.inputs.tap_up_edges) = (true, 1);
        bench.run(10);
        bench.inputs.tap_up_edges = 0;
        let mut seen = bench.run(from_ms - 20);
        (bench.inputs.tap_up, bench.inputs.tap_down) = (!down, down);
        seen.extend(bench.run(ms));
        (bench.inputs.tap_up, bench.inputs.tap_down) = (false, false);
        seen.extend(bench.run(500));
        seen
    };
    assert_eq!(words(&tapped(120, 50, false)), [(1620, "open")]);
    assert_eq!(words(&tapped(120, 70, false)), [(1620, "open"), (1680, "Disengaged")]);
    assert_eq!(words(&tapped(60, 20, true)), [(1560, "Disengaged"), (1560, "open")]);
}

/// The tap ends at 1,600 ms; the last tick that sees it is at 1,590 ms.
#[test]
fn a_tap_may_pause_instead() {
    let mut bench = about_to_shift_up(Hello { driver_tap: OnCause::PausesMs(3000), ..hello() });
    (bench.inputs.tap_up, bench.inputs.tap_up_edges) = (true, 1);
    assert_eq!(bench.run(10), []);
    bench.inputs.tap_up_edges = 0;
    bench.run(90);
    bench.inputs.tap_up = false;
    assert_eq!((bench.last.engaged, bench.last.counted_gear), (Some(false), Some(3)));
    bench.speed = 25.0;
    bench.run(100);
    bench.speed = 20.0;
    // 3>2 is due at 20 km/h all the while; the pause ends 3,000 ms after the tap.
    assert_eq!(words(&bench.run(3100)), [(4600, "down"), (4720, "open")]);
    assert_eq!((bench.last.engaged, bench.last.counted_gear), (Some(true), Some(2)));
}

/// The limit is fourth, the gearbox has chosen third: nothing to command, though 4>3 is due below 50 km/h. From 60 km/h
/// on 3>4 is due, and 3 s later the limit can't be fourth.
#[test]
fn a_range_limit_is_not_the_gear() {
    let mut bench = Bench::of(Hello { gate: GateMeans::RangeLimit, ..hello() }, None, 0, Lever::D);
    bench.gear = Some(3.0);
    bench.run(500);
    bench.inputs.lever = Lever::Gate;
    bench.run(500);
    bench.box_.state.counted = 4;
    while bench.speed < 60.0 {
        assert_eq!(bench.run(100), []);
        assert_eq!((bench.box_.state.counted, bench.last.counted_gear), (4, Some(3)));
        bench.speed += 1.0;
    }
    let t = bench.t_ms;
    assert_eq!(words(&bench.run(3100)), [(t + 3000, "up")]);
    assert_eq!((bench.box_.state.counted, bench.last.counted_gear), (4, Some(3)));
}

/// Second is told from 1,500 ms on, and settled 100 ms later the upshift is commanded. The gearbox goes to fourth by itself,
/// told from 2,200 ms on; the last gear is told at 2,900 ms, 200 ms before the shift would have to be confirmed. Older than
/// 500 ms it is the gear. Where the gear told hasn't moved since the command, the shift may have come since: the count
/// stands.
#[test]
fn a_gear_signal_that_falls_silent() {
    for (told, counted) in [(4.0, 4), (2.0, 3)] {
        let mut bench = about_to_shift_up(hello());
        bench.gear = Some(2.0);
        assert_eq!(words(&bench.run(700))[0], (1600, "up"));
        bench.gear = Some(told);
        bench.run(750);
        bench.gear = None;
        bench.run(460);
        assert_eq!(bench.box_.state.counted, 3);
        bench.run(10);
        assert_eq!(bench.box_.state.counted, counted, "{told}");
    }
}

/// Standstill is read from 1,000 ms on; 1 s later the gearbox has gone down by itself, if it does that.
#[test]
fn standstill_brings_the_count_down_where_the_gearbox_goes_down() {
    for (goes_down, gear) in [(true, 2), (false, 4)] {
        let mut bench = Bench::of(Hello { shifts_down_itself: goes_down, ..hello() }, None, 0, Lever::D);
        bench.speed = 5.0;
        bench.run(500);
        bench.inputs.lever = Lever::Gate;
        bench.run(500);
        bench.box_.state.counted = 4;
        bench.speed = 2.0;
        bench.run(1000);
        assert_eq!(bench.last.counted_gear, Some(4));
        bench.run(10);
        assert_eq!(bench.last.counted_gear, Some(gear));
    }
}

/// Stops at 20 and 80 %: a reading of 20 % is a released pedal, for which 2>3 lies at 30 km/h; by the whole byte it is a
/// fifth of the way to 60 km/h, 36 km/h.
#[test]
fn the_pedal_is_read_between_its_stops() {
    for (stops, shifts) in [([20.0, 80.0], true), ([0.0, 100.0], false)] {
        let [pedal_released_pct, pedal_floored_pct] = stops;
        let mut bench = Bench::of(Hello { pedal_released_pct, pedal_floored_pct, ..hello() }, None, 0, Lever::D);
        bench.pedal = 20.0;
        bench.run(500);
        bench.inputs.lever = Lever::Gate;
        bench.run(500);
        let mut ups = 0;
        for speed in [20.0, 29.0, 35.0] {
            bench.speed = speed;
            ups += bench.run(1000).iter().filter(|(_, what)| what == "up").count();
        }
        assert_eq!(ups, usize::from(shifts));
        assert_eq!(bench.last.counted_gear, Some(if shifts { 3 } else { 2 }));
    }
}

/// Into the gate at 500 ms, pressed at 1 s, out at 2 s, back at 3 s without a press.
#[test]
fn the_lever_arms_a_box_with_a_button_where_it_may() {
    for (re_arm, engaged) in [(ReArm::BackInGate, true), (ReArm::TakeOver, false)] {
        let mut bench = Bench::of(Hello { take_over: TakeOver::Button, re_arm, ..hello() }, None, 0, Lever::D);
        let lever_at = |bench: &mut Bench, lever: Lever, ms: u64| {
            bench.inputs.lever = lever;
            bench.run(ms);
            bench.last.engaged
        };
        bench.inputs.button = Some(false);
        lever_at(&mut bench, Lever::D, 500);
        // Never engaged: the lever alone arms nothing.
        assert_eq!(lever_at(&mut bench, Lever::Gate, 500), Some(false));
        bench.inputs.button = Some(true);
        assert_eq!(lever_at(&mut bench, Lever::Gate, 1000), Some(true));
        bench.inputs.button = Some(false);
        assert_eq!(lever_at(&mut bench, Lever::D, 1000), Some(false));
        assert_eq!(lever_at(&mut bench, Lever::Gate, 1000), Some(engaged));
    }
}

#[test]
fn every_fault_has_its_card() {
    for card in FAULTS {
        assert_eq!(Fault::named(card.name), Some(card.fault));
        assert_eq!(card.fault.name(), card.name);
    }
    assert_eq!(Fault::named("reference"), None);
}

/// In first, as the gear signal tells, at the line 1>2 and one below; left to the gearbox it waits for the line 2>3.
#[test]
fn out_of_first_it_commands_where_it_is_to() {
    for (out_of_first, kmh, commands) in [
        (OutOfFirst::Commanded, 15.0, true),
        (OutOfFirst::Commanded, 14.0, false),
        (OutOfFirst::ByItself, 29.0, false),
        (OutOfFirst::ByItself, 30.0, true),
    ] {
        let mut hello = Hello { out_of_first, ..hello() };
        if out_of_first == OutOfFirst::Commanded {
            hello.map.lines.insert(0, HelloLine { from: 1, to: 2, speed_kmh: vec![15.0, 25.0] });
        }
        let mut bench = Bench::of(hello, None, 0, Lever::D);
        bench.gear = Some(1.0);
        bench.run(500);
        bench.inputs.lever = Lever::Gate;
        bench.run(2500);
        let mut seen = Vec::new();
        while bench.speed < kmh {
            bench.speed += 1.0;
            seen.extend(bench.run(200));
        }
        seen.extend(bench.run(1000));
        assert_eq!(seen.iter().any(|(_, what)| what == "up"), commands, "{out_of_first:?} at {kmh} km/h: {seen:?}");
    }
    // Without the line the map can't be driven.
    let hello = Hello { out_of_first: OutOfFirst::Commanded, ..hello() };
    let mut bench = Bench::of(hello, None, 0, Lever::D);
    bench.run(500);
    bench.inputs.lever = Lever::Gate;
    bench.run(1000);
    assert_eq!(bench.last.engaged, Some(false));
}
