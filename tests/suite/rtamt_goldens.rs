//! Our margins against those of an outside monitor: rtamt 0.4.10 (BSD-3), run offline by `ci/rtamt/make_goldens.py` on the
//! traces of `tests/goldens/rtamt/`. It computes its signals from the traces and the spec by itself.

use crate::runs::measure;
use crate::traces;
use serde_json::Value;
use sprag::outcome::Basis;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("goldens/rtamt")
}

#[test]
fn our_margins_are_those_of_an_outside_monitor() {
    let margins: Value =
        serde_json::from_str(&std::fs::read_to_string(folder().join("margins.json")).unwrap()).unwrap();
    let mut compared = std::collections::BTreeMap::new();
    for (trace, rules) in margins.as_object().unwrap() {
        let text = std::fs::read_to_string(folder().join(format!("{trace}.csv"))).unwrap();
        let (spec, recording) = (traces::van(), traces::read(&text));
        for (rule, wanted) in rules.as_object().unwrap() {
            let measured = measure(&spec, &recording, rule);
            assert_eq!(measured.excused, 0, "{trace}, {rule}: rtamt knows no excuse");
            let got = measured.mark(Basis::Seen).map(|mark| mark.margin);
            match (got, wanted.as_f64()) {
                (Some(got), Some(wanted)) => {
                    assert!((got - wanted).abs() <= 1e-9, "{trace}, {rule}: {got}, not {wanted}")
                }
                (None, None) => continue,
                (got, wanted) => panic!("{trace}, {rule}: {got:?}, not {wanted:?}"),
            }
            let (kept, broken) = compared.entry(rule.clone()).or_insert((0, 0));
            *if got < Some(0.0) { broken } else { kept } += 1;
        }
    }
    println!("{compared:?}");
    // Each rule both kept and broken somewhere, or the comparison tells little.
    assert_eq!(compared.len(), 12);
    assert!(compared.values().all(|(kept, broken)| *kept > 0 && *broken > 0), "{compared:?}");
}

/// Each rule stands in the table beside the traces: with its formula, or with why it has none.
#[test]
fn the_table_has_each_rule_and_a_formula_for_each_compared_one() {
    let table = std::fs::read_to_string(folder().join("README.md")).unwrap();
    let (formulas, others) = table.split_once("All others").unwrap();
    let margins: Value =
        serde_json::from_str(&std::fs::read_to_string(folder().join("margins.json")).unwrap()).unwrap();
    let compared = |rule: &str| margins.as_object().unwrap().values().any(|rules| rules.get(rule).is_some());
    for rule in sprag::rules::RULES {
        let name = rule.card.name;
        assert_eq!(formulas.contains(&format!("| {name} |")), compared(name), "{name}");
        assert!(compared(name) || others.contains(name), "{name} isn't in the table");
    }
}

#[test]
fn a_trace_tells_its_recording_again() {
    for (name, text) in traces::fresh() {
        assert_eq!(traces::text(&traces::read(&text)), text, "{name}");
    }
}

/// `cargo test -p sprag-tests -- --ignored write_the_traces` writes them anew where the model has moved on; then
/// `ci/rtamt/make_goldens.py` computes the margins anew.
#[test]
#[ignore = "writes the traces"]
fn write_the_traces() {
    for (name, text) in traces::fresh() {
        std::fs::write(folder().join(format!("{name}.csv")), text).unwrap();
    }
}
