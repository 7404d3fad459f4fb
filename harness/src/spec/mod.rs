//! The spec: what a build is tested against. This folder holds its types and the reader that makes them.

mod assume;
mod error;
pub mod facts;
pub mod known;
pub mod limit_table;
pub mod limits;
pub mod link;
pub mod map;
mod map_csv;
pub mod pedal;
mod read;
mod read_box;
mod read_map;
mod read_vehicle;
mod reader;
mod schema;
pub mod terms;
#[cfg(test)]
mod tests;
mod values;
pub mod vehicle;
pub mod written;

pub use error::{SpecError, SpecErrors, nearest};
pub use read::{FORMAT, LARGEST_FILE, load, load_with_map, load_written, parse, parse_map_csv, parse_written};
pub use schema::schema_json;

use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// A whole spec, every number resolved; its TOML form stands alone and reads back the same.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Spec {
    /// Format of the file: 1.
    pub format: u32,
    /// Name of the spec.
    pub name: String,
    /// The box under test.
    #[serde(rename = "box")]
    pub facts: facts::BoxFacts,
    /// Limits of the rules.
    pub limits: limits::Limits,
    /// The diagnostic link.
    pub link: link::Link,
    /// Named runs.
    pub runs: BTreeMap<String, link::Run>,
    /// Which rules are judged.
    #[serde(skip_serializing_if = "terms::RuleChoice::is_empty")]
    pub rules: terms::RuleChoice,
    /// Failures that pass for a time.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub waivers: Vec<terms::Waiver>,
    /// The shift map.
    pub map: map::ShiftMap,
    /// The vehicle.
    pub vehicle: vehicle::Vehicle,
}

impl Spec {
    /// Engine speed with nothing slipping, r/min per km/h, in a forward gear (1 = first) of the high range.
    #[must_use]
    pub fn rpm_per_kmh(&self, gear: u8) -> f64 {
        let gearbox = &self.vehicle.gearbox;
        let ratio = gearbox.ratios.get(usize::from(gear.max(1)) - 1).map_or(1.0, known::Known::get);
        crate::units::rpm_per_kmh(ratio * gearbox.final_drive.get(), self.vehicle.wheel_radius.get())
    }

    /// Number of forward gears.
    #[must_use]
    pub fn gears(&self) -> u8 {
        u8::try_from(self.vehicle.gearbox.ratios.len()).unwrap_or(u8::MAX)
    }
}
