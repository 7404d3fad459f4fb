//! The invented diesel van that the tests of this folder drive. It belongs to no maker.

use crate::spec::Spec;
use crate::spec::facts::{AfterEdge, Answers, BoxFacts, CeilingBinds, MapFrom, OnCause, Signals, TakeOver, TapWiring};
use crate::spec::known::Known;
use crate::spec::limits::Limits;
use crate::spec::link::{Link, Rounding, SpeedSource};
use crate::spec::map::ShiftMap;
use crate::spec::vehicle::{
    CapacityPoint, Class, Converter, Engine, EntryGear, Gate, GateMeans, Gearbox, HeldTap, Protection, Shift,
    TapInShift, TorquePoint, Vehicle,
};
use crate::units::{Kmh, Ms, Nm, Percent, Plain, Rpm};
use std::collections::BTreeMap;

const FULL_LOAD: [(f64, f64); 11] = [
    (750.0, 190.0),
    (1000.0, 250.0),
    (1250.0, 320.0),
    (1500.0, 375.0),
    (1750.0, 400.0),
    (2500.0, 400.0),
    (3000.0, 378.0),
    (3500.0, 345.0),
    (3800.0, 318.0),
    (4200.0, 262.0),
    (4400.0, 210.0),
];

const CAPACITY: [(f64, f64); 6] =
    [(0.0, 125.0), (0.5, 132.0), (0.8, 150.0), (0.9, 180.0), (0.95, 235.0), (0.98, 360.0)];

/// The van.
pub fn van() -> Spec {
    Spec {
        format: 1,
        name: "van".into(),
        facts: BoxFacts {
            name: "none".into(),
            tick: Ms::new(10.0),
            signals: Signals { engine_speed: false, gear: false, range: true },
            take_over: TakeOver::Lever,
            re_arm: crate::spec::facts::ReArm::TakeOver,
            after_edge: AfterEdge::WithinMs(1500),
            ceiling_binds: CeilingBinds::Every,
            driver_tap: OnCause::Disengages,
            lost_data: OnCause::Disengages,
            tap_wiring: TapWiring::Separate,
            answers: Answers::Contacts,
            announces: true,
            lowest_gear: 2,
            out_of_first: crate::spec::facts::OutOfFirst::ByItself,
            notices_stuck: false,
            sends_requests: false,
            map_from: MapFrom::Hello,
        },
        limits: Limits::stated(Kmh(40.0), Rpm(1000.0)),
        link: Link {
            period: Ms::new(100.0),
            answer_least: Ms::new(5.0),
            answer_most: Ms::new(50.0),
            speed_rounding: Rounding::Floor,
            speed_source: SpeedSource::DrivenAxle,
            pedal_identifier: crate::spec::pedal::PedalIdentifier::D,
            pedal_stops: crate::spec::pedal::PedalStops::WHOLE,
        },
        runs: BTreeMap::new(),
        rules: crate::spec::terms::RuleChoice::default(),
        waivers: Vec::new(),
        map: ShiftMap { pedal: Vec::new(), lines: Vec::new() },
        vehicle: Vehicle {
            name: "van".into(),
            class: Class::DieselVan,
            mass: Known::stated(2600.0),
            drag_area: Known::stated(1.30),
            rolling_resistance: Known::stated(0.012),
            wheel_radius: Known::stated(0.375),
            wheel_inertia: Known::stated(6.0),
            driven_share: Known::stated(55.0),
            towing: None,
            engine: Engine {
                idle: Known::stated(750.0),
                redline: Known::stated(4400.0),
                full_load: FULL_LOAD.iter().map(|&(n, t)| TorquePoint { speed: Rpm(n), torque: Nm(t) }).collect(),
                full_load_known: Known::stated(100.0),
                drag: Known::stated(20.0),
                drag_per_1000rpm: Known::stated(10.0),
                inertia: Known::stated(0.30),
                pedal_law: Known::stated(1.4),
                lag_up: Known::stated(250.0),
                lag_down: Known::stated(100.0),
            },
            converter: Converter {
                capacity: CAPACITY.iter().map(|&(s, k)| CapacityPoint { speed_ratio: Plain(s), k: Plain(k) }).collect(),
                capacity_known: Known::stated(100.0),
                stall_torque_ratio: Known::stated(1.9),
                coupling_point: Known::stated(0.86),
                lockup_from_gear: 3,
                lockup_above: Known::stated(1050.0),
                lockup_time: Known::stated(150.0),
            },
            gearbox: Gearbox {
                ratios: [3.80, 2.21, 1.46, 1.08, 0.83, 0.72].map(Known::stated).to_vec(),
                final_drive: Known::stated(3.70),
                low_range: Some(Known::stated(2.6)),
                efficiency: Known::stated(92.0),
                shift: Shift {
                    recognition: Known::stated(100.0),
                    fill: Known::stated(150.0),
                    ratio_change: Known::stated(350.0),
                    torque_up: Known { spread: Percent(0.0), ..Known::stated(75.0) },
                    torque_down: Known::stated(50.0),
                },
                gate: Gate {
                    means: GateMeans::HeldGear,
                    entry: EntryGear::Fixed(2),
                    least_tap: Ms::new(40.0),
                    tap_in_shift: TapInShift::Dropped,
                    held_tap: HeldTap::OneStep,
                },
                protection: Protection {
                    refuse_down_above: Some(Rpm(4300.0)),
                    refuse_up_below: Some(Rpm(900.0)),
                    down_below: Some(Rpm(700.0)),
                    launch_gear: 1,
                    up_at_redline: false,
                    blind_in_wheel_lock: true,
                },
            },
        },
    }
}
