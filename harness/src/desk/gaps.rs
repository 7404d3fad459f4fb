//! Checks 4, 5 and 7: how far apart the lines of a pair of gears lie.

use super::equal_force::EqualForce;
use super::equal_force::points;
use super::ledger::Cure;
use super::ledger::Ledger;
use super::ledger::SLACK;
use super::ledger::Severity;
use super::ledger::Spot;
use super::ledger::whole;
use super::paper::CODES;
use super::paper::Paper;
use super::paper::code_at_or_above;
use super::paper::pedal_pct;
use super::table::GAP_FAILS_KMH;
use super::table::GAP_WARNS_KMH;

/// How grave a gap is, if it is.
fn grave(gap_kmh: f64) -> Option<Severity> {
    match gap_kmh {
        gap if gap < GAP_FAILS_KMH - SLACK => Some(Severity::Fails),
        gap if gap < GAP_WARNS_KMH - SLACK => Some(Severity::Warns),
        _ => None,
    }
}

/// The gap that cures a finding of this gravity.
fn wanted_kmh(severity: Severity) -> f64 {
    if severity == Severity::Fails { GAP_FAILS_KMH } else { GAP_WARNS_KMH }
}

/// Check 4.
pub fn same_pedal(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    for gear in paper.lower_gears() {
        let line = (gear + 1, gear);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let (Some(up), Some(down)) = (paper.up(gear, code), paper.down(gear + 1, code)) else { break };
            let gap = up - down;
            ledger.figure(gap, || format!("smallest {gap:.1} km/h, {gear}>{} at {pct:.0} %", gear + 1));
            let Some(severity) = grave(gap) else { continue };
            let wanted = wanted_kmh(severity);
            for (position, cell) in paper.cells(line, pct) {
                let Some(above) = paper.at(gear, gear + 1, position).filter(|up| up - cell < wanted - SLACK) else {
                    continue;
                };
                ledger.find(
                    severity,
                    Spot { line, position, kmh: down, pct },
                    gap,
                    || {
                        format!(
                            "at {pct:.1} % {gear}>{0} lies at {up:.1} km/h and {0}>{gear} at {down:.1}: {gap:.1} km/h apart",
                            gear + 1
                        )
                    },
                    || paper.lower(line, position, above - wanted).into_iter().collect(),
                );
            }
        }
    }
}

/// Check 5.
pub fn equal_force(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    for gear in paper.lower_gears() {
        for point in points(paper, gear) {
            let gap = point.gap_kmh();
            ledger.figure(gap, || format!("smallest {gap:.1} km/h, {gear}>{} at {:.0} %", gear + 1, point.pedal_pct));
            let Some(severity) = grave(gap) else { continue };
            ledger.find(
                severity,
                Spot {
                    line: (gear + 1, gear),
                    position: paper.nearest(point.pedal_after_pct),
                    kmh: point.up_kmh,
                    pct: point.pedal_pct,
                },
                gap,
                || says(&point),
                || equal_force_cures(paper, &point, wanted_kmh(severity) - gap),
            );
        }
    }
}

fn says(point: &EqualForce) -> String {
    let (gear, next) = (point.gear, point.gear + 1);
    let after = if point.holds {
        format!("the same force in {next} takes {:.1} %", point.pedal_after_pct)
    } else {
        format!("{next} cannot hold the pace with a full pedal")
    };
    format!(
        "{gear}>{next} at {:.1} % and {:.1} km/h: {after}, where {next}>{gear} lies at {:.1} km/h: {:.1} km/h apart",
        point.pedal_pct,
        point.up_kmh,
        point.down_kmh,
        point.gap_kmh()
    )
}

/// The down line goes down by so much at the pedal after the upshift: by the least change of the two cells around it, and
/// of the nearer one alone where its rounding is enough.
fn equal_force_cures(paper: &Paper<'_>, point: &EqualForce, by_kmh: f64) -> Vec<Cure> {
    let line = (point.gear + 1, point.gear);
    let mut around = paper.around(point.pedal_after_pct);
    around.sort_by(|a, b| b.1.total_cmp(&a.1));
    let [(near, share), (far, other)] = around;
    let lower = |position: usize, by: f64| {
        let kmh = paper.at(line.0, line.1, position)?;
        paper.lower(line, position, kmh - by).map(|cure| (kmh - cure.speed.kmh(), cure))
    };
    let Some((lowered, cure)) = lower(near, by_kmh * share / (share * share + other * other)) else {
        return Vec::new();
    };
    let left = by_kmh - lowered * share;
    let second = if left > SLACK { lower(far, left / other) } else { None };
    [Some(cure), second.map(|(_, cure)| cure)].into_iter().flatten().collect()
}

/// Check 7.
pub fn downshift(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let most_rpm = paper.spec.vehicle.engine.redline.get() - paper.spec.limits.redline_guard.0;
    for gear in paper.lower_gears() {
        let line = (gear + 1, gear);
        let most_kmh = most_rpm / paper.spec.rpm_per_kmh(gear);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let Some(kmh) = paper.down(gear + 1, code) else { break };
            let rpm = paper.steady.rpm(gear, kmh);
            ledger.figure(most_rpm - rpm, || {
                format!("lands highest at {} of {} rpm, {}>{gear} at {pct:.0} %", whole(rpm), whole(most_rpm), gear + 1)
            });
            if most_rpm - rpm >= -SLACK {
                continue;
            }
            for (position, _) in paper.cells(line, pct).into_iter().filter(|&(_, cell)| cell > most_kmh) {
                ledger.find(
                    Severity::Fails,
                    Spot { line, position, kmh, pct },
                    most_rpm - rpm,
                    || {
                        format!(
                            "{}>{gear} at {pct:.1} % and {kmh:.1} km/h lands at {} rpm, {} rpm above what the redline guard leaves",
                            gear + 1,
                            whole(rpm),
                            whole(rpm - most_rpm)
                        )
                    },
                    || paper.lower(line, position, most_kmh).into_iter().collect(),
                );
            }
        }
        kickdown_flip(paper, ledger, gear);
    }
}

/// A kickdown into a gear isn't followed at once by its upshift.
fn kickdown_flip(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>, gear: u8) {
    let line = (gear + 1, gear);
    let limits = &paper.spec.limits;
    let hold_s = limits.kickdown_hold.get() / 1000.0;
    for code in code_at_or_above(limits.kickdown_pedal.0)..CODES {
        let pct = pedal_pct(code);
        let (Some(up), Some(down)) = (paper.up(gear, code), paper.down(gear + 1, code)) else { return };
        let gains = paper.steady.acceleration_mps2(gear, down, pct / 100.0) * 3.6 * hold_s;
        let wanted = gains.max(GAP_FAILS_KMH);
        let margin = up - down - wanted;
        if margin >= -SLACK {
            continue;
        }
        for (position, cell) in paper.cells(line, pct) {
            let Some(above) = paper.at(gear, gear + 1, position).filter(|up| up - cell < wanted) else { continue };
            ledger.find(
                Severity::Fails,
                Spot { line, position, kmh: down, pct },
                margin,
                || {
                    format!(
                        "a kickdown {}>{gear} at {pct:.1} % and {down:.1} km/h is taken back at {up:.1} km/h: {:.1} km/h apart, {gains:.1} km/h gained within {hold_s:.1} s",
                        gear + 1,
                        up - down
                    )
                },
                || paper.lower(line, position, above - wanted).into_iter().collect(),
            );
        }
    }
}
