//! Checks 3 and 8: engine speed after an upshift, and before one with the pedal on the floor.

use super::ledger::Ledger;
use super::ledger::SLACK;
use super::ledger::Severity;
use super::ledger::Spot;
use super::ledger::whole;
use super::paper::CODES;
use super::paper::Paper;
use super::paper::pedal_pct;
use super::table::RATIO_OFF;

/// Check 3.
pub fn landing(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let floor_rpm = paper.spec.limits.rpm_floor.0;
    for gear in paper.lower_gears() {
        let least_kmh = floor_rpm / paper.spec.rpm_per_kmh(gear + 1);
        let line = (gear, gear + 1);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let Some(kmh) = paper.up(gear, code) else { break };
            let rpm = paper.steady.rpm(gear + 1, kmh);
            ledger.figure(rpm, || {
                format!(
                    "lands lowest at {} rpm, {gear}>{} at {pct:.0} % ({} rpm where rpm per km/h is {:.0} % less)",
                    whole(rpm),
                    gear + 1,
                    whole(rpm * (1.0 - RATIO_OFF)),
                    RATIO_OFF * 100.0
                )
            });
            if rpm - floor_rpm >= -SLACK {
                continue;
            }
            for (position, _) in paper.cells(line, pct).into_iter().filter(|&(_, cell)| cell < least_kmh) {
                ledger.find(
                    Severity::Fails,
                    Spot { line, position, kmh, pct },
                    rpm - floor_rpm,
                    || {
                        format!(
                            "{gear}>{} at {pct:.1} % and {kmh:.1} km/h lands at {} rpm, {} rpm below the floor",
                            gear + 1,
                            whole(rpm),
                            whole(floor_rpm - rpm)
                        )
                    },
                    || paper.raise(line, position, least_kmh).into_iter().collect(),
                );
            }
        }
    }
}

/// Time from crossing a line to the gearbox acting on the tap, s: a poll, its answer, a tick, the recognition.
pub fn reaction_s(paper: &Paper<'_>) -> f64 {
    let (link, box_tick) = (&paper.spec.link, paper.spec.facts.tick);
    (link.period.get() + link.answer_most.get() + box_tick.get() + paper.spec.vehicle.gearbox.shift.recognition.get())
        / 1000.0
}

/// Engine speed that an upshift at full pedal gets to, r/min.
pub fn reached_rpm(paper: &Paper<'_>, gear: u8, kmh: f64) -> f64 {
    let rise_kmh_s = (paper.steady.acceleration_mps2(gear, kmh, 1.0) * 3.6).max(0.0);
    paper.steady.rpm(gear, kmh + rise_kmh_s * reaction_s(paper))
}

/// Check 8.
pub fn full_pedal(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let redline_rpm = paper.spec.vehicle.engine.redline.get();
    for gear in paper.lower_gears() {
        let line = (gear, gear + 1);
        let Some(kmh) = paper.up(gear, CODES - 1) else { continue };
        let rpm = reached_rpm(paper, gear, kmh);
        ledger.figure(redline_rpm - rpm, || {
            format!("{gear}>{} at 100 % gets to {} of {} rpm", gear + 1, whole(rpm), whole(redline_rpm))
        });
        if redline_rpm - rpm >= -SLACK {
            continue;
        }
        // Every cell above the limit, or the line would fall with more pedal.
        let limit_kmh = highest(kmh, |kmh| reached_rpm(paper, gear, kmh) <= redline_rpm);
        let speeds = paper.line(gear, gear + 1).map_or(&[][..], |l| &l.speeds);
        for (position, _) in speeds.iter().enumerate().filter(|(_, cell)| limit_kmh.is_none_or(|limit| cell.0 > limit))
        {
            ledger.find(
                Severity::Fails,
                Spot { line, position, kmh, pct: 100.0 },
                redline_rpm - rpm,
                || {
                    format!(
                        "{gear}>{} at 100 % and {kmh:.1} km/h: {:.2} s later the engine turns {} rpm, beyond the redline of {}",
                        gear + 1,
                        reaction_s(paper),
                        whole(rpm),
                        whole(redline_rpm)
                    )
                },
                || limit_kmh.and_then(|limit| paper.lower(line, position, limit)).into_iter().collect(),
            );
        }
    }
}

/// The highest speed at or below one at which something holds, in steps of 0.05 km/h.
pub fn highest(kmh: f64, holds: impl Fn(f64) -> bool) -> Option<f64> {
    let steps = (kmh * 20.0).floor();
    let mut step = steps;
    while step >= 1.0 {
        if holds(step / 20.0) {
            return Some(step / 20.0);
        }
        step -= 1.0;
    }
    None
}
