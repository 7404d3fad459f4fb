//! The diagnostic link as a spec describes it, and the runs.

use super::pedal::{PedalIdentifier, PedalStops};
use crate::units::{Kmh, Ms};
use schemars::JsonSchema;
use serde::Serialize;

/// How a road speed becomes a whole number of km/h.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Rounding {
    /// Cut down.
    Floor,
    /// To the nearest.
    Nearest,
}

/// Where the speed on the port is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SpeedSource {
    /// Mean of all wheels: follows wheel lock, half follows wheel spin of one axle.
    AllWheels,
    /// The driven axle.
    DrivenAxle,
    /// The gearbox output shaft: wrong by the ratio of the low range.
    OutputShaft,
}

/// The polled request-and-answer link.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Link {
    /// All signals are polled once in this time, one after the other.
    pub period: Ms,
    /// Shortest time from request to answer.
    pub answer_least: Ms,
    /// Longest time from request to answer (server limit P2 of ISO 15765-3 table 2: 50 ms).
    pub answer_most: Ms,
    /// Rounding of the speed.
    pub speed_rounding: Rounding,
    /// Source of the speed.
    pub speed_source: SpeedSource,
    /// Which pedal position the box reads.
    pub pedal_identifier: PedalIdentifier,
    /// What it reads at the ends of the pedal's travel.
    pub pedal_stops: PedalStops,
}

/// Event orders are no longer than this: with one event more they come to millions.
pub const MOST_ORDER_EVENTS: u8 = 4;

/// A named run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Run {
    /// Number of random drives.
    pub random_drives: u32,
    /// Number of search drives; no more than random ones where fewer of these are asked for.
    pub search_drives: u32,
    /// Most events of an event order; every order up to it is driven.
    pub order_events: u8,
    /// Seed of the random drives.
    pub seed: u64,
    /// Length of a random drive.
    pub drive_length: Ms,
    /// Rules whose situations this run must reach; all that apply, where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub must_reach: Option<Vec<String>>,
    /// Budget of one shrinking, in drives.
    pub shrink_drives: u32,
    /// Highest speed that random drives aim at.
    pub top_speed: Kmh,
}
