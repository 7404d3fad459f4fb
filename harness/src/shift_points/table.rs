//! The measured shift points on screen.

use super::{Ceiling, Found, Measured, Point, below_kmh};
use crate::rules::MAP_AS_SPECIFIED as RULE;
use crate::signal::Direction;
use crate::spec::Spec;
use crate::spec::link::Rounding;
use std::collections::BTreeMap;
use std::fmt::Write;

/// So many broken points are told one by one; the CSV holds all.
const MOST_TOLD: usize = 12;

/// The screen.
#[must_use]
pub fn table(spec: &Spec, measured: &Measured) -> String {
    let mut text = String::new();
    let mut put = |line: &str| {
        let _ = writeln!(text, "{line}");
    };
    put(&head(spec, measured));
    put("");
    if !measured.points.is_empty() {
        put("         points   read less line    true less line         answer, ms      swing that");
        put("shift             least    most     least    most    least median  most  flips, km/h");
        for line in rows(measured) {
            put(&line);
        }
        put("");
    }
    for line in broken(measured) {
        put(&line);
    }
    for line in not_reached(measured) {
        put(&line);
    }
    if let Some(why) = measured.silent() {
        put(&format!("The controller fell silent: {why}"));
    }
    if let Some(ceiling) = &measured.ceiling {
        put(&engages(spec, ceiling));
    }
    put(&verdict(measured));
    text
}

fn head(spec: &Spec, measured: &Measured) -> String {
    let mut codes: Vec<u8> = measured.points.iter().map(|p| p.at.code).collect();
    codes.sort_unstable();
    codes.dedup();
    format!(
        "Shift points of {} on the rolling road, spec {}: {} lines, {} pedal positions, {:.1} simulated hours.",
        measured.controller,
        spec.name,
        pairs(measured).len(),
        codes.len(),
        measured.simulated_ms as f64 / 3_600_000.0
    )
}

/// The points of each line, in the order of measurement.
fn pairs(measured: &Measured) -> Vec<((u8, u8), Vec<&Point>)> {
    let mut pairs: Vec<((u8, u8), Vec<&Point>)> = Vec::new();
    for point in &measured.points {
        let pair = (point.at.from, point.at.to);
        match pairs.last_mut().filter(|(last, _)| *last == pair) {
            Some((_, points)) => points.push(point),
            None => pairs.push((pair, vec![point])),
        }
    }
    pairs
}

fn rows(measured: &Measured) -> Vec<String> {
    let each = pairs(measured).into_iter().map(|((from, to), points)| {
        let shifted: Vec<(&Point, _)> = points
            .iter()
            .filter_map(|p| match &p.found {
                Found::Shifted(shifted) => Some((*p, shifted)),
                _ => None,
            })
            .collect();
        let read = ends(shifted.iter().map(|(p, s)| s.read_kmh - p.line_kmh));
        let truth = ends(shifted.iter().map(|(p, s)| s.true_kmh - p.line_kmh));
        let mut delays: Vec<u32> = shifted.iter().filter_map(|(_, s)| s.delay_ms).collect();
        delays.sort_unstable();
        let delay = |at: Option<&u32>| at.map_or("-".to_owned(), ToString::to_string);
        let swings = measured.swings.iter().filter(|s| (s.at.from, s.at.to) == (from, to));
        let least = swings.filter_map(|s| s.flips).min().map_or(String::new(), |by| by.to_string());
        format!(
            "{from}>{to}   {:>5}/{:<4} {:>7} {:>7}   {:>7} {:>7}   {:>6} {:>6} {:>5}  {least:>6}",
            shifted.len(),
            points.len(),
            read.0,
            read.1,
            truth.0,
            truth.1,
            delay(delays.first()),
            delay(delays.get(delays.len() / 2)),
            delay(delays.last()),
        )
        .trim_end()
        .to_owned()
    });
    each.collect()
}

/// Least and most, with their signs.
fn ends(values: impl Iterator<Item = f64> + Clone) -> (String, String) {
    let show = |v: f64| if v.abs() < 0.05 { "0.0".to_owned() } else { format!("{v:+.1}") };
    let end = |v: Option<f64>| v.map_or("-".to_owned(), show);
    (end(values.clone().min_by(f64::total_cmp)), end(values.max_by(f64::total_cmp)))
}

