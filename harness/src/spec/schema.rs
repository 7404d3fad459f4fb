//! The JSON Schema of spec files, for editors: made from the types, then told what the reader forgives.
//!
//! The types describe the resolved spec. A file may name its vehicle and map, leave out what has a default, and give a
//! tyre and rated numbers instead of a radius and a curve.

use super::Spec;
use super::assume::{RatedPower, RatedTorque};
use schemars::SchemaGenerator;
use serde_json::{Map, Value, json};

/// The keys that a file must have, by type; all other keys may be left out.
const MUST: [(&str, &[&str]); 15] = [
    ("BoxFacts", &["name", "take-over", "driver-tap", "lost-data", "tap-wiring", "lowest-gear"]),
    ("Signals", &[]),
    ("Limits", &["engagement-speed-ceiling", "rpm-floor"]),
    ("Link", &[]),
    ("Run", &[]),
    ("ShiftMap", &["pedal", "lines"]),
    ("Vehicle", &["name", "class", "mass", "engine", "gearbox"]),
    ("Engine", &["idle", "redline"]),
    ("Converter", &[]),
    ("Gearbox", &["ratios", "final-drive", "gate"]),
    ("Shift", &[]),
    ("Gate", &["means", "entry"]),
    ("Protection", &[]),
    ("RatedPower", &["power", "speed"]),
    ("RatedTorque", &["torque", "speed"]),
];

/// The keys that a spec file must have.
const SPEC_MUST: [&str; 6] = ["format", "name", "box", "limits", "vehicle", "map"];

/// The schema of spec files, as JSON text. Its `$defs` hold `Vehicle` and `ShiftMap` for files of their own.
#[must_use]
pub fn schema_json() -> String {
    let mut generator = SchemaGenerator::default();
    let power = generator.subschema_for::<RatedPower>();
    let torque = generator.subschema_for::<RatedTorque>();
    let mut root = generator.into_root_schema_for::<Spec>().to_value();
    root["title"] = json!("Sprag spec");
    root["description"] = json!("A spec file: what a build is tested against");
    root["required"] = json!(SPEC_MUST);
    root["additionalProperties"] = json!(false);
    root["properties"]["format"] = json!({ "description": "Format of the file", "const": 1, "type": "integer" });
    for key in ["vehicle", "map"] {
        let what = format!("The {key}: a file beside this one, or the table itself");
        let inline = root["properties"][key]["$ref"].clone();
        root["properties"][key] = json!({ "description": what, "anyOf": [{ "type": "string" }, { "$ref": inline }] });
    }
    let Some(defs) = root.get_mut("$defs").and_then(Value::as_object_mut) else { return String::new() };
    for (name, must) in MUST {
        if let Some(def) = defs.get_mut(name) {
            def["required"] = json!(must);
            def["additionalProperties"] = json!(false);
        }
    }
    for name in ["Line", "TorquePoint", "CapacityPoint"] {
        if let Some(def) = defs.get_mut(name) {
            def["additionalProperties"] = json!(false);
        }
    }
    defs.insert(
        "Plain".to_owned(),
        json!({ "description": "A bare number, for example 3.7", "type": ["number", "string"] }),
    );
    file_only(defs, power.to_value(), torque.to_value());
    let mut text = serde_json::to_string_pretty(&root).unwrap_or_default();
    text.push('\n');
    text
}

/// Keys that stand in files only.
fn file_only(defs: &mut Map<String, Value>, power: Value, torque: Value) {
    let format = json!({ "description": "Format of the file, which a file of its own must have", "const": 1, "type": "integer" });
    for name in ["Vehicle", "ShiftMap"] {
        if let Some(def) = defs.get_mut(name) {
            def["properties"]["format"] = format.clone();
        }
    }
    if let Some(vehicle) = defs.get_mut("Vehicle") {
        vehicle["properties"]["tyre"] =
            json!({ "description": "Tyre size instead of the radius, for example \"235/65 R16\"", "type": "string" });
        vehicle["oneOf"] = json!([{ "required": ["wheel-radius"] }, { "required": ["tyre"] }]);
    }
    if let Some(engine) = defs.get_mut("Engine") {
        engine["properties"]["rated-power"] = power;
        engine["properties"]["rated-torque"] = torque;
        engine["oneOf"] = json!([{ "required": ["full-load"] }, { "required": ["rated-power", "rated-torque"] }]);
    }
}
