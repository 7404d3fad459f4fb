//! Whether the equal-force gap tells hunting beforehand: fifty random maps, vehicles and pedal laws, predicted on paper
//! and then driven. `specs/equal-force-gap.md` holds what came out; run this again with
//! `cargo test --release -p sprag-tests --test suite equal_force_table -- --ignored`.

use sprag::campaign::rig::Rig;
use sprag::controller::in_process::Builtin;
use sprag::desk::{EqualForce, equal_force};
use sprag::drive::{Demand, Drive, Event, Happening, Start, Step, When};
use sprag::rules::RULES;
use sprag::signal::Lever;
use sprag::spec::Spec;
use sprag::spec::map::{Line, ShiftMap};
use sprag::units::{Kmh, Percent, Plain};
use sprag::vehicle::{STEP_MS, Steady};
use std::path::Path;

/// SplitMix64.
struct Dice(u64);

impl Dice {
    fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.word() >> 11) as f64 / (1_u64 << 53) as f64)
    }
}

const SEEDS: std::ops::RangeInclusive<u64> = 1..=50;

/// A spec of a seed: the van (odd seeds) or the hatch (even ones) with other numbers, and a map drawn afresh.
fn random_spec(seed: u64) -> Spec {
    let dice = &mut Dice(seed);
    let base = if seed % 2 == 1 { "van.toml" } else { "hatch.toml" };
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../specs").join(base);
    let mut spec = sprag::spec::load(&path).unwrap();
    let vehicle = &mut spec.vehicle;
    vehicle.mass.value.0 *= dice.between(0.85, 1.25);
    vehicle.drag_area.value.0 *= dice.between(0.9, 1.15);
    let torque = dice.between(0.85, 1.15);
    for point in &mut vehicle.engine.full_load {
        point.torque.0 *= torque;
    }
    vehicle.gearbox.final_drive.value.0 *= dice.between(0.93, 1.07);
    vehicle.engine.pedal_law.value = Plain(dice.between(0.8, 2.0));
    // The gate and the link of the van for both, so that the map and the vehicle alone make the difference.
    let van = sprag::spec::load(&path.with_file_name("van.toml")).unwrap();
    vehicle.gearbox.gate = van.vehicle.gearbox.gate;
    vehicle.gearbox.protection = van.vehicle.gearbox.protection;
    spec.link = van.link;
    spec.facts = van.facts;
    // It may engage at any speed: here only the lines are looked at.
    spec.limits.engagement_speed_ceiling = Kmh(255.0);
    spec.map = random_map(&spec, dice);
    spec
}

/// Up lines from a light-pedal speed that lands above the floor to a share of the redline, or what the vehicle can
/// reach; down lines below them by a gap of 3 to 12 km/h with a released pedal and of 3 to 30 with a full one.
fn random_map(spec: &Spec, dice: &mut Dice) -> ShiftMap {
    let pedal: Vec<f64> = (0..=10).map(|n| f64::from(n) * 10.0).collect();
    let (lowest, top) = (spec.facts.lowest_gear, spec.gears());
    let steady = Steady::new(spec);
    let light = dice.between(1.05, 1.5);
    let full = dice.between(0.62, 0.92);
    let (bend_from, bend_to) = (dice.between(10.0, 25.0), dice.between(75.0, 100.0));
    let (near, far) = (dice.between(3.0, 12.0), dice.between(3.0, 30.0));
    let (mut ups, mut downs): (Vec<Line>, Vec<Line>) = (Vec::new(), Vec::new());
    for gear in lowest..top {
        let low = spec.limits.rpm_floor.0 * light / spec.rpm_per_kmh(gear + 1);
        let mut high = spec.vehicle.engine.redline.get() * full / spec.rpm_per_kmh(gear);
        while high > low && steady.acceleration_mps2(gear + 1, high, 1.0) < 0.25 {
            high -= 1.0;
        }
        let high = high.max(low + 2.0);
        let share = |p: f64| ((p - bend_from) / (bend_to - bend_from)).clamp(0.0, 1.0);
        let mut up: Vec<f64> = pedal.iter().map(|&p| (low + (high - low) * share(p)).ceil()).collect();
        if let Some(before) = ups.last() {
            for (speed, before) in up.iter_mut().zip(&before.speeds) {
                *speed = speed.max(before.0 + 3.0);
            }
        }
        let scale = f64::from(gear) / f64::from(lowest);
        let mut down: Vec<f64> = Vec::new();
        for (&p, &up) in pedal.iter().zip(&up) {
            let gap = (near + (far - near) * p / 100.0) * (0.5 + 0.5 * scale);
            let speed = (up - gap.max(3.0)).floor().max(5.0);
            down.push(down.last().map_or(speed, |&last: &f64| speed.max(last)));
        }
        let line = |from, to, speeds: Vec<f64>| Line { from, to, speeds: speeds.into_iter().map(Kmh).collect() };
        ups.push(line(gear, gear + 1, up));
        downs.push(line(gear + 1, gear, down));
    }
    ups.extend(downs);
    ShiftMap { pedal: pedal.into_iter().map(Percent).collect(), lines: ups }
}

