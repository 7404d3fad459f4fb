//! Checks 6, 9 and 12: force after an upshift, time between upshifts, grip that a coasting downshift needs.

use super::ledger::Ledger;
use super::ledger::SLACK;
use super::ledger::Severity;
use super::ledger::Spot;
use super::ledger::whole;
use super::paper::CODES;
use super::paper::Paper;
use super::paper::pedal_pct;
use super::revs::highest;
use super::table::REACHES_MPS2;
use super::table::RESERVE_MPS2;
use super::table::SAFETY_MARGIN;
use super::table::TOWING_GRADE_PCT;
use crate::units::RAD_S_PER_RPM;
use crate::vehicle::Steady;

/// What the gear after an upshift has left at full pedal on a grade, N, for the vehicle alone or with its trailer.
fn left_with_n(paper: &Paper<'_>, moved: &Steady, grade_pct: f64, gear_after: u8, kmh: f64) -> f64 {
    paper.steady.force_n(gear_after, kmh, 1.0) * (1.0 - SAFETY_MARGIN)
        - moved.road_load_n(kmh, grade_pct)
        - moved.mass_kg() * RESERVE_MPS2
}

/// What the gear after an upshift has left at full pedal on the level, N.
pub fn left_n(paper: &Paper<'_>, gear_after: u8, kmh: f64) -> f64 {
    left_with_n(paper, &paper.steady, 0.0, gear_after, kmh)
}

/// Check 6: alone on the level; with the trailer on a grade too, as a warning.
pub fn balance(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    balance_with(paper, ledger, Severity::Fails, "on the level", &|gear_after, kmh| left_n(paper, gear_after, kmh));
    if let Some(towing) = &paper.towing {
        let what = format!("with the trailer on {TOWING_GRADE_PCT:.0} % grade");
        balance_with(paper, ledger, Severity::Warns, &what, &|gear_after, kmh| {
            left_with_n(paper, towing, TOWING_GRADE_PCT, gear_after, kmh)
        });
    }
}

fn balance_with(
    paper: &Paper<'_>,
    ledger: &mut Ledger<'_, '_>,
    severity: Severity,
    what: &str,
    left_n: &dyn Fn(u8, f64) -> f64,
) {
    for gear in paper.lower_gears() {
        let line = (gear, gear + 1);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let Some(kmh) = paper.up(gear, code) else { break };
            let left = left_n(gear + 1, kmh);
            ledger.figure(left, || {
                format!("least left over {} N, {gear}>{} at {pct:.0} % {what}", whole(left), gear + 1)
            });
            if left >= -SLACK {
                continue;
            }
            for (position, cell) in paper.cells(line, pct) {
                if left_n(gear + 1, cell) >= 0.0 {
                    continue;
                }
                ledger.find(
                    severity,
                    Spot { line, position, kmh, pct },
                    left,
                    || {
                        format!(
                            "{gear}>{0} at {pct:.1} % and {kmh:.1} km/h: with 10 % in hand {0} lacks {1} N to go on pulling {what}",
                            gear + 1,
                            whole(-left)
                        )
                    },
                    || {
                        let holds = |kmh: f64| left_n(gear + 1, kmh) >= 0.0;
                        let limit = highest(cell, holds);
                        limit.and_then(|limit| paper.lower(line, position, limit)).into_iter().collect()
                    },
                );
            }
        }
    }
}

/// Speed step of the summing-up of time, km/h.
const STEP_KMH: f64 = 0.25;

/// Time (s) on the level in a gear from one speed to another with a pedal; `None` where it doesn't get there.
pub fn time_s(paper: &Paper<'_>, gear: u8, from_kmh: f64, to_kmh: f64, pct: f64) -> Option<f64> {
    let mut time = 0.0;
    let mut kmh = from_kmh;
    while kmh < to_kmh {
        let step = STEP_KMH.min(to_kmh - kmh);
        let acceleration = paper.steady.acceleration_mps2(gear, kmh + 0.5 * step, pct / 100.0);
        if acceleration < REACHES_MPS2 {
            return None;
        }
        time += step / 3.6 / acceleration;
        kmh += step;
    }
    Some(time)
}

