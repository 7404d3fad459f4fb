//! What the vehicle does as a whole.

use super::test_van::van;
use super::*;
use crate::recording::Truth;
use crate::spec::known::Known;
use crate::spec::link::SpeedSource;

pub const STILL: Controls = Controls {
    pedal_pct: 0.0,
    torque_pedal_pct: 0.0,
    brake_mps2: 0.0,
    grade_pct: 0.0,
    lever: Lever::D,
    range: Range::High,
    contacts: Contacts { up: false, down: false },
    driver_taps: Contacts { up: false, down: false },
    wheel_lock: false,
    wheel_spin_kmh: 0.0,
};

/// In D with this pedal.
pub fn pedal(pct: f64) -> Controls {
    Controls { pedal_pct: pct, torque_pedal_pct: pct, ..STILL }
}

/// In the gate with this pedal.
pub fn gate(pct: f64) -> Controls {
    Controls { lever: Lever::Gate, ..pedal(pct) }
}

pub fn start(kmh: u16, gear: u8, lever: Lever) -> Start {
    Start { speed: kmh * 10, gear, lever, ..Start::default() }
}

/// The truth after a stretch of 10 ms ticks.
pub fn after(vehicle: &mut Vehicle, controls: &Controls, ms: u32) -> Truth {
    for _ in 0..ms / 10 {
        vehicle.run(controls, 10.0);
    }
    vehicle.truth(controls)
}

/// Engine speed over what it is with nothing slipping.
fn slip_rpm(truth: &Truth) -> f64 {
    truth.engine_rpm - van().rpm_per_kmh(truth.gear) * truth.speed_kmh
}

/// m·v′ = −(F0 + F2·v²) in neutral: v(t) = √(F0/F2)·tan(atan(v0·√(F2/F0)) − t·√(F0·F2)/m); the same form as in EPA,
/// G. D. Thompson, "The Vehicle Road Load Problem". Mass 1644.27 kg, coefficient 0.007, drag area 0.393·2.12 m²,
/// from 120 km/h: it stops after 251.1355218 s and 2,924.928337 m.
#[test]
fn in_neutral_it_coasts_down_by_the_closed_form() {
    let mut spec = van();
    spec.vehicle.mass = Known::stated(1_644.272_450_033_499_6);
    spec.vehicle.wheel_inertia = Known::stated(0.0);
    spec.vehicle.rolling_resistance = Known::stated(0.007);
    spec.vehicle.drag_area = Known::stated(0.393 * 2.12);
    let neutral = Controls { lever: Lever::N, ..STILL };
    let mut vehicle = Vehicle::new(&spec, &start(120, 6, Lever::N), STEP_MS);
    let (mut t_s, mut way_m, mut stopped_s) = (0.0_f64, 0.0, 0.0);
    while t_s < 260.0 {
        let before = vehicle.speed_mps;
        vehicle.run(&neutral, STEP_MS);
        t_s += STEP_MS * 0.001;
        way_m += 0.5 * (before + vehicle.speed_mps) * STEP_MS * 0.001;
        for (at_s, mps) in [
            (10.0, 29.640_504_030_099),
            (30.0, 23.937_495_556_199),
            (60.0, 17.926_576_128_608),
            (100.0, 12.413_108_600_847),
        ] {
            if (t_s - at_s).abs() < 0.1 * STEP_MS * 0.001 {
                assert!((vehicle.speed_mps - mps).abs() < 1e-6, "{at_s} s: {}", vehicle.speed_mps);
            }
        }
        if vehicle.speed_mps > 0.0 {
            stopped_s = t_s;
        }
    }
    assert!((stopped_s - 251.135_521_827_7).abs() < 2.0 * STEP_MS * 0.001, "{stopped_s} s");
    assert!((way_m - 2_924.928_337).abs() < 0.001, "{way_m} m");
}

