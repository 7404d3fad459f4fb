//! The shipped spec files against the schema, as an editor checks them.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn specs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../specs")
}

fn schema() -> Value {
    serde_json::from_str(&sprag::spec::schema_json()).unwrap()
}

/// The schema of one kind of file: the whole, or one of its definitions.
fn validator(definition: Option<&str>) -> jsonschema::Validator {
    let mut schema = schema();
    if let Some(name) = definition {
        schema = json!({
            "$schema": schema["$schema"],
            "$ref": format!("#/$defs/{name}"),
            "required": ["format"],
            "$defs": schema["$defs"],
        });
    }
    jsonschema::validator_for(&schema).unwrap()
}

fn toml_files(folder: &str) -> Vec<(PathBuf, Value)> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(specs().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ext| ext == "toml"))
        .collect();
    files.sort();
    let read = |path: PathBuf| {
        let value: Value = toml::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        (path, value)
    };
    files.into_iter().map(read).collect()
}

fn assert_valid(validator: &jsonschema::Validator, what: &Path, value: &Value) {
    let errors: Vec<String> = validator.iter_errors(value).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(errors.is_empty(), "{}: {errors:#?}", what.display());
}

#[test]
fn the_committed_schema_is_fresh() {
    let committed = std::fs::read_to_string(specs().join("spec.schema.json")).unwrap_or_default();
    let fresh = sprag::spec::schema_json();
    if committed != fresh {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("spec.schema.json");
        std::fs::write(&path, fresh).unwrap();
        panic!("specs/spec.schema.json is stale: copy {} over it", path.display());
    }
}

#[test]
fn every_shipped_file_fits_the_schema() {
    let specs = toml_files("");
    assert!(specs.len() >= 3);
    for (path, value) in specs {
        assert_valid(&validator(None), &path, &value);
    }
    for (path, value) in toml_files("vehicles") {
        assert_valid(&validator(Some("Vehicle")), &path, &value);
    }
    for (path, value) in toml_files("maps") {
        assert_valid(&validator(Some("ShiftMap")), &path, &value);
    }
}

#[test]
fn every_resolved_spec_fits_the_schema() {
    for (path, _) in toml_files("") {
        let spec = sprag::spec::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let value: Value = toml::from_str(&spec.to_toml()).unwrap();
        assert_valid(&validator(None), &path, &value);
    }
}

#[test]
fn the_schema_refuses_what_the_reader_refuses() {
    let (_, right) = toml_files("").into_iter().find(|(path, _)| path.ends_with("van.toml")).unwrap();
    let validator = validator(None);
    assert!(validator.is_valid(&right));
    let wrong: [(&str, Value); 7] = [
        ("/format", json!(2)),
        ("/box/lowest-gear", json!("two")),
        ("/box/take-over", json!("leaver")),
        ("/box/after-edge", json!({ "within": 3 })),
        ("/limits/rpm-floor", json!(1500)),
        ("/limits/rpm-floor", json!("1500 km/h")),
        ("/vehicle", json!(3)),
    ];
    for (place, value) in wrong {
        let mut changed = right.clone();
        *changed.pointer_mut(place).unwrap() = value.clone();
        assert!(!validator.is_valid(&changed), "{place} = {value} passes");
    }
    let mut extra = right.clone();
    extra["limits"]["colour"] = json!("red");
    assert!(!validator.is_valid(&extra));
    let mut missing = right;
    missing["limits"].as_object_mut().unwrap().remove("rpm-floor");
    assert!(!validator.is_valid(&missing));
}
