//! Boxes for tests that need no vehicle: their hellos, and a tick at rest.

use sprag::controller::hello::{Hello, HelloAnswers, HelloLine, HelloMap};
use sprag::signal::{Inputs, Lever, Range, Signal};
use sprag::spec::facts::{AfterEdge, CeilingBinds, OnCause, OutOfFirst, ReArm, TakeOver, TapWiring};
use sprag::spec::pedal::PedalIdentifier;
use sprag::spec::vehicle::{EntryGear, GateMeans};
use std::path::PathBuf;

/// A box with five gears that reads speed and pedal, engages by the lever and disengages on a tap.
pub fn plain() -> Hello {
    let line = |from, to, speed_kmh: [f64; 3]| HelloLine { from, to, speed_kmh: speed_kmh.to_vec() };
    Hello {
        protocol: [1, 1],
        tick_ms: 10,
        signals: vec![Signal::Speed, Signal::Pedal],
        pedal_identifier: PedalIdentifier::D,
        pedal_released_pct: 0.0,
        pedal_floored_pct: 100.0,
        range_wired: true,
        map: HelloMap {
            pedal_pct: vec![0.0, 30.0, 100.0],
            lines: vec![
                line(2, 3, [27.0, 33.5, 66.0]),
                line(3, 4, [41.0, 50.1, 100.7]),
                line(4, 5, [55.0, 66.0, 131.0]),
                line(3, 2, [19.0, 21.0, 52.3]),
                line(4, 3, [31.0, 36.0, 84.0]),
                line(5, 4, [43.0, 51.0, 112.0]),
            ],
        },
        ceiling_kmh: 40.0,
        ceiling_binds: CeilingBinds::Every,
        top_gear: 5,
        lowest_gear: 2,
        out_of_first: OutOfFirst::ByItself,
        gate: GateMeans::HeldGear,
        entry: EntryGear::Fixed(2),
        rpm_per_kmh: vec![99.5, 57.8, 38.2, 28.3, 21.7],
        redline_rpm: 4400.0,
        shifts_down_itself: true,
        take_over: TakeOver::Lever,
        re_arm: ReArm::TakeOver,
        after_edge: AfterEdge::WithinMs(1500),
        driver_tap: OnCause::Disengages,
        lost_data: OnCause::Disengages,
        tap_wiring: TapWiring::Separate,
        answers: HelloAnswers::Contacts,
        announces: true,
        conditions_held_ms: 200,
        range_high_for_ms: 1000,
        most_engagements: 5,
        boot_quiet_ms: 0,
        quiet_after_engaging_ms: 500,
        lever_bounce_ms: 30,
        data_lost_ms: 1000,
        data_fresh_ms: 500,
        shift_settle_ms: 100,
        shift_blind_ms: 1000,
        shift_confirmed_ms: 1500,
        opposite_dwell_ms: 2000,
        opposite_pedal_pct: 25.0,
        downhill_rpm: None,
        standstill_kmh: 3.0,
        fall_limit_kmh_per_s: 40.0,
        rise_limit_kmh_per_s: 25.0,
        plausible_for_ms: 500,
        notices_stuck: false,
        stuck_noticed_ms: 3000,
        sends_requests: false,
        most_requests: 40,
        sleeps_within_ms: 60_000,
        shortest_pulse_ms: 60,
        longest_pulse_ms: 250,
        refused_retries: 1,
        wrong_shifts: 1,
    }
}

/// A box that also reads the gear, answers requests and pauses on a tap and on lost data.
pub fn reads_gear() -> Hello {
    Hello {
        signals: vec![Signal::Speed, Signal::Pedal, Signal::Gear],
        range_wired: false,
        ceiling_binds: CeilingBinds::First,
        gate: GateMeans::RangeLimit,
        entry: EntryGear::OneBelow,
        after_edge: AfterEdge::AnyTime,
        driver_tap: OnCause::PausesMs(3000),
        lost_data: OnCause::PausesMs(500),
        answers: HelloAnswers::Requests { width_ms: 120, gap_ms: 100 },
        ..plain()
    }
}

/// A box that engages by a button, shares the lever's contacts and ticks every 7 ms.
pub fn has_button() -> Hello {
    Hello {
        tick_ms: 7,
        entry: EntryGear::Current,
        shifts_down_itself: false,
        take_over: TakeOver::Button,
        tap_wiring: TapWiring::Shared,
        announces: false,
        ..plain()
    }
}

/// A tick in D with nothing happening.
pub fn at_rest(hello: &Hello, time_ms: u64) -> Inputs {
    Inputs {
        time_ms,
        lever: Lever::D,
        range: hello.range_wired.then_some(Range::High),
        ignition: true,
        supply_mv: 12_600,
        button: (hello.take_over == TakeOver::Button).then_some(false),
        tap_up: false,
        tap_down: false,
        tap_up_edges: 0,
        tap_down_edges: 0,
    }
}

/// `cmd:` for one of the scripts in `tests/controllers`, or `None` and a loud line where Python is missing.
pub fn script(name_and_arguments: &str) -> Option<String> {
    let python = std::process::Command::new("python3").arg("--version").output();
    if !python.is_ok_and(|output| output.status.success()) {
        eprintln!("\n*** SKIPPED: python3 is missing, so {name_and_arguments} was not run ***\n");
        return None;
    }
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("controllers");
    Some(format!("cmd:python3 '{}'/{name_and_arguments}", folder.display()))
}