/// The point of an upshift with the smallest gap.
fn worst(spec: &Spec, gear: u8) -> EqualForce {
    let points = equal_force(spec, gear);
    points.into_iter().min_by(|a, b| a.gap_kmh().total_cmp(&b.gap_kmh())).unwrap()
}

/// Set speeds around the upshift, km/h off it.
const OFFSETS: [f64; 11] = [-2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0];

/// The driver holds a speed near the worst point on the grade where the lower gear just needs that point's pedal.
fn drive(spec: &Spec, point: &EqualForce, off_kmh: f64) -> Drive {
    let grade_pct = Steady::new(spec).grade_held_pct(point.up_kmh, point.force_n);
    let tenths = ((point.up_kmh + off_kmh) * 10.0).round() as u16;
    let start = Start { speed: tenths, gear: point.gear, ..Start::default() };
    let hold = Step {
        ms: 140_000,
        demand: Demand::Hold(tenths),
        brake: 0,
        grade: (grade_pct * 10.0).round().clamp(-400.0, 400.0) as i16,
    };
    let gate = Event { when: When::At(1500), what: Happening::Lever(Lever::Gate) };
    Drive { start, steps: vec![hold], events: vec![gate] }
}

#[test]
#[ignore = "explore"]
fn explore() {
    let hunting = RULES.iter().position(|r| r.card.name == "hunting count").unwrap();
    for seed in SEEDS {
        let spec = random_spec(seed);
        let mut rig = Rig::new(&spec, &Builtin { fault: None }, STEP_MS).unwrap();
        for gear in spec.facts.lowest_gear..spec.gears() {
            let points = equal_force(&spec, gear);
            let least = |holds: bool| {
                points.iter().filter(|p| p.holds == holds).min_by(|a, b| a.gap_kmh().total_cmp(&b.gap_kmh()))
            };
            for (name, point) in [("holds", least(true)), ("full", least(false))] {
                let Some(point) = point else { continue };
                let mut hunts = Vec::new();
                let mut shifts = 0;
                for off in OFFSETS {
                    let m = rig.drive(&drive(&spec, point, off))[hunting];
                    hunts.push(m.seen.is_some_and(|m| m.broken()));
                    shifts += 1;
                }
                let same = points
                    .iter()
                    .map(|p| p.up_kmh - spec.map.down_kmh(gear + 1, p.pedal_pct).unwrap())
                    .fold(99.0, f64::min);
                println!(
                    "{seed},{},{:.2},{gear},{name},{:.2},{:.1},{:.1},{:.1},{same:.1},{:.1},{},{}",
                    spec.vehicle.class as u8,
                    spec.vehicle.engine.pedal_law.value.0,
                    point.gap_kmh(),
                    point.pedal_pct,
                    point.pedal_after_pct,
                    point.up_kmh,
                    Steady::new(&spec).grade_held_pct(point.up_kmh, point.force_n),
                    hunts.iter().filter(|h| **h).count(),
                    shifts
                );
            }
        }
    }
    let _ = worst;
}
