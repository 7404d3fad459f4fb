//! How far an outcome hangs on vehicle numbers that may be off: the vehicle at the ends of each number's spread, while
//! the box goes on believing the number stated.

use super::rig::Rig;
use crate::controller::{NotStarted, Source};
use crate::drive::Drive;
use crate::outcome::Basis;
use crate::spec::Spec;
use crate::spec::known::Known;
use crate::units::Quantity;
use crate::vehicle::STEP_MS;

/// A number that may be off, and the spec with it off.
#[derive(Debug, Clone)]
pub struct Corner {
    /// The number, as a person would name it, and how far it is off.
    pub number: String,
    /// The spec.
    pub spec: Spec,
}

/// Both ends of the spread of each number that has one.
#[must_use]
pub fn corners(spec: &Spec) -> Vec<Corner> {
    let mut found = Vec::new();
    for sign in [-1.0, 1.0] {
        let mut add = |name: &str, spread_pct: f64, change: &dyn Fn(&mut Spec, f64)| {
            if spread_pct > 0.0 {
                let mut off = spec.clone();
                change(&mut off, 1.0 + sign * spread_pct / 100.0);
                let number = format!("{name} ({}{spread_pct} %)", if sign < 0.0 { "-" } else { "+" });
                found.push(Corner { number, spec: off });
            }
        };
        let v = &spec.vehicle;
        add("wheel radius", v.wheel_radius.spread.0, &|s, by| scale(&mut s.vehicle.wheel_radius, by));
        add("mass", v.mass.spread.0, &|s, by| scale(&mut s.vehicle.mass, by));
        add("redline", v.engine.redline.spread.0, &|s, by| scale(&mut s.vehicle.engine.redline, by));
        add("final drive", v.gearbox.final_drive.spread.0, &|s, by| scale(&mut s.vehicle.gearbox.final_drive, by));
        add("full-load torque", v.engine.full_load_known.spread.0, &|s, by| {
            for point in &mut s.vehicle.engine.full_load {
                point.torque.0 *= by;
            }
        });
        for (at, ratio) in v.gearbox.ratios.iter().enumerate() {
            let name = format!("ratio of gear {}", at + 1);
            add(&name, ratio.spread.0, &|s, by| {
                if let Some(ratio) = s.vehicle.gearbox.ratios.get_mut(at) {
                    scale(ratio, by);
                }
            });
        }
    }
    found
}

fn scale<T: Quantity>(number: &mut Known<T>, by: f64) {
    number.value = T::from_canonical(number.get() * by);
}

/// The first number whose spread changes whether a drive breaks a rule.
///
/// # Errors
/// The controller wasn't started.
pub fn decides(
    spec: &Spec,
    corners: &[Corner],
    source: &dyn Source,
    drive: &Drive,
    rule: usize,
    basis: Basis,
    broken: bool,
) -> Result<Option<String>, NotStarted> {
    for corner in corners {
        let mut rig = Rig::on(&corner.spec, spec, source, STEP_MS)?;
        let mark = rig.drive(drive).get(rule).and_then(|m| m.mark(basis));
        if mark.is_some_and(|m| m.broken() && !m.unknowable) != broken {
            return Ok(Some(corner.number.clone()));
        }
    }
    Ok(None)
}
