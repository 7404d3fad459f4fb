//! Public speed cycles and measured drives, followed second by second. The data are compiled in; sources and licences
//! stand in the first lines of each file.

use super::keyed;
use crate::drive::Drive;
use crate::make::draft::Draft;
use crate::spec::Spec;
use crate::units::KMH_PER_MPH;

/// Lever into the gate while standing for this long before each piece, ms.
const LEAD_MS: u32 = 3500;
/// No piece is longer where there is a standstill to cut at, s.
const LONGEST_S: usize = 600;
/// Slower than this is standstill: a recorded speed trembles there, km/h (invented).
const STANDSTILL_KMH: f64 = 1.0;
/// Foot off, a vehicle slows down by this much without the brake, m/s² (common practice, no source).
const FOOT_OFF_MPS2: f64 = 0.35;
/// The brake that holds a vehicle at rest, % of full braking.
const HOLDING_PCT: f64 = 15.0;
/// A piece that begins at speed is reached at this rate, km/h per s (invented).
const RAMP_KMH_PER_S: f64 = 3.0;

/// A stretch that a driver follows.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// What it is, with the seconds it was cut at.
    pub name: String,
    /// Speeds, km/h, one a second; it begins at rest.
    pub speeds_kmh: Vec<f64>,
}

impl Trace {
    /// The time in the drive at which a second of the trace has passed, ms.
    #[must_use]
    pub fn at_ms(&self, second: usize) -> u32 {
        LEAD_MS + u32::try_from(second).unwrap_or(0).saturating_mul(1000)
    }
}

/// The traces of a manoeuvre, in the order of its drives; none for any other manoeuvre.
#[must_use]
pub fn traces(manoeuvre: &str) -> Vec<Trace> {
    match manoeuvre {
        "cycles" => cycles().iter().flat_map(|(name, speeds)| pieces(name, speeds)).collect(),
        "measured-drives" => measured().iter().flat_map(|(name, speeds)| pieces(name, speeds)).collect(),
        _ => Vec::new(),
    }
}

/// The rows of a file: its numbers, line by line.
fn rows(text: &'static str) -> impl Iterator<Item = Vec<f64>> {
    let data = text.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit()));
    data.map(|line| line.split(',').filter_map(|cell| cell.parse().ok()).collect())
}

/// The public cycles: name and speeds, km/h.
fn cycles() -> Vec<(String, Vec<f64>)> {
    [
        ("WLTC class 3b", include_str!("../../../../specs/cycles/wltc_3b.csv"), 1.0),
        ("UDDS", include_str!("../../../../specs/cycles/udds.csv"), KMH_PER_MPH),
        ("HWFET", include_str!("../../../../specs/cycles/hwfet.csv"), KMH_PER_MPH),
        ("US06", include_str!("../../../../specs/cycles/us06.csv"), KMH_PER_MPH),
    ]
    .into_iter()
    .map(|(name, text, unit)| {
        let speeds = rows(text).filter_map(|row| row.get(1).copied()).map(|v| v * unit);
        (name.to_owned(), speeds.collect())
    })
    .collect()
}

/// The measured drives. Where seconds are missing, the speed goes evenly from one to the other.
fn measured() -> Vec<(String, Vec<f64>)> {
    let mut drives: Vec<(String, Vec<f64>)> = Vec::new();
    let (mut last_drive, mut last_s) = (-1.0, 0.0);
    for row in rows(include_str!("../../../../specs/cycles/measured.csv")) {
        let [drive, second, speed_mph] = row.as_slice() else { continue };
        let kmh = speed_mph * KMH_PER_MPH;
        if *drive != last_drive {
            drives.push((format!("measured drive {drive}"), Vec::new()));
        } else if let Some((_, speeds)) = drives.last_mut()
            && let Some(&from_kmh) = speeds.last()
        {
            let gap_s = second - last_s;
            let missing = (1..).map(f64::from).take_while(|at| *at < gap_s);
            speeds.extend(missing.map(|at| from_kmh + (kmh - from_kmh) * at / gap_s));
        }
        if let Some((_, speeds)) = drives.last_mut() {
            speeds.push(if kmh < STANDSTILL_KMH { 0.0 } else { kmh });
        }
        (last_drive, last_s) = (*drive, *second);
    }
    drives
}

/// Cut at standstills into pieces of at most ten minutes, where there is one to cut at.
fn pieces(name: &str, speeds_kmh: &[f64]) -> Vec<Trace> {
    let still = |at: usize| speeds_kmh.get(at).is_some_and(|v| *v < STANDSTILL_KMH);
    let last = speeds_kmh.len().saturating_sub(1);
    let mut found = Vec::new();
    let mut from = 0;
    while from < last {
        let far = from + LONGEST_S;
        let cut = (from + 1..=far).rev().find(|&at| still(at) && !still(at - 1));
        let cut = if far >= last { last } else { cut.or((far..last).find(|&at| still(at))).unwrap_or(last) };
        let begins_kmh = speeds_kmh.get(from).copied().unwrap_or(0.0);
        let ramp = (0..).map(|s| f64::from(s) * RAMP_KMH_PER_S).take_while(|v| *v < begins_kmh);
        let piece: Vec<f64> = ramp.chain(speeds_kmh.get(from..=cut).unwrap_or_default().iter().copied()).collect();
        if piece.iter().any(|v| *v >= STANDSTILL_KMH) {
            let name = if (from, cut) == (0, last) { name.to_owned() } else { format!("{name}, {from} to {cut} s") };
            found.push(Trace { name, speeds_kmh: piece });
        }
        from = cut;
    }
    found
}

