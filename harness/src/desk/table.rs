//! The fifteen checks in a table, and the numbers they judge by.

use super::force;
use super::gaps;
use super::ledger::Ledger;
use super::paper::Paper;
use super::path;
use super::revs;
use super::shape;
use super::units;

/// One check.
#[derive(Debug)]
pub struct Check {
    /// Its number.
    pub number: u8,
    /// Its name.
    pub name: &'static str,
    /// What it asks.
    pub asks: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// Looks at a map.
    pub(super) look: fn(&Paper<'_>, &mut Ledger<'_, '_>),
}

/// An up line and the down line that takes it back lie at least this far apart, km/h: one step of the port's speed, the
/// droop during the shift and noise (our closed-loop experiments: 3 km/h stopped dither of ±1 km/h).
pub const GAP_FAILS_KMH: f64 = 3.0;
/// Below this a gap is worth a look, km/h (our closed-loop experiments).
pub const GAP_WARNS_KMH: f64 = 5.0;
/// Share of full-load force kept in reserve after an upshift: 10 %, UN GTR 15 annex 2 §3.4, by analogy.
pub const SAFETY_MARGIN: f64 = 0.10;
/// Acceleration still possible after an upshift, m/s² (invented).
pub const RESERVE_MPS2: f64 = 0.15;
/// Grade on which a map meant for a trailer should go on pulling, % (invented).
pub const TOWING_GRADE_PCT: f64 = 3.0;
/// A line is reached where at least this is left of acceleration, m/s² (invented).
pub const REACHES_MPS2: f64 = 0.05;
/// Most lines crossed at once without a warning (invented).
pub const MOST_CROSSED: u32 = 2;
/// How far engine speed per road speed may be off with other tyres or another axle, share (invented).
pub const RATIO_OFF: f64 = 0.08;

const OURS: &str = "our own choice";

const fn check(
    number: u8,
    name: &'static str,
    asks: &'static str,
    source: &'static str,
    look: fn(&Paper<'_>, &mut Ledger<'_, '_>),
) -> Check {
    Check { number, name, asks, source, look }
}

/// All checks.
pub static CHECKS: [Check; 15] = [
    check(
        1,
        "shape",
        "The pedal axis rises from 0 to 100 %, speeds lie within 0 to 255 km/h, each pair of gears has both lines, none commands first.",
        "SAE J1979 (what the port can show); common practice, no source",
        shape::shape,
    ),
    check(
        2,
        "lines in order",
        "No line falls with more pedal, and the line of a higher gear lies above that of a lower one.",
        "common practice, no source",
        shape::order,
    ),
    check(3, "landing speed", "Each upshift lands at the rpm floor or above.", "the maker's rpm floor", revs::landing),
    check(
        4,
        "same-pedal gap",
        "At the same pedal the shift back lies at least 3 km/h below the upshift; less than 5 km/h is worth a look.",
        "our closed-loop experiments",
        gaps::same_pedal,
    ),
    check(
        5,
        "equal-force gap",
        "At the pedal that holds the speed after an upshift, the shift back lies at least 3 km/h below; less than 5 km/h is worth a look.",
        "our closed-loop experiments: specs/equal-force-gap.md",
        gaps::equal_force,
    ),
    check(
        6,
        "force after the upshift",
        "With 10 % in hand the gear above carries the road load on the level and 0.15 m/s² more; with the trailer that the spec names, the same on 3 % grade is worth a look.",
        "UN GTR 15 annex 2 §3.4 (the 10 %), by analogy; the rest is our own choice",
        force::balance,
    ),
    check(
        7,
        "redline on downshift",
        "A downshift lands below the redline less its guard, and a kickdown is not taken back at once.",
        "the limits `redline-guard` and `kickdown-hold`",
        gaps::downshift,
    ),
    check(
        8,
        "full-pedal upshift",
        "With the pedal on the floor the upshift comes before the redline in spite of poll, answer, tick and recognition.",
        OURS,
        revs::full_pedal,
    ),
    check(
        9,
        "chain of upshifts",
        "On the level the next upshift falls due no sooner than the box may command it.",
        OURS,
        force::chain,
    ),
    check(
        10,
        "reach and cruise gear",
        "Each upshift can be reached on the level or by lifting off, and top gear is a cruise gear.",
        OURS,
        path::reach,
    ),
    check(
        11,
        "lines crossed at once",
        "A kickdown, a lift-off, an upshift at equal force, or one count of speed with the pedal held still crosses no more than two lines at once.",
        OURS,
        path::crossings,
    ),
    check(
        12,
        "coasting grip",
        "A downshift with the pedal released asks no more friction of the driven axle than `grip-needed`.",
        "the limit `grip-needed`, between packed snow (0.20 to 0.25) and ice (0.10 to 0.15)",
        force::coasting_grip,
    ),
    check(13, "ratio steps", "How wide the steps between the gears are.", "the vehicle's ratios", units::ratio_steps),
    check(
        14,
        "units and rounding",
        "Lines in whole km/h, rounded outward as the port shows speed, still lie apart.",
        "SAE J1979 (whole km/h); the mile of 1.609344 km",
        units::rounding,
    ),
    check(
        15,
        "pedal codes",
        "Where the map's pedal positions lie among the codes between the pedal's stops; a closed pedal and kickdown are reached with codes to spare.",
        "SAE J1979 (100/255 % a code)",
        units::pedal_codes,
    ),
];