/// Check 9.
pub fn chain(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let least_s = paper.spec.limits.shift_blind.get() / 1000.0;
    for gear in paper.lower_gears().skip(1) {
        let line = (gear, gear + 1);
        for code in 0..CODES {
            let pct = pedal_pct(code);
            let (Some(from), Some(to)) = (paper.up(gear - 1, code), paper.up(gear, code)) else { break };
            let Some(time) = time_s(paper, gear, from, to, pct) else { continue };
            ledger.figure(time, || {
                format!("shortest {time:.1} s, from {}>{gear} to {gear}>{} at {pct:.0} %", gear - 1, gear + 1)
            });
            if time >= least_s - SLACK {
                continue;
            }
            let position = paper.nearest(pct);
            ledger.find(
                Severity::Warns,
                Spot { line, position, kmh: to, pct },
                time,
                || {
                    format!(
                        "at {pct:.1} % {gear}>{} at {to:.1} km/h falls due {time:.1} s after {}>{gear}; the box may command each {least_s:.1} s",
                        gear + 1,
                        gear - 1
                    )
                },
                || {
                    let gains = paper.steady.acceleration_mps2(gear, to, pct / 100.0) * 3.6 * (least_s - time);
                    paper.at(line.0, line.1, position).and_then(|cell| paper.raise(line, position, cell + gains)).into_iter().collect()
                },
            );
        }
    }
}

/// Friction that a downshift with the pedal released asks of the driven axle: drag torque through the lower gear, and the
/// engine's inertia brought up to the new speed while the ratio changes.
pub fn coasting_friction(paper: &Paper<'_>, gear: u8, kmh: f64, share: f64) -> f64 {
    let vehicle = &paper.spec.vehicle;
    let rpm = paper.steady.rpm(gear - 1, kmh);
    let per_metre = vehicle.gearbox.final_drive.get() / vehicle.wheel_radius.get()
        * vehicle.gearbox.ratios.get(usize::from(gear).saturating_sub(2)).map_or(1.0, |r| r.get());
    let drag_n = paper.steady.drag_nm(rpm) * per_metre / (vehicle.gearbox.efficiency.get() / 100.0);
    let change = (rpm - paper.steady.rpm(gear, kmh)) * RAD_S_PER_RPM;
    let time_s = vehicle.gearbox.shift.ratio_change.get() / 1000.0;
    (drag_n + vehicle.engine.inertia.get() * change / time_s * per_metre) / (paper.steady.weight_n() * share)
}

/// Check 12.
pub fn coasting_grip(paper: &Paper<'_>, ledger: &mut Ledger<'_, '_>) {
    let grip = paper.spec.limits.grip_needed.0 / 100.0;
    let known = &paper.spec.vehicle.driven_share;
    let share = known.get() / 100.0;
    let least_share = share * (1.0 - known.spread.0 / 100.0);
    for gear in paper.lower_gears().map(|g| g + 1) {
        let line = (gear, gear - 1);
        let Some(kmh) = paper.down(gear, 0) else { continue };
        let friction = coasting_friction(paper, gear, kmh, share);
        ledger.figure(-friction, || {
            let worst = coasting_friction(paper, gear, kmh, least_share);
            let lighter = if least_share < share {
                format!(" ({worst:.2} with the least load on the driven axle)")
            } else {
                String::new()
            };
            format!("most {friction:.2}, {gear}>{} at {kmh:.0} km/h{lighter}", gear - 1)
        });
        if friction <= grip {
            continue;
        }
        ledger.find(
            Severity::Warns,
            Spot { line, position: 0, kmh, pct: 0.0 },
            grip - friction,
            || {
                format!(
                    "{gear}>{} with the pedal released at {kmh:.1} km/h asks friction {friction:.2} of the driven axle; ice gives 0.10 to 0.15",
                    gear - 1
                )
            },
            || {
                let holds = |kmh: f64| coasting_friction(paper, gear, kmh, share) <= grip;
                highest(kmh, holds).and_then(|limit| paper.lower(line, 0, limit)).into_iter().collect()
            },
        );
    }
}