/// A driver who holds each second's speed and brakes where foot off the pedal would not slow down enough.
fn following<'a>(spec: &'a Spec, trace: &Trace) -> Draft<'a> {
    let start = Draft::at_rest(spec).stand(LEAD_MS).gate_at(1500);
    trace.speeds_kmh.windows(2).fold(start, |draft, pair| {
        let [from_kmh, to_kmh] = *pair else { return draft };
        if to_kmh < STANDSTILL_KMH {
            return draft.brake(1000, HOLDING_PCT);
        }
        let brake_mps2 = ((from_kmh - to_kmh) / 3.6 - FOOT_OFF_MPS2).max(0.0);
        draft.hold_braking(1000, to_kmh, brake_mps2 / 9.806_65 * 100.0)
    })
}

fn drives(spec: &Spec, manoeuvre: &str) -> Vec<Drive> {
    keyed(manoeuvre, traces(manoeuvre).iter().map(|trace| following(spec, trace)).collect())
}

pub(super) fn public(spec: &Spec) -> Vec<Drive> {
    drives(spec, "cycles")
}

pub(super) fn recorded(spec: &Spec) -> Vec<Drive> {
    drives(spec, "measured-drives")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::make::test_spec::van;

    fn way_km(speeds: &[f64]) -> f64 {
        speeds.windows(2).map(|pair| f64::midpoint(pair[0], pair[1]) / 3600.0).sum()
    }

    /// UN GTR 15 annex 1: 23.2663 km, 131.3 km/h at 1,724 s. 40 CFR 86 appendix I: 11.9904 km, 56.7 mph. 40 CFR 600
    /// appendix I: 10.2569 miles. US06: 8.008 miles.
    #[test]
    fn the_cycles_compiled_in_have_their_own_totals() {
        let cycles = cycles();
        for (at, (samples, km, highest_kmh)) in [
            (1801, 23.2663, 131.3),
            (1370, 11.9904, 56.7 * 1.609_344),
            (766, 10.2569 * 1.609_344, 59.9 * 1.609_344),
            (601, 8.008 * 1.609_344, 80.3 * 1.609_344),
        ]
        .into_iter()
        .enumerate()
        {
            let (name, speeds) = &cycles[at];
            assert_eq!(speeds.len(), samples, "{name}");
            assert!((way_km(speeds) - km).abs() < 2e-3, "{name}: {} km", way_km(speeds));
            let highest = speeds.iter().copied().fold(0.0, f64::max);
            assert!((highest - highest_kmh).abs() < 0.02, "{name}: {highest} km/h");
        }
        assert_eq!(cycles[0].1[1724], 131.3);
    }

    #[test]
    fn pieces_begin_at_rest_and_lose_nothing() {
        for (all, manoeuvre) in [(cycles(), "cycles"), (measured(), "measured-drives")] {
            let traces = traces(manoeuvre);
            for (name, speeds) in &all {
                let own = traces.iter().filter(|t| t.name == *name || t.name.starts_with(&format!("{name},")));
                let sum: f64 = own.map(|t| way_km(&t.speeds_kmh)).sum();
                // A drive whose record begins at speed gets a ramp on top.
                let ramp_km = speeds[0] * speeds[0] / RAMP_KMH_PER_S / 7200.0;
                assert!((sum - way_km(speeds)).abs() <= ramp_km * 1.2 + 2e-3, "{name}: {sum} km");
            }
            for trace in &traces {
                assert!(trace.speeds_kmh[0] < STANDSTILL_KMH, "{}", trace.name);
                let stops = trace.speeds_kmh[1..LONGEST_S.min(trace.speeds_kmh.len())].contains(&0.0);
                assert!(
                    trace.speeds_kmh.len() <= LONGEST_S + 60 || !stops || trace.name.contains("HWFET"),
                    "{}",
                    trace.name
                );
            }
        }
        assert_eq!(measured().len(), 12);
    }

    #[test]
    fn a_step_a_second_and_the_brake_only_where_the_trace_falls_steeply() {
        let trace = Trace { name: "t".into(), speeds_kmh: vec![0.0, 3.6, 7.2, 7.2, 0.0] };
        let spec = van();
        let drive = following(&spec, &trace).drive;
        // 3.5 s of standing, then a second each.
        assert_eq!(drive.steps.len(), 5);
        assert_eq!(drive.length_ms(), trace.at_ms(4));
        assert!(drive.steps[1..4].iter().all(|step| step.brake == 0));
        assert_eq!(drive.steps[4].brake, 150);
        let falling = Trace { name: "t".into(), speeds_kmh: vec![0.0, 36.0, 25.2] };
        // 10.8 km/h in a second are 3 m/s²; foot off gives 0.35, the brake 2.65, which is 27.0 % of 1 g.
        assert_eq!(following(&spec, &falling).drive.steps[2].brake, 270);
    }
}
