//! Limits: the numbers the rules judge by. Two have no default: the maker states them.

use crate::units::{Kmh, KmhPerS, Ms, Percent, Rpm};
use schemars::JsonSchema;
use serde::Serialize;

/// All limits of a spec. The source of each default stands in its sentence.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Limits {
    /// The box may engage at this speed read or below. No default.
    pub engagement_speed_ceiling: Kmh,
    /// An upshift must land at this engine speed or above. No default.
    pub rpm_floor: Rpm,
    /// A downshift must land this far below the redline. Default 300 rpm: invented.
    pub redline_guard: Rpm,
    /// All conditions must hold this long before engaging. Default 200 ms: invented.
    pub conditions_held: Ms,
    /// With all conditions held, the box engages within this time. Default 1 s: invented.
    pub engages_within: Ms,
    /// A lever excursion shorter than this may be taken for bounce. Default 30 ms: common practice, no source.
    pub lever_bounce: Ms,
    /// After the driver's tap contacts are open within this time. Default 100 ms: invented.
    pub tap_release: Ms,
    /// After leaving the gate contacts are open within this time. Default 100 ms: invented.
    pub lever_release: Ms,
    /// After low range contacts are open within this time. Default 200 ms: invented.
    pub range_release: Ms,
    /// Data older than this are lost. Default 1 s: invented.
    pub data_lost: Ms,
    /// After losing data contacts are open within this time. Default 100 ms: invented.
    pub data_release: Ms,
    /// Each command rests on data no older than this. Default 500 ms: the usual age of 200 ms (a period of 100 ms and
    /// two answers of at most 50 ms, the server limit P2 of ISO 15765-3 table 2) and three missed updates.
    pub data_fresh: Ms,
    /// A command waits this long after a shift has ended. Default 100 ms: invented.
    pub shift_settle: Ms,
    /// Without a gear signal, a command waits this long after the command before. Default 1 s: invented.
    pub shift_blind: Ms,
    /// Opposite commands stay this far apart. Default 2 s: UN GTR 15 annex 2 §4(a), by analogy.
    pub opposite_dwell: Ms,
    /// A pedal change of this much excuses an earlier opposite command. Default 25 %: invented.
    pub opposite_pedal: Percent,
    /// A reversal is an opposite shift of the same pair within this time. Default 10 s: our closed-loop experiments.
    pub hunting_window: Ms,
    /// At most this many reversals in 60 s of steady driving. Default 1: invented.
    pub hunting_reversals: u8,
    /// Below this speed read nothing is commanded but steps towards the lowest gear. Default 3 km/h: invented.
    pub standstill: Kmh,
    /// Speed read that falls faster than this is implausible. Default 40 km/h/s (1.13 g): above dry peak friction.
    pub fall_limit: KmhPerS,
    /// Speed read that rises faster than this is implausible. Default 25 km/h/s: invented.
    pub rise_limit: KmhPerS,
    /// Longest contact pulse. Default 250 ms: a held tap can mean 'lowest gear' (owner manuals).
    pub longest_pulse: Ms,
    /// Shortest contact pulse. Default 60 ms: common practice, no source.
    pub shortest_pulse: Ms,
}

impl Limits {
    /// All defaults, with the two limits that have none.
    #[must_use]
    pub fn stated(engagement_speed_ceiling: Kmh, rpm_floor: Rpm) -> Self {
        Self {
            engagement_speed_ceiling,
            rpm_floor,
            redline_guard: Rpm(300.0),
            conditions_held: Ms(200.0),
            engages_within: Ms(1000.0),
            lever_bounce: Ms(30.0),
            tap_release: Ms(100.0),
            lever_release: Ms(100.0),
            range_release: Ms(200.0),
            data_lost: Ms(1000.0),
            data_release: Ms(100.0),
            data_fresh: Ms(500.0),
            shift_settle: Ms(100.0),
            shift_blind: Ms(1000.0),
            opposite_dwell: Ms(2000.0),
            opposite_pedal: Percent(25.0),
            hunting_window: Ms(10_000.0),
            hunting_reversals: 1,
            standstill: Kmh(3.0),
            fall_limit: KmhPerS(40.0),
            rise_limit: KmhPerS(25.0),
            longest_pulse: Ms(250.0),
            shortest_pulse: Ms(60.0),
        }
    }
}
