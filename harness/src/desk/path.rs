//! Checks 10 and 11: whether lines can be reached, and how many are crossed at once.

use super::equal_force::points;
use super::ledger::Ledger;
use super::ledger::Severity;
use super::ledger::Spot;
use super::ledger::whole;
use super::paper::CODES;
use super::paper::Paper;
use super::paper::pedal_pct;
use super::revs::highest;
use super::table::MOST_CROSSED;
use super::table::REACHES_MPS2;

/// Whether a gear still gains speed on the level.
fn gains(paper: &Paper<'_>, gear: u8, kmh: f64, pct: f64) -> bool {
    let net_n = paper.steady.force_n(gear, kmh, pct / 100.0) - paper.steady.road_load_n(kmh, 0.0);
    net_n > REACHES_MPS2 * paper.steady.mass_kg()
}

/// Whether a speed is reached in a gear with this pedal, or with more of it before the driver lifts off.
fn reaches(paper: &Paper<'_>, gear: u8, kmh: f64, code: u16) -> bool {
    let with = |more: u16| {
        gains(paper, gear, kmh, pedal_pct(more))
            && (more == code || paper.up(gear, more).is_none_or(|line| line >= kmh))
    };
    (code..CODES).rev().any(with)
}

/// Check 10.
pub fn reach(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    for gear in paper.lower_gears() {
        let line = (gear, gear + 1);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let Some(kmh) = paper.up(gear, code) else { break };
            if reaches(paper, gear, kmh, code) {
                continue;
            }
            let position = paper.nearest(pct);
            ledger.find(
                Severity::Warns,
                Spot { line, position, kmh, pct },
                0.0,
                || {
                    format!(
                        "{gear}>{} at {pct:.1} % and {kmh:.1} km/h is never reached on the level, nor by lifting off",
                        gear + 1
                    )
                },
                || {
                    let limit = highest(kmh, |kmh| gains(paper, gear, kmh, pct));
                    limit.and_then(|limit| paper.lower(line, position, limit)).into_iter().collect()
                },
            );
        }
    }
    if paper.lower_gears().is_empty() {
        return;
    }
    let cruise: Vec<(f64, u8)> =
        (3..=13).map(|tens| f64::from(tens) * 10.0).filter_map(|kmh| Some((kmh, cruise_gear(paper, kmh)?))).collect();
    let listed: Vec<String> = cruise
        .iter()
        .map(|&(kmh, gear)| format!("{kmh:.0}: {gear} ({} rpm)", whole(paper.steady.rpm(gear, kmh))))
        .collect();
    ledger.figure(0.0, || format!("cruise gears: {}", listed.join(", ")));
    if cruise.iter().all(|&(_, gear)| gear < paper.top()) {
        ledger.say(
            Severity::Warns,
            format!("top gear, {}, is no cruise gear from 30 to 130 km/h on the level", paper.top()),
        );
    }
}

/// The gear in which a speed is held on the level after pulling away gently; `None` where none holds it.
fn cruise_gear(paper: &Paper<'_>, kmh: f64) -> Option<u8> {
    let load_n = paper.steady.road_load_n(kmh, 0.0);
    let mut gear = paper.lowest_up_from();
    loop {
        let pedal = paper.steady.pedal(gear, kmh, load_n);
        let due = |pedal: f64| paper.spec.map.up_kmh(gear, pedal * 100.0).is_some_and(|line| kmh >= line);
        // Where this gear can't hold it, the lines are passed with a full pedal or not at all.
        if gear < paper.top() && due(pedal.unwrap_or(1.0)) {
            gear += 1;
        } else {
            return pedal.map(|_| gear);
        }
    }
}

/// How many lines a jump of the pedal to a code crosses at a speed, up or down.
fn crossed(paper: &Paper<'_>, mut gear: u8, kmh: f64, code: u16, up: bool) -> (u32, u8) {
    let mut count = 0;
    loop {
        let crosses = if up {
            gear < paper.top() && paper.up(gear, code).is_some_and(|line| kmh >= line)
        } else {
            gear > paper.lowest() && paper.down(gear, code).is_some_and(|line| kmh <= line)
        };
        if !crosses {
            return (count, gear);
        }
        count += 1;
        gear = if up { gear + 1 } else { gear - 1 };
    }
}

/// Check 11.
pub fn crossings(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let last = paper.spec.map.pedal.len().saturating_sub(1);
    for gear in paper.lowest_up_from()..=paper.top() {
        for kmh in (1..=255).map(f64::from) {
            let stays = |code: u16| {
                paper.up(gear, code).is_none_or(|line| kmh < line)
                    && paper.down(gear, code).is_none_or(|line| kmh > line)
            };
            if !(0..CODES).any(stays) {
                continue;
            }
            for (name, code, up, position) in [("a kickdown", CODES - 1, false, last), ("lifting off", 0, true, 0)] {
                let (count, reached) = crossed(paper, gear, kmh, code, up);
                note(ledger, count, &format!("{name} in {gear} at {kmh:.0} km/h"), || {
                    let line = if up { (reached - 1, reached) } else { (reached + 1, reached) };
                    Spot { line, position, kmh, pct: pedal_pct(code) }
                });
            }
        }
    }
    steady_pedal(paper, ledger);
    for gear in paper.lower_gears() {
        for point in points(paper, gear).iter().filter(|p| p.holds) {
            let mut next = gear + 1;
            let mut count = 1;
            while next < paper.top() {
                let pedal = paper.steady.pedal(next, point.up_kmh, point.force_n);
                let line = pedal.and_then(|pedal| paper.spec.map.up_kmh(next, pedal * 100.0));
                if line.is_none_or(|line| point.up_kmh < line) {
                    break;
                }
                next += 1;
                count += 1;
            }
            let what = format!("{gear}>{} at {:.0} % and equal force", gear + 1, point.pedal_pct);
            note(ledger, count, &what, || Spot {
                line: (next - 1, next),
                position: paper.nearest(point.pedal_pct),
                kmh: point.up_kmh,
                pct: point.pedal_pct,
            });
        }
    }
}

/// How many lines the first whole km/h that the port shows beyond a line lies beyond, gaining or losing speed with the
/// pedal held still.
fn steady_pedal(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    for gear in paper.lowest_up_from()..=paper.top() {
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let up = paper.up(gear, code).filter(|_| gear < paper.top()).map(|line| (line.ceil(), true, "gaining"));
            let down = paper.down(gear, code).filter(|_| gear > paper.lowest());
            let down = down.map(|line| (line.floor(), false, "losing"));
            for (kmh, up, way) in [up, down].into_iter().flatten() {
                let (count, reached) = crossed(paper, gear, kmh, code, up);
                note(ledger, count, &format!("{way} speed in {gear} at {pct:.0} % and {kmh:.0} km/h"), || {
                    let line = if up { (reached - 1, reached) } else { (reached + 1, reached) };
                    Spot { line, position: paper.nearest(pct), kmh, pct }
                });
            }
        }
    }
}

fn note(ledger: &mut Ledger<'_, '_>, count: u32, what: &str, spot: impl FnOnce() -> Spot) {
    if count == 0 {
        return;
    }
    ledger.figure(-f64::from(count), || format!("at most {count}, {what}"));
    if count > MOST_CROSSED {
        ledger.find(
            Severity::Warns,
            spot(),
            -f64::from(count),
            || format!("{what} crosses {count} lines at once"),
            Vec::new,
        );
    }
}
