//! What is measured: which lines, at which pedal positions, and where each ramp begins and ends.

use super::pace::{LONGEST_KMH, Pace};
use super::road::TOP_KMH;
use crate::link::j1979::{pedal_pct, pedal_raw, speed_raw};
use crate::signal::Direction;
use crate::spec::Spec;
use crate::spec::link::Rounding;
use crate::spec::map::Line;
use crate::spec::pedal::PedalStops;

/// A ramp begins this far before its line, where the map leaves room, km/h.
const BEFORE_KMH: f64 = 4.0;
/// And ends this far beyond the last speed at which the shift may come, km/h.
const BEYOND_KMH: f64 = 15.0;
/// It stays this far from the other line of its gear, km/h.
const APART_KMH: f64 = 1.5;
/// A ramp that would begin nearer than this to its line is none, km/h.
const LEAST_KMH: f64 = 1.0;

/// Which pedal positions are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pedals {
    /// The map's positions, the codes beside them, the middle between them, released, and about the kickdown limit.
    #[default]
    Usual,
    /// Each so-manieth code, and the full pedal.
    Step(u8),
}

/// One line at one pedal position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Crossing {
    /// The gear left.
    pub from: u8,
    /// The gear entered.
    pub to: u8,
    /// The pedal as the port codes it, 0 to 255.
    pub code: u8,
    /// The codes at the ends of the pedal's travel.
    pub stops: PedalStops,
}

impl Crossing {
    /// Up or down.
    #[must_use]
    pub fn way(&self) -> Direction {
        if self.to > self.from { Direction::Up } else { Direction::Down }
    }

    /// The pedal as the map means it: the share of its travel, %.
    #[must_use]
    pub fn pedal_pct(&self) -> f64 {
        self.stops.travel_pct(pedal_pct(self.code))
    }

    /// The pedal of a drive, 0.1 %, that is read as this one.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 1000")]
    pub(super) fn demand(&self) -> u16 {
        (self.pedal_pct() * 10.0 + 0.5).floor() as u16
    }
}

/// The speeds of a crossing, km/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    /// The map's line.
    pub line_kmh: f64,
    /// The speeds read at which the shift may come: the nearer to the ramp's beginning first.
    pub first_kmh: f64,
    pub last_kmh: f64,
    /// How far back a ramp may begin without meeting the other line of its gear.
    pub back_kmh: f64,
}

impl Span {
    /// Where the ramp ends.
    pub(super) fn end_kmh(&self, way: Direction) -> f64 {
        match way {
            Direction::Up => (self.last_kmh + BEYOND_KMH).min(TOP_KMH),
            Direction::Down => (self.last_kmh - BEYOND_KMH).max(0.0),
        }
    }

    /// Where the ramp begins, `before` the line.
    pub(super) fn start_kmh(&self, way: Direction, before_kmh: f64) -> f64 {
        match way {
            Direction::Up => (self.line_kmh - before_kmh.min(LONGEST_KMH)).max(self.back_kmh),
            Direction::Down => (self.line_kmh + before_kmh.min(LONGEST_KMH)).min(self.back_kmh),
        }
    }

    pub(super) fn usual_start_kmh(&self, way: Direction) -> f64 {
        self.start_kmh(way, BEFORE_KMH)
    }
}

/// A box may take a line's interpolated speed for the whole count beside it when it lies this near, km/h: arithmetic.
const SAME_KMH: f64 = 1e-6;

/// A box may hold the pedal in steps of this, % (common practice, no source).
const WHOLE_PCT: f64 = 1.0;

/// Where the shift may come, and where the ramp may begin; or why the line can't be reached.
///
/// # The tolerance
/// The port reads whole counts of 1 km/h. An upshift is due from its line v on; the first count that says so is the
/// lowest whole number at v or above, at most one count beyond v where the line lies between counts. Any count below v
/// is too early: nothing that was read, newest or before, says that the shift is due, for the ramp only rises. A box
/// that smooths the speed comes near a count from below and reaches it only when the next one is read; the ramp gives
/// each count the time of the response limit and two updates at least, so the next count's first answer is the latest
/// excuse. The shift may therefore come at a speed read from v to one count beyond the first that is due, and mirrored
/// for a downshift. A box may also hold the pedal in whole percent and take the side on which it shifts later: the line
/// one percent off is as good an excuse, where it lies further out than that count; one excuse, not both. Where the landing engine speed forbids the shift longer than the map does (rpm floor, redline
/// guard), the wait for it is no fault of the box: the last speed moves out.
pub(super) fn span(spec: &Spec, at: &Crossing) -> Result<Span, String> {
    let pct = at.pedal_pct();
    let Some(line_kmh) = spec.map.speed_kmh(at.from, at.to, pct) else { return Err("the map has no such line".into()) };
    let lands = spec.rpm_per_kmh(at.to);
    let way = at.way();
    let slow_kmh = spec.limits.standstill.0 + 2.0 * LEAST_KMH;
    let other = |to: u8| spec.map.speed_kmh(at.from, to, pct).filter(|_| to >= spec.facts.lowest_gear);
    let near = [pct - WHOLE_PCT, pct, pct + WHOLE_PCT];
    let nearby = near.iter().filter_map(|&pct| spec.map.speed_kmh(at.from, at.to, pct));
    let span = match way {
        Direction::Up => Span {
            line_kmh,
            first_kmh: line_kmh - SAME_KMH,
            last_kmh: {
                let least_kmh = spec.limits.rpm_floor.0 / lands;
                let off_kmh = nearby.fold(least_kmh, f64::max);
                ((line_kmh.max(least_kmh) - SAME_KMH).ceil() + 1.0).max((off_kmh - SAME_KMH).ceil())
            },
            back_kmh: other(at.from.saturating_sub(1)).map_or(slow_kmh, |down| (down + APART_KMH).max(slow_kmh)),
        },
        Direction::Down => {
            let most_kmh = (spec.vehicle.engine.redline.get() - spec.limits.redline_guard.0) / lands;
            let off_kmh = nearby.fold(most_kmh, f64::min);
            Span {
                line_kmh,
                first_kmh: line_kmh + SAME_KMH,
                last_kmh: ((line_kmh.min(most_kmh) + SAME_KMH).floor() - 1.0).min((off_kmh + SAME_KMH).floor()),
                back_kmh: other(at.from.saturating_add(1)).map_or(TOP_KMH, |up| (up - APART_KMH).min(TOP_KMH)),
            }
        }
    };
    let room_kmh = if way == Direction::Up { line_kmh - span.back_kmh } else { span.back_kmh - line_kmh };
    if way == Direction::Down && span.last_kmh < slow_kmh {
        return Err(format!("at {line_kmh:.1} km/h it lies where nothing is commanded for standing nearly still"));
    }
    if way == Direction::Up && span.last_kmh >= TOP_KMH {
        return Err(format!("the port shows no speed beyond it: {line_kmh:.1} km/h"));
    }
    if room_kmh < LEAST_KMH {
        return Err(format!(
            "the map leaves no room for gear {}: its lines lie {:.1} km/h apart",
            at.from,
            room_kmh + APART_KMH
        ));
    }
    Ok(span)
}

