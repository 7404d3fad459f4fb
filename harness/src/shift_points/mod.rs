//! Shift points: where a build really shifts, measured on a rolling road, against the map's lines.
//!
//! Each line is met at many pedal positions by a slow ramp of the speed, with the pedal standing still, through the
//! same link, ticks and contacts as every drive. What is compared with the map is what the box had read when it
//! commanded; the true speed, the delay, the swing of the speed that flips a gear pair, and the highest speed at which
//! the box engages are measured beside. What is measured is the box: `road.rs` says what the bench's gearbox leaves out.

mod bench;
mod crew;
mod csv;
mod pace;
mod picture;
mod plan;
mod road;
mod table;
#[cfg(test)]
mod tests;

pub use csv::csv;
pub use picture::svg;
pub use plan::{Crossing, Pedals, below_kmh};
pub use table::table;

use crate::controller::in_process::Builtin;
use crate::controller::{NotStarted, Source};
use crate::outcome::Exit;
use crate::signal::Direction;
use crate::spec::Spec;
use bench::{Bench, at_count};
use crew::Crew;
use plan::{codes, hand_over, knots, lines, span};
use std::sync::atomic::AtomicBool;

/// With this many measurements on which the controller fell silent, further ones tell nothing new.
const MOST_SILENT: usize = 8;

/// A swing this many counts wider than the gap between the measured points is the widest tried.
const WIDER: u8 = 8;

/// A shift, and what the box had read when it commanded it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shifted {
    /// Newest speed read, km/h.
    pub read_kmh: f64,
    /// The one before, km/h.
    pub before_kmh: f64,
    /// True speed at the command, km/h.
    pub true_kmh: f64,
    /// Pedal read, %.
    pub pedal_pct: f64,
    /// From the arrival of the first speed that made the shift due to the command, ms; none where it was never due.
    pub delay_ms: Option<u32>,
    /// It came before the ramp began: it would have come at a speed still further from the line.
    pub before_ramp: bool,
}

/// What became of a line at a pedal position.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// The box shifted.
    Shifted(Shifted),
    /// It was engaged and gave no command up to this speed read, km/h.
    NoCommand(f64),
    /// It shifted the other way, at this speed read, km/h.
    OtherWay(f64),
    /// The line was not reached, and why.
    NotReached(String),
    /// The controller fell silent, and why.
    Silent(String),
}

/// One line at one pedal position.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Which.
    pub at: Crossing,
    /// The map's speed there, km/h.
    pub line_kmh: f64,
    /// The first and last speed read at which the shift may come, km/h; none where the line can't be reached.
    pub allowed_kmh: Option<(f64, f64)>,
    /// What became of it.
    pub found: Found,
}

impl Point {
    /// Speed read at the command less the line's speed, km/h.
    #[must_use]
    pub fn difference_kmh(&self) -> Option<f64> {
        match &self.found {
            Found::Shifted(shifted) => Some(shifted.read_kmh - self.line_kmh),
            _ => None,
        }
    }

    /// Distance to breaking the rule, km/h; none where the line was not reached.
    ///
    /// Too early is judged on the newest or the previous speed read, whichever is nearer to the line.
    #[must_use]
    pub fn margin_kmh(&self) -> Option<f64> {
        let (first, last) = self.allowed_kmh?;
        let up = self.at.way() == Direction::Up;
        match &self.found {
            Found::Shifted(s) if up => Some((s.read_kmh.max(s.before_kmh) - first).min(last - s.read_kmh)),
            Found::Shifted(s) => Some((first - s.read_kmh.min(s.before_kmh)).min(s.read_kmh - last)),
            Found::NoCommand(to_kmh) => Some(if up { last - to_kmh } else { to_kmh - last }.min(-1.0)),
            Found::OtherWay(at_kmh) => Some(-(at_kmh - self.line_kmh).abs().max(1.0)),
            Found::NotReached(_) | Found::Silent(_) => None,
        }
    }

    /// The box does not follow the map here.
    #[must_use]
    pub fn broken(&self) -> bool {
        self.margin_kmh().is_some_and(|margin| margin < 0.0)
    }
}

