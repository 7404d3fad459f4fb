//! A vehicle number with where it comes from and how far it may be off; both travel to the outcome.

use crate::units::{Percent, Quantity};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;
use std::borrow::Cow;

/// Where a number comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// Measured on the vehicle.
    Measured,
    /// Stated by the spec's author or a data sheet.
    Stated,
    /// Found by a probing drive.
    Probed,
    /// Filled in by the harness for the vehicle's class.
    Assumed,
}

/// A number, its origin, and the spread within which the truth is expected.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Known<T> {
    /// The number used.
    pub value: T,
    /// Where it comes from.
    pub origin: Origin,
    /// The truth lies within the value ± this share of it.
    pub spread: Percent,
}

impl<T: Quantity> Known<T> {
    /// A number stated by the author, taken as exact.
    #[must_use]
    pub fn stated(value: f64) -> Self {
        Self { value: T::from_canonical(value), origin: Origin::Stated, spread: Percent(0.0) }
    }

    /// A number the harness fills in, with its spread in percent.
    #[must_use]
    pub fn assumed(value: f64, spread_pct: f64) -> Self {
        Self { value: T::from_canonical(value), origin: Origin::Assumed, spread: Percent(spread_pct) }
    }

    /// The number in its canonical unit.
    #[must_use]
    pub fn get(&self) -> f64 {
        self.value.canonical()
    }
}

impl<T: JsonSchema> JsonSchema for Known<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("Known{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let value = generator.subschema_for::<T>();
        let origin = generator.subschema_for::<Origin>();
        let spread = generator.subschema_for::<Percent>();
        json_schema!({
            "description": "The number alone (then it is stated and exact), or with its origin and spread",
            "anyOf": [
                value,
                {
                    "type": "object",
                    "properties": { "value": value, "origin": origin, "spread": spread },
                    "required": ["value"],
                    "additionalProperties": false
                }
            ]
        })
    }
}