/// The lines that the box commands, up lines first.
pub(super) fn lines(spec: &Spec) -> impl Iterator<Item = &Line> {
    let (lowest, up_from) = (spec.facts.lowest_gear, spec.facts.lowest_up_from());
    spec.map.lines.iter().filter(move |l| l.from >= up_from && l.to >= lowest)
}

/// The pedal codes to measure, rising.
pub(super) fn codes(spec: &Spec, pedals: Pedals) -> Vec<u8> {
    let stops = spec.link.pedal_stops;
    let code = |value| code(value, stops);
    let exact = |pct| exact(pct, stops);
    let mut codes: Vec<u8> = match pedals {
        Pedals::Step(step) => {
            (stops.released..=stops.floored).step_by(usize::from(step.max(1))).chain([stops.floored]).collect()
        }
        Pedals::Usual => {
            let knots: Vec<u8> = knots(spec);
            let beside = spec.map.pedal.iter().map(|p| exact(p.0).ceil()).map(code);
            let middle = knots.windows(2).map(|pair| match *pair {
                [low, high] => low + high.saturating_sub(low) / 2,
                _ => 0,
            });
            let kickdown = exact(spec.limits.kickdown_pedal.0);
            let about = [kickdown.floor() - 1.0, kickdown.floor(), kickdown.ceil(), kickdown.ceil() + 1.0].map(code);
            knots
                .iter()
                .copied()
                .chain(beside)
                .chain(middle)
                .chain(about)
                .chain([stops.released, stops.floored])
                .collect()
        }
    };
    codes.sort_unstable();
    codes.dedup();
    codes
}

/// The codes at the map's positions; below where a position lies between two.
pub(super) fn knots(spec: &Spec) -> Vec<u8> {
    let stops = spec.link.pedal_stops;
    let mut knots: Vec<u8> = spec.map.pedal.iter().map(|p| code(exact(p.0, stops).floor(), stops)).collect();
    knots.dedup();
    knots
}

/// The code of a pedal position, with its fraction; whole where arithmetic alone makes a fraction of it.
fn exact(pct: f64, stops: PedalStops) -> f64 {
    let raw = pedal_raw(pct, stops);
    if (stops.travel_pct(pedal_pct(raw)) - pct).abs() < 1e-9 { f64::from(raw) } else { stops.code_at(pct) }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
fn code(value: f64, stops: PedalStops) -> u8 {
    value.clamp(f64::from(stops.released), f64::from(stops.floored)) as u8
}

/// The true speed in the middle of those that are read as this count, km/h.
pub(super) fn true_kmh(count: u8, rounding: Rounding) -> f64 {
    match rounding {
        Rounding::Floor => f64::from(count) + 0.5,
        Rounding::Nearest => f64::from(count),
    }
}

/// The true speed below which the port reads this count, km/h.
#[must_use]
pub fn below_kmh(count: u8, rounding: Rounding) -> f64 {
    match rounding {
        Rounding::Floor => f64::from(count) + 1.0,
        Rounding::Nearest => f64::from(count) + 0.5,
    }
}

/// Where the driver hands over, km/h: well below the ceiling and every up line, and not standing.
pub(super) fn hand_over(spec: &Spec) -> u8 {
    let lowest_line = lines(spec)
        .filter(|l| l.to > l.from)
        .flat_map(|l| l.speeds.iter().map(|v| v.0))
        .fold(spec.limits.engagement_speed_ceiling.0, f64::min);
    let least = spec.limits.standstill.0 + 2.0 * LEAST_KMH;
    speed_raw((0.6 * lowest_line).max(least).min(spec.limits.engagement_speed_ceiling.0), Rounding::Floor)
}

/// A speed read, as the port codes it.
pub(super) fn count(read_kmh: f64) -> u8 {
    speed_raw(read_kmh, Rounding::Nearest)
}

/// From power-up to the first request, ms: each measurement has its own phase of the polls.
pub(super) fn phase_ms(index: usize, pace: &Pace) -> u16 {
    // Steps of the golden section spread any number of them evenly over an update.
    let part = (index as f64 * 0.618_033_988_749_894_8).fract();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "less than an update")]
    let ms = (part * pace.update_ms) as u16;
    ms
}