/// The smallest swing of the speed read, down from the upshift point, that makes the box shift to and fro.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Swing {
    /// The upshift.
    pub at: Crossing,
    /// Upper end: the speed read at which it shifts up, km/h.
    pub high: u8,
    /// The swing, counts of 1 km/h; none where none up to `tried` flips it.
    pub flips: Option<u8>,
    /// The widest tried.
    pub tried: u8,
}

/// The highest speed read at which the box engages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ceiling {
    /// It engages at this and not at the next count; the road is too short for more at 254.
    UpTo(u8),
    /// Not even where the measurements hand over, at this speed read.
    NotEven(u8),
    /// The controller fell silent, and why.
    Silent(String),
}

/// All that was measured.
#[derive(Debug, Clone)]
pub struct Measured {
    /// The controller as the user names it.
    pub controller: String,
    /// Points, by line and pedal.
    pub points: Vec<Point>,
    /// Swings at the map's pedal positions.
    pub swings: Vec<Swing>,
    /// The engagement ceiling.
    pub ceiling: Option<Ceiling>,
    /// Points that the reference, with the same map and link, does not keep either: the bench is unfit for them.
    pub unfit: Vec<Crossing>,
    /// Measurements planned.
    pub planned: usize,
    /// Simulated, ms.
    pub simulated_ms: u64,
    /// The user asked to stop before the end.
    pub stopped: bool,
}

/// What is asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options {
    /// Pedal positions.
    pub pedals: Pedals,
    /// Threads.
    pub jobs: usize,
}

/// Measures a controller; `progress` hears of measurements done and planned.
///
/// # Errors
/// The controller wasn't started.
pub fn measure(
    spec: &Spec,
    source: &dyn Source,
    options: &Options,
    stop: &AtomicBool,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Measured, NotStarted> {
    let crossings: Vec<Crossing> = lines(spec)
        .flat_map(|line| {
            let (from, to, stops) = (line.from, line.to, spec.link.pedal_stops);
            codes(spec, options.pedals).into_iter().map(move |code| Crossing { from, to, code, stops })
        })
        .collect();
    let planned = crossings.len();
    let crew = Crew::new(spec, source, options.jobs, stop);
    let go_on = |_: &[Ceiling]| false;
    let ceiling = crew.measure(1, |bench, _| ceiling(bench, spec), go_on, &mut |_| ())?.pop();
    let mut points: Vec<Point> = Vec::new();
    if matches!(ceiling, Some(Ceiling::UpTo(_))) {
        let silent =
            |points: &[Point]| points.iter().filter(|p| matches!(p.found, Found::Silent(_))).count() >= MOST_SILENT;
        let measured = |bench: &mut Bench<'_>, index: usize| {
            let at = crossings[index];
            point(spec, at, bench.past(&at, index))
        };
        points = crew.measure(planned, measured, silent, &mut |done| progress(done, planned))?;
    }
    let asked: Vec<(&Point, &Point)> = pairs(spec, &points);
    let swings = crew.measure(asked.len(), |bench, index| swing(bench, asked[index], index), |_| false, &mut |_| ())?;
    let simulated_ms = crew.simulated_ms();
    let unfit = unfit(spec, &points, options.jobs, stop)?;
    Ok(Measured {
        controller: source.name(),
        swings: swings.into_iter().flatten().collect(),
        points,
        ceiling,
        unfit,
        planned,
        simulated_ms,
        stopped: crew.stopped(),
    })
}

fn point(spec: &Spec, at: Crossing, found: Found) -> Point {
    Point {
        at,
        line_kmh: spec.map.speed_kmh(at.from, at.to, at.pedal_pct()).unwrap_or(0.0),
        allowed_kmh: span(spec, &at).ok().map(|span| (span.first_kmh, span.last_kmh)),
        found,
    }
}

/// The broken points that the reference breaks too.
fn unfit(spec: &Spec, points: &[Point], jobs: usize, stop: &AtomicBool) -> Result<Vec<Crossing>, NotStarted> {
    let broken: Vec<Crossing> = points.iter().filter(|p| p.broken()).map(|p| p.at).collect();
    let reference = Builtin { fault: None };
    let crew = Crew::new(spec, &reference, jobs, stop);
    let again = |bench: &mut Bench<'_>, index: usize| point(spec, broken[index], bench.past(&broken[index], index));
    let points = crew.measure(broken.len(), again, |_| false, &mut |_| ())?;
    Ok(points.iter().filter(|p| p.broken()).map(|p| p.at).collect())
}

