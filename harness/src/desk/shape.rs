//! Checks 1 and 2: whether it is a map at all, and whether its lines are in order.

use super::ledger::Ledger;
use super::ledger::SLACK;
use super::ledger::Severity;
use super::ledger::Spot;
use super::paper::CODES;
use super::paper::Paper;
use super::paper::pedal_pct;

/// Check 1. The reader lets no other map through; a map made by a program comes here unread.
pub fn shape(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let map = &paper.spec.map;
    let (positions, lines) = (map.pedal.len(), map.lines.len());
    ledger.figure(0.0, || format!("{positions} pedal positions, {lines} lines"));
    let mut fail = |says: String| ledger.say(Severity::Fails, says);
    if map.pedal.iter().any(|p| !p.0.is_finite()) || map.pedal.windows(2).any(|w| matches!(w, [a, b] if a.0 >= b.0)) {
        fail("the pedal positions don't rise".to_owned());
    }
    if map.pedal.first().is_none_or(|p| p.0 != 0.0) || map.pedal.last().is_none_or(|p| p.0 != 100.0) {
        fail("the pedal positions don't cover 0 to 100 %".to_owned());
    }
    for line in &map.lines {
        let name = format!("{}>{}", line.from, line.to);
        if line.speeds.len() != positions {
            fail(format!("{name} has {} speeds for {positions} pedal positions", line.speeds.len()));
        }
        if line.speeds.iter().any(|s| !(0.0..=255.0).contains(&s.0)) {
            fail(format!("{name} leaves 0 to 255 km/h, which is all that the port can show"));
        }
        if line.from.abs_diff(line.to) != 1 {
            fail(format!("{name} does not lead to the gear above or below"));
        } else if line.from < paper.lowest_up_from() || line.to < paper.lowest() {
            fail(format!("{name} goes below the box's lowest gear, {}", paper.lowest()));
        }
        if map.lines.iter().filter(|l| (l.from, l.to) == (line.from, line.to)).count() > 1 {
            fail(format!("{name} is there more than once"));
        }
    }
    for gear in paper.lowest_up_from()..paper.spec.gears() {
        for (from, to) in [(gear, gear + 1), (gear + 1, gear)] {
            if paper.line(from, to).is_none() && to >= paper.lowest() {
                fail(format!("{from}>{to} is missing"));
            }
        }
    }
}

/// Check 2.
pub fn order(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    for line in &paper.spec.map.lines {
        rises(paper, ledger, (line.from, line.to));
    }
    for gear in paper.lower_gears() {
        for (low, high) in [((gear, gear + 1), (gear + 1, gear + 2)), ((gear + 1, gear), (gear + 2, gear + 1))] {
            apart(paper, ledger, low, high);
        }
    }
}

/// A line doesn't fall with more pedal: straight between the map's positions, so these tell all.
fn rises(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>, line: (u8, u8)) {
    let up = line.1 > line.0;
    let pedal = &paper.spec.map.pedal;
    for position in 1..pedal.len() {
        let (Some(before), Some(here)) = (paper.at(line.0, line.1, position - 1), paper.at(line.0, line.1, position))
        else {
            continue;
        };
        let pct = pedal.get(position).map_or(0.0, |p| p.0);
        let margin = here - before;
        ledger.figure(margin, || format!("least rise {margin:.1} km/h, {}>{} up to {pct:.0} %", line.0, line.1));
        if margin < -SLACK {
            let cell = if up { position } else { position - 1 };
            ledger.find(
                Severity::Fails,
                Spot { line, position: cell, kmh: here, pct },
                margin,
                || format!("{}>{} falls from {before:.1} to {here:.1} km/h up to {pct:.0} %", line.0, line.1),
                || {
                    let cure = if up { paper.raise(line, cell, before) } else { paper.lower(line, cell, here) };
                    cure.into_iter().collect()
                },
            );
        }
    }
}

/// The line of the higher gear lies above that of the lower one.
fn apart(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>, low: (u8, u8), high: (u8, u8)) {
    for code in 0..CODES {
        let pct = pedal_pct(code);
        let map = &paper.spec.map;
        let (Some(below), Some(above)) = (map.speed_kmh(low.0, low.1, pct), map.speed_kmh(high.0, high.1, pct)) else {
            return;
        };
        let margin = above - below;
        if margin > 0.0 {
            continue;
        }
        let up = low.1 > low.0;
        let (line, other) = if up { (high, low) } else { (low, high) };
        for (position, kmh) in paper.cells(line, pct) {
            let Some(limit) = paper.at(other.0, other.1, position) else { continue };
            if (up && kmh > limit) || (!up && kmh < limit) {
                continue;
            }
            ledger.find(
                Severity::Fails,
                Spot { line, position, kmh: above, pct },
                margin,
                || {
                    format!(
                        "{}>{} at {above:.1} km/h does not lie above {}>{} at {below:.1} km/h, at {pct:.1} %",
                        high.0, high.1, low.0, low.1
                    )
                },
                || {
                    let cure = if up {
                        paper.raise_above(line, position, limit)
                    } else {
                        paper.lower_below(line, position, limit)
                    };
                    cure.into_iter().collect()
                },
            );
        }
    }
}