/// A point that breaks the rule, as a practitioner would say it.
fn says(point: &Point) -> String {
    let place = format!(
        "{}>{} at {:.1} % pedal: the map says {} km/h, the box ",
        point.at.from,
        point.at.to,
        point.at.pedal_pct(),
        speed(point.line_kmh)
    );
    let did = match &point.found {
        Found::Shifted(s) => {
            let difference = s.read_kmh - point.line_kmh;
            let early = (difference < 0.0) == (point.at.way() == Direction::Up);
            format!(
                "shifts at {:.0} km/h read ({:.1} true): {} km/h too {}{}",
                s.read_kmh,
                s.true_kmh,
                speed(difference.abs()),
                if early { "early" } else { "late" },
                if s.before_ramp { " or more" } else { "" }
            )
        }
        Found::NoCommand(to) => format!("gives no command up to {to:.0} km/h read"),
        Found::OtherWay(at) => format!("shifts the other way at {at:.0} km/h read"),
        Found::NotReached(why) | Found::Silent(why) => why.clone(),
    };
    place + &did
}

fn broken(measured: &Measured) -> Vec<String> {
    let mut lines: Vec<String> = measured.broken().take(MOST_TOLD).map(says).collect();
    let more = measured.broken().count().saturating_sub(MOST_TOLD);
    if more > 0 {
        lines.push(format!("and {more} more: --csv FILE writes them all"));
    }
    if !lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

/// What was not reached, by line and reason.
fn not_reached(measured: &Measured) -> Vec<String> {
    let mut reasons: BTreeMap<(u8, u8, &str), Vec<f64>> = BTreeMap::new();
    for point in &measured.points {
        if let Found::NotReached(why) = &point.found {
            reasons.entry((point.at.from, point.at.to, why)).or_default().push(point.at.pedal_pct());
        }
    }
    let mut lines: Vec<String> = reasons
        .into_iter()
        .map(|((from, to, why), pedals)| {
            let (least, most) = (pedals.first().copied().unwrap_or(0.0), pedals.last().copied().unwrap_or(0.0));
            let at = if pedals.len() == 1 {
                format!("at {least:.1} % pedal")
            } else {
                format!("at {} pedal positions from {least:.1} to {most:.1} %", pedals.len())
            };
            format!("{from}>{to} {at} was not reached: {why}")
        })
        .collect();
    let missing = measured.planned - measured.points.len().min(measured.planned);
    if missing > 0 {
        lines.push(format!("{missing} of {} points were not measured", measured.planned));
    }
    if !lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

fn engages(spec: &Spec, ceiling: &Ceiling) -> String {
    let limit = spec.limits.engagement_speed_ceiling.0;
    let UpTo { read, below, other, here, there } = match ceiling {
        Ceiling::UpTo(read) => UpTo::of(*read, spec.link.speed_rounding),
        Ceiling::NotEven(read) => {
            return format!("The box does not even engage at {read} km/h read; the ceiling is {} km/h.", speed(limit));
        }
        Ceiling::Silent(_) => return "How fast it engages was not found out.".into(),
    };
    let wrong = if f64::from(read) > limit { ": engagement speed ceiling is broken" } else { "" };
    format!(
        "It engages up to {read} km/h read, the ceiling is {} km/h{wrong}. In truth that is below {} km/h on this port, \
         which {here}, and below {} km/h on one that {there}.",
        speed(limit),
        speed(below),
        speed(other)
    )
}

/// The ceiling in true speeds.
struct UpTo {
    read: u8,
    below: f64,
    other: f64,
    here: &'static str,
    there: &'static str,
}

impl UpTo {
    fn of(read: u8, rounding: Rounding) -> Self {
        let (cuts, nearest) = ("cuts fractions off", "rounds to the nearest");
        let floor = below_kmh(read, Rounding::Floor);
        let half = below_kmh(read, Rounding::Nearest);
        match rounding {
            Rounding::Floor => Self { read, below: floor, other: half, here: cuts, there: nearest },
            Rounding::Nearest => Self { read, below: half, other: floor, here: nearest, there: cuts },
        }
    }
}

fn verdict(measured: &Measured) -> String {
    if !measured.unfit.is_empty() {
        let (some, all) = (measured.unfit.len(), measured.broken().count());
        return format!(
            "The rig is unfit: the reference misses {some} of these {all} points too, so nothing is claimed."
        );
    }
    let judged = measured.points.iter().filter(|p| p.margin_kmh().is_some()).count();
    let broken = measured.broken().count();
    let margin = measured.margin_kmh().map_or(String::new(), |m| format!(", smallest margin {} km/h", speed(m)));
    match (judged, broken) {
        (0, _) => format!("'{RULE}' is not reached: no shift was measured."),
        (_, 0) => format!("'{RULE}' is kept at all {judged} points that were reached{margin}."),
        _ => format!("'{RULE}' is broken at {broken} of {judged} points{margin}."),
    }
}

/// A speed with as few decimals as it needs, at most one.
fn speed(kmh: f64) -> String {
    let tenths = (kmh * 10.0).round() / 10.0;
    if tenths == tenths.trunc() { format!("{:.0}", tenths + 0.0) } else { format!("{tenths:.1}") }
}