/// Rows of the demo "co2mpas_demo-1" of co2sim 3.0.0: ratios 1.884 (2nd), 0.869 (4th), 0.592 (6th), final drive 4.352;
/// the radius 0.353 m is fitted to its 1,424 samples.
#[test]
fn engine_speed_follows_road_speed_as_in_published_rows() {
    let mut spec = van();
    spec.vehicle.gearbox.ratios = [3.642, 1.884, 1.179, 0.869, 0.705, 0.592].map(Known::stated).to_vec();
    spec.vehicle.gearbox.final_drive = Known::stated(4.352);
    spec.vehicle.wheel_radius = Known::stated(0.353);
    for (kmh, gear, rpm) in [
        (14.893_422_5, 2, 917.610_704_4),
        (41.976_183_3, 4, 1_192.904_802_2),
        (85.480_468_5, 6, 1_654.899_646_8),
        (130.632_109_5, 6, 2_529.034_241_1),
    ] {
        assert!((spec.rpm_per_kmh(gear) * kmh - rpm).abs() < 0.014, "gear {gear} at {kmh} km/h");
    }
}

/// "Homework 1 Fall 15" (scribd 339536476): 4 to 5 at 45 mph, 1.07 to 0.81, tyre radius 11.70 in: the engine drops by
/// 662 rpm, with the 3.94 of its sibling problem as final drive.
#[test]
fn an_upshift_drops_the_engine_by_the_printed_figure() {
    let mut spec = van();
    spec.vehicle.gearbox.ratios = [3.0, 2.0, 1.5, 1.07, 0.81].map(Known::stated).to_vec();
    spec.vehicle.gearbox.final_drive = Known::stated(3.94);
    spec.vehicle.wheel_radius = Known::stated(11.70 * 0.0254);
    let drop = (spec.rpm_per_kmh(4) - spec.rpm_per_kmh(5)) * 45.0 * crate::units::KMH_PER_MPH;
    assert!((drop - 662.0).abs() < 0.5, "{drop}");
}

#[test]
fn the_converter_slips_at_launch_and_is_locked_in_top_gear() {
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    assert!(slip_rpm(&after(&mut vehicle, &pedal(100.0), 1000)) > 200.0);
    let mut vehicle = Vehicle::new(&van(), &start(100, 6, Lever::D), STEP_MS);
    for pct in [0.0, 60.0] {
        assert!(slip_rpm(&after(&mut vehicle, &gate(pct), 3000)).abs() < 60.0);
    }
}

/// Locked up from third gear and 1,150 rpm on, down to 1,050 rpm: in sixth 61.0 and 55.7 km/h.
#[test]
fn the_lock_up_clutch_opens_in_shifts_in_low_gears_and_at_low_speed() {
    let spec = van();
    let locked = |kmh, gear| {
        let mut vehicle = Vehicle::new(&spec, &start(kmh, gear, Lever::Gate), STEP_MS);
        vehicle.run(&gate(0.0), STEP_MS);
        vehicle.lockup > 0.0
    };
    assert!(locked(62, 6) && !locked(60, 6) && locked(60, 3) && !locked(60, 2));
    let mut vehicle = Vehicle::new(&spec, &start(62, 6, Lever::Gate), STEP_MS);
    while vehicle.lockup > 0.0 {
        vehicle.run(&gate(0.0), 10.0);
    }
    let kmh = vehicle.truth(&gate(0.0)).speed_kmh;
    assert!((55.6..55.9).contains(&kmh), "{kmh}");
    let mut vehicle = Vehicle::new(&spec, &start(80, 4, Lever::Gate), STEP_MS);
    let up = Controls { contacts: Contacts { up: true, down: false }, ..gate(30.0) };
    // Recognised after 100 ms, open until the shift ends at 600 ms.
    after(&mut vehicle, &up, 90);
    assert!(vehicle.lockup > 0.0);
    for _ in 0..48 {
        after(&mut vehicle, &gate(30.0), 10);
        assert!(vehicle.truth(&gate(30.0)).shifting);
    }
    assert!(vehicle.lockup == 0.0);
    after(&mut vehicle, &gate(30.0), 300);
    assert!(vehicle.lockup == 1.0);
}

/// Full pedal against the brake: the engine runs up to where its torque (400 N m from 1,750 to 2,500 rpm, 378 at 3,000)
/// meets (n/125)²: 125·√400 = 2,500 rpm.
#[test]
fn held_by_the_brake_the_engine_runs_up_to_its_stall_speed() {
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    let truth = after(&mut vehicle, &Controls { brake_mps2: 9.0, ..pedal(100.0) }, 5000);
    assert!(truth.speed_kmh == 0.0 && (truth.engine_rpm - 2500.0).abs() < 5.0, "{}", truth.engine_rpm);
}

