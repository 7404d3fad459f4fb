//! Landing speeds and dwell against the gear shifts of UN GTR 15 annex 2, as wltp-gearshift 1.1.3 (EUPL 1.1 or later)
//! computes them for the 39 vehicles of its demo. `ci/outside/gtr15.sh` computes the two tables anew.

use crate::runs::measure;
use crate::traces;
use sprag::outcome::Basis;
use sprag::recording::Recording;
use sprag::spec::Spec;
use sprag::spec::known::Known;
use sprag::spec::map::Line;
use sprag::spec::vehicle::EntryGear;
use sprag::units::{Kmh, Ms, Percent, Rpm};
use std::fmt::Write;

const VEHICLES: &str = include_str!("../outside/gtr15-vehicles.csv");
const SHIFTS: &str = include_str!("../outside/gtr15-shifts.csv");

struct Vehicle {
    case: u32,
    floor_rpm: f64,
    rpm_per_kmh: Vec<f64>,
}

/// A change of gear, or with the same gear twice a second below the floor inside a gear.
#[derive(Clone, Copy)]
struct Shift {
    case: u32,
    t_ms: u32,
    kmh: f64,
    from: u8,
    to: u8,
}

fn cells(text: &str) -> impl Iterator<Item = Vec<f64>> {
    let rows = text.lines().filter(|line| line.starts_with(|first: char| first.is_ascii_digit()));
    rows.map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
}

/// The floor from third gear on is n_idle + 0.125 (n_rated − n_idle), annex 2 paragraph 2 (k).
fn vehicles() -> Vec<Vehicle> {
    let row = |row: Vec<f64>| Vehicle {
        case: row[0] as u32,
        floor_rpm: row[1] + 0.125 * (row[2] - row[1]),
        rpm_per_kmh: row[3..].to_vec(),
    };
    cells(VEHICLES).map(row).collect()
}

fn shifts() -> Vec<Shift> {
    let row = |row: Vec<f64>| Shift {
        case: row[0] as u32,
        t_ms: row[1] as u32 * 1000,
        kmh: row[2],
        from: row[3] as u8,
        to: row[4] as u8,
    };
    cells(SHIFTS).map(row).collect()
}

/// The van with this vehicle's gears and floor, a gate that keeps the gear of the moment, and lines so far apart that no
/// change of speed excuses an opposite shift.
fn spec_of(vehicle: &Vehicle) -> Spec {
    let mut spec = traces::van();
    let gearbox = &mut spec.vehicle.gearbox;
    gearbox.final_drive = Known::stated(1.0);
    gearbox.gate.entry = EntryGear::Current;
    gearbox.ratios = vec![Known::stated(1.0)];
    let per_ratio = spec.rpm_per_kmh(1);
    spec.vehicle.gearbox.ratios = vehicle.rpm_per_kmh.iter().map(|n| Known::stated(n / per_ratio)).collect();
    spec.limits.rpm_floor = Rpm(vehicle.floor_rpm);
    spec.limits.opposite_pedal = Percent(100.0);
    let line = |from: u8, to: u8, kmh: f64| Line { from, to, speeds: vec![Kmh(kmh); spec.map.pedal.len()] };
    let top = spec.gears();
    let up = (1..top).map(|gear| line(gear, gear + 1, 255.0));
    let down = (2..=top).map(|gear| line(gear, gear - 1, 0.0));
    spec.map.lines = up.chain(down).collect();
    spec
}

/// What a box would have read and done: in the gate with this gear, then taps for each shift, one after the other.
fn recording(shifts: &[Shift]) -> Recording {
    let mut text = format!("{}\n", traces::HEADER);
    let mut entered = Vec::new();
    for shift in shifts {
        let t = shift.t_ms + 1000;
        if shift.from == 0 || entered.is_empty() {
            // Out of the gate for a while, then in with the gear of the moment.
            let gear = if shift.from == 0 { shift.to } else { shift.from };
            let at = if shift.from == 0 { t } else { t - 400 };
            writeln!(text, "{},0,{},50,0,0,0\n{at},1,,50,0,0,0", at - 300, shift.kmh).unwrap();
            entered.push((at, gear));
        }
        if shift.from == 0 || shift.to == 0 {
            continue;
        }
        let step: i16 = if shift.to > shift.from { 1 } else { -1 };
        for nth in 0..shift.to.abs_diff(shift.from) {
            let at = t + 140 * u32::from(nth);
            let (up, down) = (u8::from(step > 0), u8::from(step < 0));
            writeln!(text, "{at},1,{},50,{up},{down},0", shift.kmh).unwrap();
            for (later, up, down) in [(20, up, down), (40, up, down), (60, 0, 0)] {
                writeln!(text, "{},1,,,{up},{down},0", at + later).unwrap();
            }
        }
    }
    traces::with_gears(traces::read(&text), &entered)
}

