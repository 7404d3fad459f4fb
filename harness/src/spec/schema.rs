//! The JSON Schema of spec files, for editors: made from the types, then told what the reader forgives.
//!
//! The types describe the resolved spec. A file may name its vehicle and map, leave out what has a default, and give a
//! tyre and rated numbers instead of a radius and a curve.

use super::Spec;
use super::assume::{RatedPower, RatedTorque};
use schemars::SchemaGenerator;
use serde_json::{Map, Value, json};

/// The keys that a file must have, by type; all other keys may be left out.
const MUST: [(&str, &[&str]); 20] = [
    ("BoxFacts", &["name", "take-over", "driver-tap", "lost-data", "tap-wiring", "lowest-gear"]),
    ("Signals", &[]),
    ("Limits", &["engagement-speed-ceiling", "rpm-floor"]),
    ("Link", &[]),
    ("PedalStops", &[]),
    ("Run", &[]),
    ("ShiftMap", &["pedal", "lines"]),
    ("Vehicle", &["name", "class", "mass", "engine", "gearbox"]),
    ("Towing", &["mass", "drag-area"]),
    ("Engine", &["idle", "redline"]),
    ("Converter", &[]),
    ("Gearbox", &["ratios", "final-drive", "gate"]),
    ("Shift", &[]),
    ("Gate", &["means", "entry"]),
    ("Protection", &[]),
    ("RatedPower", &["power", "speed"]),
    ("RatedTorque", &["torque", "speed"]),
    ("RuleChoice", &[]),
    ("Off", &["rule", "reason"]),
    ("Waiver", &["rule", "cause", "reason", "role", "expires"]),
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
        }
    }
    defs.insert(
        "Plain".to_owned(),
        json!({ "description": "A bare number, for example 3.7", "type": ["number", "string"] }),
    );
    defs.values_mut().for_each(tidy);
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

/// Refuses unknown keys wherever keys are listed, and drops `null`, which TOML doesn't have.
fn tidy(schema: &mut Value) {
    match schema {
        Value::Array(all) => all.iter_mut().for_each(tidy),
        Value::Object(object) => {
            if object.contains_key("properties") {
                object.insert("additionalProperties".to_owned(), json!(false));
            }
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|t| t != "null");
                if let [one] = types.as_slice() {
                    let one = one.clone();
                    object.insert("type".to_owned(), one);
                }
            }
            if let Some(Value::Array(any)) = object.get_mut("anyOf") {
                any.retain(|s| s["type"] != "null");
                let reference = if let [one] = any.as_slice() { one.get("$ref").cloned() } else { None };
                if let Some(reference) = reference {
                    object.remove("anyOf");
                    object.insert("$ref".to_owned(), reference);
                }
            }
            object.values_mut().for_each(tidy);
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::read::parse_with;
    use crate::spec::reader::Log;
    use crate::spec::tests::{SHORT, shipped};
    use std::collections::BTreeMap;

    /// Path of each key, its kind, and whether it must be there.
    type Keys = BTreeMap<String, (String, bool)>;

    /// Every key that the reader asks for, over two specs that hold all tables and all lists between them.
    fn asked() -> Keys {
        let more = "lowest-gear = 2\nafter-edge = { within-ms = 1500 }\n\
                    answers = { requests = { width = \"120 ms\", gap = \"100 ms\" } }";
        let short = SHORT
            .replace("lowest-gear = 2", more)
            .replace("\"disengages\"", "{ pauses-ms = 3000 }")
            .replace("[vehicle]\n", "[vehicle]\ntowing = { mass = \"5 t\", drag-area = \"2 m2\" }\n")
            .replace("[map]", "held-tap = { repeats = 300 }\n[runs.commit]\nmust-reach = [\"hunting count\"]\n\
                      [rules]\noff = [{ rule = \"hunting count\", reason = \"r\" }]\n[[waivers]]\nrule = \"rpm floor after upshift\"\n\
                      cause = \"map\"\nreason = \"r\"\nrole = \"r\"\nexpires = \"2027-03-01\"\n[map]");
        let full = crate::spec::load(&shipped("van.toml")).unwrap().to_toml();
        let log = Log::default();
        for text in [short, full] {
            let spec = parse_with(&text, "s.toml", &mut |_| Err(String::new()), &log);
            assert!(spec.is_some(), "{:#?}\n{text}", log.errors.borrow());
        }
        log.asked.into_inner()
    }

    /// Every key that the schema lists.
    fn listed() -> Keys {
        let root: Value = serde_json::from_str(&schema_json()).unwrap();
        let mut keys = Keys::new();
        walk(&root, &root, "", true, &mut keys);
        keys.remove("");
        keys
    }

    fn properties(root: &Value, schema: &Value, path: &str, keys: &mut Keys) {
        for (key, inner) in schema["properties"].as_object().unwrap() {
            let must = schema["required"].as_array().is_some_and(|all| all.contains(&json!(key)));
            let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
            walk(root, inner, &path, must, keys);
        }
    }

    fn walk(root: &Value, schema: &Value, path: &str, must: bool, keys: &mut Keys) {
        let mut put = |kind: &str| keys.insert(path.to_owned(), (kind.to_owned(), must));
        if let Some(name) = schema["$ref"].as_str().map(|r| r.trim_start_matches("#/$defs/")) {
            let def = &root["$defs"][name];
            if name.starts_with("Known") || name == "Plain" || def.get("pattern").is_some() {
                put(name);
            } else {
                walk(root, def, path, must, keys);
            }
        } else if let Some([text, table]) = schema["anyOf"].as_array().map(Vec::as_slice) {
            assert_eq!(text["type"], "string");
            walk(root, table, path, must, keys);
            keys.insert(path.to_owned(), ("table or file".to_owned(), must));
        } else if schema.get("properties").is_some() {
            put("table");
            properties(root, schema, path, keys);
        } else if let Some(all) = schema["oneOf"].as_array() {
            let names: Vec<&str> = all.iter().filter_map(|one| one["const"].as_str()).collect();
            put(&format!("one of {}", names.join("|")));
            for one in all.iter().filter(|one| one.get("properties").is_some()) {
                properties(root, one, path, keys);
            }
        } else if schema["type"] == "array" {
            put("array");
            walk(root, &schema["items"], &format!("{path}[]"), false, keys);
        } else if schema["type"] == "object" {
            put("table");
            walk(root, &schema["additionalProperties"], &format!("{path}.*"), false, keys);
        } else {
            put(schema["type"].as_str().unwrap());
        }
    }

    #[test]
    fn reader_and_schema_know_the_same_keys_of_the_same_kinds() {
        let (asked, listed) = (asked(), listed());
        let only = |these: &Keys, those: &Keys| -> Vec<String> {
            these.iter().filter(|(path, kind)| those.get(*path) != Some(kind)).map(|key| format!("{key:?}")).collect()
        };
        let (reader, schema) = (only(&asked, &listed), only(&listed, &asked));
        assert!(reader.is_empty() && schema.is_empty(), "only the reader: {reader:#?}\nonly the schema: {schema:#?}");
        assert!(asked.len() > 100);
    }

    #[test]
    fn every_key_stands_in_the_readme() {
        let readme = std::fs::read_to_string(shipped("README.md")).unwrap();
        for path in listed().keys() {
            let key = path.rsplit('.').next().unwrap().trim_end_matches("[]");
            assert!(key == "*" || readme.contains(&format!("`{key}`")), "`{path}` isn't in specs/README.md");
        }
    }
}