#[test]
fn in_d_on_the_level_it_creeps_and_a_light_brake_holds_it() {
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    let truth = after(&mut vehicle, &pedal(0.0), 10_000);
    assert!((3.0..10.0).contains(&truth.speed_kmh), "{}", truth.speed_kmh);
    let truth = after(&mut vehicle, &Controls { brake_mps2: 2.0, ..STILL }, 5000);
    assert!(truth.speed_kmh == 0.0 && truth.accel_mps2 == 0.0);
    assert!((truth.engine_rpm - 750.0).abs() < 20.0, "{}", truth.engine_rpm);
}

#[test]
fn the_brake_stops_it_once_and_for_all_in_the_time_it_should_take() {
    let mut vehicle = Vehicle::new(&van(), &start(72, 6, Lever::N), STEP_MS);
    let brake = Controls { brake_mps2: 4.0, lever: Lever::N, ..STILL };
    // 20 m/s at 4 m/s² and, at most, rolling (0.118 m/s²) and air (0.12 m/s²) besides.
    assert!(after(&mut vehicle, &brake, 4700).speed_kmh > 0.0);
    let mut truth = after(&mut vehicle, &brake, 300);
    for _ in 0..500 {
        assert!(truth.speed_kmh == 0.0, "{}", truth.speed_kmh);
        truth = after(&mut vehicle, &brake, 10);
    }
}

/// Ice: 0.10·g and no more, though 6 m/s² are asked for; rolling 0.118 and air of at most 0.12 m/s² come on top.
#[test]
fn grip_limits_brake_and_drive() {
    let ice = Start { grip: 10, ..start(72, 6, Lever::N) };
    let mut vehicle = Vehicle::new(&van(), &ice, STEP_MS);
    let truth = after(&mut vehicle, &Controls { brake_mps2: 6.0, lever: Lever::N, ..STILL }, 1000);
    assert!((-1.25..-1.07).contains(&truth.accel_mps2), "{}", truth.accel_mps2);
    let mut vehicle = Vehicle::new(&van(), &Start { grip: 10, ..start(0, 1, Lever::D) }, STEP_MS);
    let truth = after(&mut vehicle, &pedal(100.0), 1500);
    // (0.10·0.55 − 0.012)·g·2600/2642.7, air left out.
    assert!((truth.accel_mps2 - 0.415).abs() < 0.01, "{}", truth.accel_mps2);
}

#[test]
fn it_rolls_back_on_a_steep_grade_and_stands_on_a_faint_one() {
    let neutral = |grade_pct| Controls { lever: Lever::N, grade_pct, ..STILL };
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::N), STEP_MS);
    assert!(after(&mut vehicle, &neutral(1.1), 2000).speed_kmh == 0.0);
    // g·(0.12 − 0.012)/√(1 + 0.12²)·2600/2642.7 for 2 s.
    let truth = after(&mut vehicle, &neutral(12.0), 2000);
    assert!((truth.speed_kmh + 7.45).abs() < 0.05, "{}", truth.speed_kmh);
    // The creep in first carries about 36·1.9·14.06/0.375 = 2,600 N: more than a grade of 8 %, less than one of 20 %.
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    assert!(after(&mut vehicle, &Controls { grade_pct: 20.0, ..STILL }, 1000).speed_kmh < -1.0);
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    assert!(after(&mut vehicle, &Controls { grade_pct: 4.0, ..STILL }, 1000).speed_kmh > 0.1);
}

#[test]
fn locked_wheels_read_standstill_while_the_vehicle_slides() {
    let mut vehicle = Vehicle::new(&van(), &start(80, 5, Lever::Gate), STEP_MS);
    let locked = Controls { wheel_lock: true, brake_mps2: 5.0, ..gate(0.0) };
    let truth = after(&mut vehicle, &locked, 1000);
    assert!((58.0..63.0).contains(&truth.speed_kmh), "{}", truth.speed_kmh);
    assert!(truth.wheel_kmh == 0.0);
    for source in [SpeedSource::AllWheels, SpeedSource::DrivenAxle, SpeedSource::OutputShaft] {
        assert!(vehicle.shown_speed_kmh(source, &locked) == 0.0);
    }
    // The gearbox is blind too and has gone down; the wheels grip again and draw the engine up.
    assert!(truth.gear < 5);
    let truth = after(&mut vehicle, &gate(0.0), 500);
    assert!(truth.engine_rpm > 1200.0, "{}", truth.engine_rpm);
}

