//! The equal-force gap: how far an upshift is from being taken back by a driver who goes on at the same speed.
//!
//! Who holds a speed moves along constant force at the wheels, not along constant pedal: after the upshift more pedal is
//! needed for the same force, and there the down line may lie close below, or even above. With F = F_g(v_up, p) the pedal
//! p* with F_{g+1}(v_up, p*) = F is found; the gap is v_up − v_dn(g+1, p*). Where not even the full pedal holds the
//! speed, the driver stands on it, and the gap is that at 100 %.

use super::paper::CODES;
use super::paper::Paper;
use super::paper::pedal_pct;
use crate::spec::Spec;

/// One point of an up line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EqualForce {
    /// The gear left.
    pub gear: u8,
    /// Pedal before the upshift, %.
    pub pedal_pct: f64,
    /// Speed of the upshift, km/h.
    pub up_kmh: f64,
    /// Force at the wheels before it, N.
    pub force_n: f64,
    /// Pedal that gives the same force after it, %; 100 where none does.
    pub pedal_after_pct: f64,
    /// Some pedal gives the same force after it.
    pub holds: bool,
    /// Speed at which the shift is taken back at that pedal, km/h.
    pub down_kmh: f64,
}

impl EqualForce {
    /// How far below the upshift it is taken back, km/h.
    #[must_use]
    pub fn gap_kmh(&self) -> f64 {
        self.up_kmh - self.down_kmh
    }
}

/// The equal-force gap of the upshift out of a gear, at each pedal code; empty where the map has no such pair of lines.
#[must_use]
pub fn equal_force(spec: &Spec, gear: u8) -> Vec<EqualForce> {
    points(&Paper::new(spec, None), gear)
}

pub(super) fn points(paper: &Paper<'_>, gear: u8) -> Vec<EqualForce> {
    (0..CODES).filter_map(|code| point(paper, gear, pedal_pct(code))).collect()
}

fn point(paper: &Paper<'_>, gear: u8, pedal_pct: f64) -> Option<EqualForce> {
    let up_kmh = paper.spec.map.up_kmh(gear, pedal_pct)?;
    let force_n = paper.steady.force_n(gear, up_kmh, pedal_pct / 100.0);
    let after = paper.steady.pedal(gear + 1, up_kmh, force_n);
    let pedal_after_pct = after.unwrap_or(1.0) * 100.0;
    let down_kmh = paper.spec.map.down_kmh(gear + 1, pedal_after_pct)?;
    Some(EqualForce { gear, pedal_pct, up_kmh, force_n, pedal_after_pct, holds: after.is_some(), down_kmh })
}
