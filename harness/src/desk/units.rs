//! Checks 13 to 15: ratio steps, units and rounding, pedal codes.

use super::ledger::Ledger;
use super::ledger::SLACK;
use super::ledger::Severity;
use super::ledger::Spot;
use super::paper::CODES;
use super::paper::Paper;
use super::paper::pedal_pct;
use crate::rules::story::wants::CLOSED_PCT;

/// Check 13.
pub fn ratio_steps(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let ratios = &paper.spec.vehicle.gearbox.ratios;
    let steps: Vec<String> = (1..)
        .zip(ratios.windows(2))
        .filter_map(|(gear, pair)| match pair {
            [low, high] => Some(format!("{gear}>{} {:.2}", gear + 1, low.get() / high.get())),
            _ => None,
        })
        .collect();
    if !steps.is_empty() {
        ledger.figure(0.0, || steps.join(", "));
    }
}

/// Speeds between upshift and shift back as the port shows them, km/h: lines in whole km/h rounded outward, less the one
/// that a whole number of km/h stands for.
pub fn shown_gap_kmh(up_kmh: f64, down_kmh: f64) -> f64 {
    (up_kmh - SLACK).ceil() - (down_kmh + SLACK).floor() - 1.0
}

/// Below this a shift is taken back by the next number that the port shows, km/h (our own choice).
const SHOWN_FAILS_KMH: f64 = 1.0;
/// Below this true speed that swings by ±0.6 km/h crosses both lines, km/h (our closed-loop experiments).
const SHOWN_WARNS_KMH: f64 = 2.0;

/// Check 14.
pub fn rounding(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let units = paper.written.map_or_else(|| vec!["km/h"], |w| w.units());
    for gear in paper.lower_gears() {
        let line = (gear + 1, gear);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let (Some(up), Some(down)) = (paper.up(gear, code), paper.down(gear + 1, code)) else { break };
            let gap = shown_gap_kmh(up, down);
            ledger.figure(gap, || {
                let written = units.join(" and ");
                format!("written in {written}; smallest gap as shown {gap:.0} km/h, {gear}>{} at {pct:.0} %", gear + 1)
            });
            let severity = match gap {
                gap if gap < SHOWN_FAILS_KMH => Severity::Fails,
                gap if gap < SHOWN_WARNS_KMH => Severity::Warns,
                _ => continue,
            };
            let position = paper.nearest(pct);
            ledger.find(
                severity,
                Spot { line, position, kmh: down, pct },
                gap,
                || {
                    format!(
                        "at {pct:.1} % {gear}>{0} ({up:.1} km/h) and {0}>{gear} ({down:.1} km/h) lie {gap:.0} km/h apart in the whole km/h that the port shows",
                        gear + 1
                    )
                },
                || {
                    let by = SHOWN_WARNS_KMH - gap;
                    paper.at(line.0, line.1, position).and_then(|cell| paper.lower(line, position, cell - by)).into_iter().collect()
                },
            );
        }
    }
    if units.len() > 1 {
        ledger.say(
            Severity::Warns,
            format!("speeds are written in {}: one unit a map is harder to mistake", units.join(" and ")),
        );
    }
}

/// A threshold should lie this many codes inside its stop, so that one that wears is still reached (invented).
const SPARE_CODES: u16 = 3;

/// Check 15.
pub fn pedal_codes(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let (pct, stops) = (paper.spec.limits.kickdown_pedal.0, paper.spec.link.pedal_stops);
    let travel = |code: u16| stops.travel_pct(pedal_pct(code));
    let (released, floored) = (u16::from(stops.released), u16::from(stops.floored));
    let code_at_or_above = |pct: f64| (released..floored).find(|&code| travel(code) >= pct).unwrap_or(floored);
    let kickdown = code_at_or_above(pct).max(released + 1);
    let closed = code_at_or_above(CLOSED_PCT) - 1;
    ledger.figure(0.0, || {
        format!(
            "released {released}/255, closed up to {closed}/255, floored {floored}/255; {pct:.0} % of the travel lies \
             between {}/255 = {:.1} % and {kickdown}/255 = {:.1} %",
            kickdown - 1,
            travel(kickdown - 1),
            travel(kickdown)
        )
    });
    if closed < released + SPARE_CODES {
        let codes = closed + 1 - released;
        ledger.say(
            Severity::Warns,
            format!("only {codes} codes from {released}/255 on mean a closed pedal: a worn stop and the box never sees it released"),
        );
    }
    if kickdown + SPARE_CODES > floored {
        let codes = floored + 1 - kickdown;
        ledger.say(
            Severity::Warns,
            format!("only {codes} codes up to {floored}/255 mean kickdown: a worn stop and it never comes"),
        );
    }
    let pedal = &paper.spec.map.pedal;
    for (position, pair) in (1..).zip(pedal.windows(2)) {
        let [low, high] = pair else { continue };
        let between = code_at_or_above(high.0).abs_diff(code_at_or_above(low.0));
        if between == 0
            && let Some(line) = paper.spec.map.lines.first()
        {
            ledger.find(
                Severity::Warns,
                Spot { line: (line.from, line.to), position, kmh: 0.0, pct: high.0 },
                0.0,
                || {
                    format!(
                        "no pedal code lies between {} % and {} %: the port can't tell these positions apart",
                        low.0, high.0
                    )
                },
                Vec::new,
            );
        }
    }
}