#[test]
fn each_source_of_speed_errs_in_its_own_way() {
    let mut vehicle = Vehicle::new(&van(), &Start { range: Range::Low, ..start(20, 2, Lever::N) }, STEP_MS);
    let shows = |vehicle: &Vehicle, source, controls: &Controls| vehicle.shown_speed_kmh(source, controls);
    let spin = Controls { wheel_spin_kmh: 10.0, range: Range::Low, lever: Lever::N, ..STILL };
    assert!((shows(&vehicle, SpeedSource::AllWheels, &spin) - 25.0).abs() < 1e-9);
    assert!((shows(&vehicle, SpeedSource::DrivenAxle, &spin) - 30.0).abs() < 1e-9);
    assert!((shows(&vehicle, SpeedSource::OutputShaft, &spin) - 78.0).abs() < 1e-9);
    // Rolling backwards reads as speed.
    let back = Controls { grade_pct: 30.0, lever: Lever::N, ..STILL };
    let truth = after(&mut vehicle, &back, 5000);
    assert!(truth.speed_kmh < -10.0);
    assert!((shows(&vehicle, SpeedSource::DrivenAxle, &back) + truth.speed_kmh).abs() < 1e-9);
}

#[test]
fn low_range_multiplies_the_engine_speed_and_transit_drives_nothing() {
    let low = Start { range: Range::Low, ..start(30, 4, Lever::Gate) };
    let mut vehicle = Vehicle::new(&van(), &low, STEP_MS);
    let truth = after(&mut vehicle, &Controls { range: Range::Low, ..gate(20.0) }, 1000);
    let rpm = 2.6 * 28.27 * truth.speed_kmh;
    assert!((truth.engine_rpm - rpm).abs() < 60.0, "{} {rpm}", truth.engine_rpm);
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    let truth = after(&mut vehicle, &Controls { range: Range::Transit, ..pedal(100.0) }, 3000);
    assert!(truth.speed_kmh == 0.0 && truth.engine_rpm > 4000.0);
}

#[test]
fn reverse_drives_backwards_and_park_holds() {
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::R), STEP_MS);
    let truth = after(&mut vehicle, &Controls { lever: Lever::R, ..pedal(20.0) }, 2000);
    assert!(truth.speed_kmh < -3.0 && truth.gear == 1, "{}", truth.speed_kmh);
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::P), STEP_MS);
    assert!(after(&mut vehicle, &Controls { lever: Lever::P, grade_pct: 20.0, ..pedal(50.0) }, 2000).speed_kmh == 0.0);
}

#[test]
fn a_stalled_engine_gives_no_drive_and_starts_again() {
    let mut vehicle = Vehicle::new(&van(), &start(0, 1, Lever::D), STEP_MS);
    vehicle.set_engine(false);
    let truth = after(&mut vehicle, &pedal(80.0), 3000);
    assert!(!truth.engine_on && truth.engine_rpm == 0.0 && truth.speed_kmh == 0.0 && truth.load == 0.0);
    vehicle.set_engine(true);
    let truth = after(&mut vehicle, &pedal(0.0), 1000);
    assert!(truth.engine_on && (truth.engine_rpm - 750.0).abs() < 20.0);
}

/// Torque follows a pedal stabbed from 0 to 100 % with 250 ms: after 250 ms the pedal has got to 1 − 1/e = 0.632, and the
/// share of full load to 0.632·(1.4 − 0.4·0.632) = 0.725.
#[test]
fn torque_lags_behind_the_pedal() {
    let mut vehicle = Vehicle::new(&van(), &start(100, 6, Lever::Gate), STEP_MS);
    assert!(after(&mut vehicle, &gate(100.0), 0).load == 0.0);
    after(&mut vehicle, &gate(100.0), 250);
    assert!((vehicle.engine.share(vehicle.effective_pedal) - 0.725).abs() < 0.002);
    assert!(after(&mut vehicle, &gate(100.0), 2000).load > 0.99);
}