fn is_shift(shift: &Shift) -> bool {
    shift.from > 0 && shift.to > 0 && shift.from != shift.to
}

fn is_up(shift: &Shift) -> bool {
    is_shift(shift) && shift.to > shift.from
}

#[test]
fn no_upshift_lands_below_the_floor_and_samples_inside_a_gear_are_no_landings() {
    let all = shifts();
    let (mut landings, mut below, mut inside) = (0, 0, 0);
    for vehicle in vehicles() {
        let spec = spec_of(&vehicle);
        let mine: Vec<Shift> = all.iter().copied().filter(|s| s.case == vehicle.case).collect();
        inside += mine.iter().filter(|s| s.from == s.to).count();
        for shift in mine.iter().filter(|s| is_up(s) && s.to >= 3) {
            let measure = measure(&spec, &recording(std::slice::from_ref(shift)), "rpm floor after upshift");
            let margin = measure.mark(Basis::Seen).unwrap().margin;
            // n = v · (n/v of the gear entered), which is the highest of a skip.
            let by_hand = shift.kmh * vehicle.rpm_per_kmh[usize::from(shift.to) - 1] - vehicle.floor_rpm;
            assert!((margin - by_hand).abs() < 1e-6, "case {}, {} ms: {margin}", shift.case, shift.t_ms);
            landings += 1;
            below += u32::from(margin < 0.0);
        }
    }
    // Counted once with a program of our own from the whole result: 2061, 0 and 13.
    assert_eq!((landings, below, inside), (2061, 0, 13));
}

#[test]
fn a_whole_cycle_gives_the_smallest_landing_of_its_shifts() {
    let all = shifts();
    for vehicle in vehicles() {
        let mine: Vec<Shift> = all.iter().copied().filter(|s| s.case == vehicle.case && s.from != s.to).collect();
        let measure = measure(&spec_of(&vehicle), &recording(&mine), "rpm floor after upshift");
        let ups = mine.iter().filter(|s| is_up(s));
        let landings = ups.flat_map(|s| (s.from..s.to).map(|g| s.kmh * vehicle.rpm_per_kmh[usize::from(g)]));
        let landings: Vec<f64> = landings.collect();
        let lowest = landings.iter().copied().fold(f64::INFINITY, f64::min);
        let margin = measure.mark(Basis::Seen).unwrap().margin;
        assert!((margin - (lowest - vehicle.floor_rpm)).abs() < 1e-6, "case {}: {margin}", vehicle.case);
        assert_eq!(measure.reached[0] as usize, landings.len(), "case {}", vehicle.case);
    }
}

#[test]
fn opposite_shifts_are_as_far_apart_as_published() {
    let all = shifts();
    let mut spec = spec_of(&vehicles()[0]);
    let mut pairs = Vec::new();
    for vehicle in vehicles() {
        let mine: Vec<Shift> = all.iter().copied().filter(|s| s.case == vehicle.case && is_shift(s)).collect();
        let opposite = mine.windows(2).filter(|pair| is_up(&pair[0]) != is_up(&pair[1]));
        // One tap each way: what a skip adds is not an opposite pair.
        let single =
            |s: Shift, up: bool| if up { Shift { from: 3, to: 4, ..s } } else { Shift { from: 4, to: 3, ..s } };
        pairs.extend(opposite.map(|pair| [single(pair[0], is_up(&pair[0])), single(pair[1], is_up(&pair[1]))]));
    }
    assert_eq!(pairs.len(), 1502);
    let recordings: Vec<Recording> = pairs.iter().map(|pair| recording(pair)).collect();
    // Pairs at most 1, 2, 3, 4, 5 s apart, counted once with a program of our own: what a longer dwell flags.
    for (dwell_ms, wanted) in [(1500.0, 0), (2500.0, 12), (3500.0, 60), (4500.0, 116), (5500.0, 145)] {
        spec.limits.opposite_dwell = Ms::new(dwell_ms);
        let broken = |r: &&Recording| {
            measure(&spec, r, "opposite-shift dwell").mark(Basis::Seen).is_some_and(|mark| mark.broken())
        };
        assert_eq!(recordings.iter().filter(broken).count(), wanted, "{dwell_ms} ms");
    }
}