/// By halves, on whole counts.
fn ceiling(bench: &mut Bench<'_>, spec: &Spec) -> Ceiling {
    let mut index = 0;
    let mut engages = |count| {
        index += 1;
        bench.engages(count, index)
    };
    let (mut low, mut high) = (hand_over(spec), u8::MAX);
    match engages(low) {
        Ok(true) => {}
        Ok(false) => return Ceiling::NotEven(low),
        Err(why) => return Ceiling::Silent(why),
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        match engages(middle) {
            Ok(true) => low = middle,
            Ok(false) => high = middle,
            Err(why) => return Ceiling::Silent(why),
        }
    }
    Ceiling::UpTo(low)
}

/// Up and down points of one gear pair at the map's pedal positions, where both were measured.
fn pairs<'p>(spec: &Spec, points: &'p [Point]) -> Vec<(&'p Point, &'p Point)> {
    let knots = knots(spec);
    let back = |up: &Point| {
        let at = Crossing { from: up.at.to, to: up.at.from, ..up.at };
        points.iter().find(|p| p.at == at && at_count(&p.found).is_some())
    };
    points
        .iter()
        .filter(|p| p.at.way() == Direction::Up && knots.contains(&p.at.code) && at_count(&p.found).is_some())
        .filter_map(|up| back(up).map(|down| (up, down)))
        .collect()
}

/// The smallest swing that flips a pair, sought from the gap between its measured points.
fn swing(bench: &mut Bench<'_>, (up, down): (&Point, &Point), index: usize) -> Option<Swing> {
    let (high, low) = (at_count(&up.found)?, at_count(&down.found)?);
    let gap = high.saturating_sub(low).max(1);
    let tried = gap.saturating_add(WIDER).min(high);
    let mut flips = |by: u8| bench.swings(&up.at, high - by, high, index);
    let mut found = None;
    let mut by = gap.min(tried);
    // From the gap on to wider ones until it flips, then to smaller ones until it doesn't.
    while by <= tried {
        if flips(by).ok()? {
            found = Some(by);
            break;
        }
        by += 1;
    }
    if found == Some(gap) {
        while by > 1 && flips(by - 1).ok()? {
            by -= 1;
        }
        found = Some(by);
    }
    Some(Swing { at: up.at, high, flips: found, tried })
}

impl Measured {
    /// Smallest margin of all points, km/h.
    #[must_use]
    pub fn margin_kmh(&self) -> Option<f64> {
        self.points.iter().filter_map(Point::margin_kmh).min_by(f64::total_cmp)
    }

    /// Points at which the box doesn't follow the map.
    pub fn broken(&self) -> impl Iterator<Item = &Point> {
        self.points.iter().filter(|p| p.broken())
    }

    /// It engages above the spec's ceiling.
    #[must_use]
    pub fn engages_too_fast(&self, spec: &Spec) -> bool {
        matches!(self.ceiling, Some(Ceiling::UpTo(read)) if f64::from(read) > spec.limits.engagement_speed_ceiling.0)
    }

    /// The controller fell silent somewhere.
    #[must_use]
    pub fn silent(&self) -> Option<&str> {
        let ceiling = match &self.ceiling {
            Some(Ceiling::Silent(why)) => Some(why.as_str()),
            _ => None,
        };
        ceiling.or_else(|| {
            self.points.iter().find_map(|p| match &p.found {
                Found::Silent(why) => Some(why.as_str()),
                _ => None,
            })
        })
    }

    /// The code that the command ends with.
    #[must_use]
    pub fn exit(&self, spec: &Spec) -> Exit {
        let mut exit = Exit::Kept;
        if !self.unfit.is_empty() {
            exit = exit.and(Exit::NotStarted);
        }
        if self.silent().is_some() || self.engages_too_fast(spec) || self.broken().next().is_some() {
            exit = exit.and(Exit::Broken);
        }
        let missing = self.points.iter().any(|p| matches!(p.found, Found::NotReached(_)));
        if missing || self.points.len() < self.planned || self.planned == 0 {
            exit = exit.and(Exit::NotReached);
        }
        exit
    }
}
