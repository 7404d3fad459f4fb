//! The invented van, by hand, for the tests of this folder.

use crate::spec::Spec;
use crate::spec::facts::{AfterEdge, Answers, BoxFacts, CeilingBinds, MapFrom, OnCause, Signals, TakeOver, TapWiring};
use crate::spec::known::Known;
use crate::spec::limits::Limits;
use crate::spec::link::{Link, Rounding, SpeedSource};
use crate::spec::map::{Line, ShiftMap};
use crate::spec::vehicle::{
    CapacityPoint, Class, Converter, Engine, EntryGear, Gate, GateMeans, Gearbox, HeldTap, Protection, Shift,
    TapInShift, TorquePoint, Vehicle,
};
use crate::units::{Kmh, Ms, Nm, Percent, Plain, Rpm};
use std::collections::BTreeMap;

/// The van and its box.
pub(crate) fn van() -> Spec {
    Spec {
        format: 1,
        name: "van".into(),
        facts: BoxFacts {
            name: "test".into(),
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
        limits: Limits::stated(Kmh(40.0), Rpm(1200.0)),
        link: Link {
            period: Ms::new(100.0),
            answer_least: Ms::new(5.0),
            answer_most: Ms::new(50.0),
            speed_rounding: Rounding::Floor,
            speed_source: SpeedSource::AllWheels,
            pedal_identifier: crate::spec::pedal::PedalIdentifier::D,
            pedal_stops: crate::spec::pedal::PedalStops::WHOLE,
        },
        runs: BTreeMap::new(),
        rules: crate::spec::terms::RuleChoice::default(),
        waivers: Vec::new(),
        map: map(),
        vehicle: vehicle(),
    }
}

fn map() -> ShiftMap {
    let line = |from, to, speeds: [f64; 4]| Line { from, to, speeds: speeds.map(Kmh).to_vec() };
    ShiftMap {
        pedal: [0.0, 20.0, 80.0, 100.0].map(Percent).to_vec(),
        lines: vec![
            line(2, 3, [32.0, 32.0, 60.0, 67.0]),
            line(3, 4, [51.0, 51.0, 90.0, 102.0]),
            line(4, 5, [66.0, 66.0, 120.0, 138.0]),
            line(5, 6, [82.0, 82.0, 160.0, 180.0]),
            line(3, 2, [18.0, 18.0, 40.0, 57.0]),
            line(4, 3, [33.0, 33.0, 70.0, 87.0]),
            line(5, 4, [49.0, 49.0, 95.0, 117.0]),
            line(6, 5, [62.0, 62.0, 125.0, 152.0]),
        ],
    }
}

fn vehicle() -> Vehicle {
    let torque = |(speed, torque)| TorquePoint { speed: Rpm(speed), torque: Nm(torque) };
    let capacity = |(ratio, k)| CapacityPoint { speed_ratio: Plain(ratio), k: Plain(k) };
    Vehicle {
        name: "van".into(),
        class: Class::DieselVan,
        mass: Known::stated(2600.0),
        drag_area: Known::stated(1.3),
        rolling_resistance: Known::stated(0.012),
        wheel_radius: Known::stated(0.375),
        wheel_inertia: Known::stated(6.0),
        driven_share: Known::stated(55.0),
        towing: None,
        engine: Engine {
            idle: Known::stated(750.0),
            redline: Known::stated(4400.0),
            full_load: [(750.0, 190.0), (1750.0, 400.0), (2500.0, 400.0), (3800.0, 318.0), (4400.0, 210.0)]
                .map(torque)
                .to_vec(),
            full_load_known: Known::stated(100.0),
            drag: Known::stated(20.0),
            drag_per_1000rpm: Known::stated(10.0),
            inertia: Known::stated(0.3),
            pedal_law: Known::stated(1.4),
            lag_up: Known::stated(250.0),
            lag_down: Known::stated(100.0),
        },
        converter: Converter {
            capacity: [(0.0, 125.0), (0.5, 132.0), (0.8, 150.0), (0.98, 360.0)].map(capacity).to_vec(),
            capacity_known: Known::stated(100.0),
            stall_torque_ratio: Known::stated(1.9),
            coupling_point: Known::stated(0.86),
            lockup_from_gear: 3,
            lockup_above: Known::stated(1050.0),
            lockup_time: Known::stated(150.0),
        },
        gearbox: Gearbox {
            ratios: [3.80, 2.21, 1.46, 1.08, 0.83, 0.72].map(Known::stated).to_vec(),
            final_drive: Known::stated(3.7),
            low_range: Some(Known::stated(2.6)),
            efficiency: Known::stated(92.0),
            shift: Shift {
                recognition: Known::stated(100.0),
                fill: Known::stated(200.0),
                ratio_change: Known::stated(400.0),
                torque_up: Known::stated(75.0),
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
                up_at_redline: true,
                blind_in_wheel_lock: false,
            },
        },
    }
}