/// Work done on the vehicle is what the engine gave at most, and what the losses leave of it: 0.92 while locked up.
#[test]
fn what_the_vehicle_gains_the_engine_gave() {
    let spec = van();
    let mut vehicle = Vehicle::new(&spec, &start(60, 4, Lever::Gate), STEP_MS);
    let flat = gate(100.0);
    after(&mut vehicle, &flat, 2000);
    let energy = |v: &Vehicle| 0.5 * v.moved_kg * v.speed_mps * v.speed_mps;
    let turning = |v: &Vehicle| 0.5 * v.engine.inertia * v.engine_rad_s * v.engine_rad_s;
    let (energy0, turning0) = (energy(&vehicle), turning(&vehicle));
    let (mut gave, mut lost) = (0.0, 0.0);
    for _ in 0..1000 {
        let (rad_s, mps) = (vehicle.engine_rad_s, vehicle.speed_mps);
        vehicle.run(&flat, STEP_MS);
        let rad_s = 0.5 * (rad_s + vehicle.engine_rad_s);
        let mps = 0.5 * (mps + vehicle.speed_mps);
        gave += vehicle.engine.torque(rad_s, 1.0, true).nm * rad_s * STEP_MS * 0.001;
        lost += RoadLoad::new(2600.0, 0.012, 1.30, 0.0).against_n(mps, 1.0) * mps * STEP_MS * 0.001;
    }
    let to_driveline = gave - (turning(&vehicle) - turning0);
    let share = (energy(&vehicle) - energy0 + lost) / to_driveline;
    // The lock-up clutch slips by some r/min and so takes up to a hundredth more.
    assert!((0.91..=0.9201).contains(&share), "{share}");
}

#[test]
fn two_vehicles_are_the_same_to_the_bit_and_a_restart_is_a_new_one() {
    let from = start(0, 2, Lever::Gate);
    let drive = |vehicle: &mut Vehicle| {
        let mut seen = Vec::new();
        for t in 0..3000 {
            let up = t % 400 < 8;
            let now = Controls { contacts: Contacts { up, down: false }, ..gate(f64::from(t % 101)) };
            vehicle.run(&now, 10.0);
            seen.push((vehicle.speed_mps.to_bits(), vehicle.engine_rad_s.to_bits()));
        }
        seen
    };
    let (mut one, mut other) = (Vehicle::new(&van(), &from, STEP_MS), Vehicle::new(&van(), &from, STEP_MS));
    let first = drive(&mut one);
    assert!(first == drive(&mut other));
    other.refuse_taps(3);
    other.slow_shifts(500.0);
    other.set_engine(false);
    other.run(&Controls { contacts: Contacts { up: true, down: false }, ..gate(0.0) }, 10.0);
    other.restart(&from);
    assert!(first == drive(&mut other));
}

/// Anything may act at any time: drives are random, shrunk and fuzzed.
#[test]
fn whatever_acts_on_it_the_vehicle_stays_within_reason() {
    let mut vehicle = Vehicle::new(&van(), &start(50, 3, Lever::Gate), STEP_MS);
    let mut state = 1_u32;
    let mut below = |n: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) % n
    };
    for _ in 0..20_000 {
        let pct = f64::from(below(101));
        let now = Controls {
            lever: [Lever::P, Lever::R, Lever::N, Lever::D, Lever::Gate, Lever::Gate][below(6) as usize],
            range: [Range::High, Range::High, Range::Transit, Range::Low][below(4) as usize],
            brake_mps2: f64::from(below(3)) * 5.0,
            grade_pct: f64::from(below(41)) - 20.0,
            contacts: Contacts { up: below(2) == 0, down: below(3) == 0 },
            driver_taps: Contacts { up: below(9) == 0, down: below(9) == 0 },
            wheel_lock: below(8) == 0,
            wheel_spin_kmh: if below(8) == 0 { f64::from(below(60)) } else { 0.0 },
            ..pedal(pct)
        };
        vehicle.set_engine(below(20) > 0);
        let ms = 10 * below(60);
        let truth = after(&mut vehicle, &now, ms);
        assert!((-300.0..300.0).contains(&truth.speed_kmh) && truth.accel_mps2.abs() < 25.0, "{truth:?} {now:?}");
        assert!(truth.engine_rpm >= 0.0 && truth.engine_rpm.is_finite() && (1..=6).contains(&truth.gear), "{truth:?}");
    }
}
