//! What one controller is told by hand, and a bench that feeds it.

use super::super::*;
use crate::controller::hello::{HelloLine, HelloMap};
use crate::signal::{Content, Signal};
use crate::spec::facts::{OutOfFirst, ReArm, TakeOver, TapWiring};
use crate::spec::pedal::PedalIdentifier;
use crate::spec::vehicle::EntryGear;

/// Three gears; 2>3 at 30 km/h released and 60 km/h floored, 3>2 at 20 and 40.
pub fn hello() -> Hello {
    let line = |from, to, speed_kmh: [f64; 2]| HelloLine { from, to, speed_kmh: speed_kmh.to_vec() };
    Hello {
        protocol: [1, 1],
        tick_ms: 10,
        signals: vec![Signal::Speed, Signal::Pedal],
        pedal_identifier: PedalIdentifier::D,
        pedal_released_pct: 0.0,
        pedal_floored_pct: 100.0,
        range_wired: true,
        map: HelloMap {
            pedal_pct: vec![0.0, 100.0],
            lines: vec![
                line(2, 3, [30.0, 60.0]),
                line(3, 4, [60.0, 90.0]),
                line(3, 2, [20.0, 40.0]),
                line(4, 3, [50.0, 70.0]),
            ],
        },
        ceiling_kmh: 40.0,
        ceiling_binds: CeilingBinds::Every,
        top_gear: 4,
        lowest_gear: 2,
        out_of_first: OutOfFirst::ByItself,
        gate: GateMeans::HeldGear,
        entry: EntryGear::Fixed(2),
        rpm_per_kmh: vec![100.0, 60.0, 40.0, 30.0],
        redline_rpm: 4400.0,
        shifts_down_itself: false,
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

/// A bench that feeds one controller: both signals are answered every 100 ms while `answers` is on.
pub struct Bench {
    pub box_: Reference,
    pub t_ms: u64,
    pub start_ms: u64,
    pub inputs: Inputs,
    pub speed: f64,
    pub pedal: f64,
    pub answers: bool,
    pub gear: Option<f64>,
    pub last: Output,
}

impl Bench {
    pub fn of(hello: Hello, fault: Option<Fault>, start_ms: u64, lever: Lever) -> Self {
        let inputs = Inputs {
            time_ms: start_ms,
            lever,
            range: Some(Range::High),
            ignition: true,
            supply_mv: 12_600,
            button: None,
            tap_up: false,
            tap_down: false,
            tap_up_edges: 0,
            tap_down_edges: 0,
        };
        let box_ = Reference::new(hello, fault);
        Self { box_, t_ms: 0, start_ms, inputs, speed: 10.0, pedal: 0.0, answers: true, gear: None, last: Output::OPEN }
    }

    pub fn new(fault: Option<Fault>) -> Self {
        Self::of(hello(), fault, 0, Lever::D)
    }

    /// Runs for a time; gives back each change of the contacts and each announcement with its time.
    pub fn run(&mut self, ms: u64) -> Vec<(u64, String)> {
        let mut seen = Vec::new();
        for _ in 0..ms / 10 {
            self.inputs.time_ms = self.start_ms.wrapping_add(self.t_ms);
            let arrival_ms = self.inputs.time_ms;
            let mut answers = Vec::new();
            if self.answers && self.t_ms.is_multiple_of(100) {
                let gear = self.gear.map(|gear| (Signal::Gear, gear));
                for (signal, value) in
                    [(Signal::Speed, self.speed), (Signal::Pedal, self.pedal)].into_iter().chain(gear)
                {
                    answers.push(Answer { signal, content: Content::Value(value), arrival_ms });
                }
            }
            let output = self.box_.step(&self.inputs, &answers);
            if let Some(announcement) = output.announcement {
                seen.push((self.t_ms, format!("{announcement:?}")));
            }
            if output.action != self.last.action {
                let Action::Contacts(now) = output.action else { panic!("contacts expected") };
                seen.push((
                    self.t_ms,
                    if now.up {
                        "up"
                    } else if now.down {
                        "down"
                    } else {
                        "open"
                    }
                    .to_owned(),
                ));
            }
            self.last = output;
            self.t_ms += 10;
        }
        seen
    }

    /// Powered for 500 ms in D, then 500 ms in the gate at 10 km/h.
    pub fn engaged(fault: Option<Fault>) -> Self {
        let mut bench = Self::new(fault);
        bench.run(500);
        bench.inputs.lever = Lever::Gate;
        bench.run(500);
        bench
    }
}
