//! How fast the loop is in process: hours driven and judged, and what all but the vehicle costs a tick. Beside the first
//! figure stands that of whole campaigns, in which drives are put before the box again and hours of idling are not counted.

use crate::row::{Better, Row};
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::rig::Rig;
use sprag::campaign::sweep::one;
use sprag::controller::alone;
use sprag::controller::in_process::Builtin;
use sprag::drive::Start;
use sprag::recording::Recording;
use sprag::signal::Contacts;
use sprag::spec::Spec;
use sprag::vehicle::{Controls, STEP_MS, Vehicle};
use std::hint::black_box;

const REPEATS: usize = 3;
const RANDOM: u32 = 200;

/// Processor time of this thread, s: the first field of its schedule statistics, ns (Linux).
fn cpu_s() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").expect("Linux tells a thread its time");
    text.split(' ').next().and_then(|ns| ns.parse::<f64>().ok()).expect("nanoseconds") / 1e9
}

/// Processor time of some work, s, and what came of it.
pub fn timed<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let began = cpu_s();
    let done = work();
    (cpu_s() - began, done)
}

/// The vehicle alone over the ticks of a recording, in the steps that the loop takes.
fn vehicle_alone(vehicle: &mut Vehicle, start: &Start, recording: &Recording) {
    vehicle.restart(start);
    for row in &recording.rows {
        let truth = &row.truth;
        let controls = Controls {
            pedal_pct: truth.pedal_pct,
            torque_pedal_pct: truth.pedal_pct,
            brake_mps2: truth.brake_mps2,
            grade_pct: truth.grade_pct,
            lever: truth.lever,
            range: truth.range,
            contacts: row.contacts,
            driver_taps: Contacts { up: truth.driver_up, down: truth.driver_down },
            wheel_lock: false,
            wheel_spin_kmh: 0.0,
        };
        let mut at_ms = 0.0;
        while at_ms < f64::from(recording.tick_ms) {
            vehicle.run(&controls, STEP_MS);
            at_ms += STEP_MS;
        }
    }
    black_box(vehicle.engine_rpm_and_gear());
}

/// Hours driven per second of processor time in a whole campaign; ns a tick of the drives judged, and of the vehicle
/// alone; hours of the drives judged per second; ns a tick of the drives driven and not judged.
fn once(spec: &Spec, plan: &Plan<'_>) -> [f64; 5] {
    let source = Builtin { fault: None };
    let mut rig = Rig::new(spec, &source, STEP_MS).expect("it is built in");
    let (campaign_s, driven_ms) =
        timed(|| (0..plan.len()).map(|at| f64::from(one(&mut rig, plan, at).driven_ms)).sum::<f64>());
    let mut vehicle = Vehicle::new(spec, &Start::default(), STEP_MS);
    let (mut judged_s, mut alone_s, mut driven_s, mut ticks) = (0.0, 0.0, 0.0, 0.0);
    for at in 0..plan.len() {
        let drive = plan.drive(at);
        judged_s += timed(|| rig.drive(&drive).len()).0;
        alone_s += timed(|| vehicle_alone(&mut vehicle, &drive.start, rig.recording())).0;
        driven_s += timed(|| alone(rig.run_in_turn(&drive))).0;
        ticks += rig.recording().rows.len() as f64;
    }
    let judged_h_per_s = ticks * f64::from(rig.recording().tick_ms) / 3.6e6 / judged_s;
    [
        driven_ms / 3.6e6 / campaign_s,
        judged_s * 1e9 / ticks,
        alone_s * 1e9 / ticks,
        judged_h_per_s,
        driven_s * 1e9 / ticks,
    ]
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

pub fn measure(told: &mut dyn FnMut(Row)) {
    let spec = sprag::selftest::demo_spec().unwrap_or_else(|errors| panic!("{errors}"));
    let asked = Asked { random: Some(RANDOM), orders: Some(0), ..Asked::default() };
    let plan = Plan::new(&spec, &spec.runs["commit"], Vec::new(), &asked).expect("nothing unknown is asked for");
    let figures: Vec<[f64; 5]> = (0..REPEATS).map(|_| once(&spec, &plan)).collect();
    let of = |pick: fn(&[f64; 5]) -> f64| median(figures.iter().map(pick).collect());
    let (judged_ns, alone_ns, driven_ns) = (of(|f| f[1]), of(|f| f[2]), of(|f| f[4]));
    told(Row {
        what: "drives of the van in process, hours driven and judged per second of processor time".into(),
        figure: of(|f| f[3]),
        unit: "h/s",
        must: 15.0,
        aim: 40.0,
        better: Better::High,
        note: format!(
            "{} drives, {RANDOM} of them random; whole campaigns, with what is driven again, {:.1} h/s; median of {REPEATS}",
            plan.len(),
            of(|f| f[0])
        ),
    });
    told(Row {
        what: "link, controller, recording and rules beside the vehicle alone, a tick".into(),
        figure: of(|f| f[1] - f[2]),
        unit: "ns",
        must: 120.0,
        aim: 60.0,
        better: Better::Low,
        note: format!(
            "{judged_ns:.0} ns less {alone_ns:.0} ns of the vehicle; {:.0} ns before any rule looks; median of {REPEATS}",
            driven_ns - alone_ns
        ),
    });
}
