//! Our rules against the outside monitor rtamt, on the same recordings: those of `tests/goldens/rtamt`, with the twelve
//! rules for which there is a formula.
//!
//! `ci/bench.sh` names a Python that has rtamt in `RTAMT_PYTHON`. Its figure is the processor time of the formulas alone:
//! without its start, without reading the traces and working out the signals. Ours tells from a recording what happened
//! in it and judges both views of it: by those twelve rules, and by all.

use crate::row::{Better, Row};
use crate::search::median;
use crate::speed::timed;
use serde_json::Value;
use sprag::outcome::Basis;
use sprag::recording::Recording;
use sprag::rules::story::Story;
use sprag::rules::tally::Tally;
use sprag::rules::{Judge, RULES, Rule, View, find};
use sprag::spec::Spec;
use sprag_tests::traced;
use std::collections::BTreeMap;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;

/// Both sides take turns so often.
const REPEATS: usize = 3;
/// We judge all recordings so often in a turn: once is over before a clock has ticked.
const OURS: usize = 50;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

/// What rtamt says: margins by trace and rule, and what a formula takes for a sample, ns.
fn rtamt(python: &str) -> (Value, f64) {
    let ran = Command::new(python)
        .args(["ci/rtamt/make_goldens.py", "tests/goldens/rtamt", "specs", "--timed"])
        .current_dir(ROOT)
        .output()
        .unwrap_or_else(|error| panic!("{python}: {error}"));
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let told: Value = serde_json::from_slice(&ran.stdout).expect("JSON");
    let spent = |what: &str| told["spent"][what].as_f64().expect("a number");
    (told["margins"].clone(), spent("seconds") * 1e9 / spent("samples"))
}

/// The largest difference from rtamt's margins, and how many were compared.
fn differences(margins: &Value, recordings: &BTreeMap<String, Recording>) -> (f64, usize) {
    let (mut most, mut count) = (0.0_f64, 0);
    let (spec, mut judge, mut measures) = (traced::van(), Judge::default(), Vec::new());
    for (trace, rules) in margins.as_object().expect("traces") {
        judge.judge(&spec, &recordings[trace], &mut measures);
        for (rule, margin) in rules.as_object().expect("rules") {
            let ours = measures[find(rule).expect("a rule of the table")].mark(Basis::Seen).map(|mark| mark.margin);
            most = most.max(match (ours, margin.as_f64()) {
                (Some(ours), Some(theirs)) => (ours - theirs).abs(),
                (None, None) => continue,
                _ => f64::INFINITY,
            });
            count += 1;
        }
    }
    (most, count)
}

/// The rules that rtamt has a formula for.
fn compared(margins: &Value) -> Vec<&'static Rule> {
    let traces = margins.as_object().expect("traces").values();
    let mut found: Vec<usize> = traces
        .flat_map(|rules| rules.as_object().expect("rules").keys())
        .map(|name| find(name).expect("a rule of the table"))
        .collect();
    found.sort_unstable();
    found.dedup();
    found.into_iter().map(|at| &RULES[at]).collect()
}

/// Judges recordings by some rules; the story keeps its memory, as a campaign's does.
fn judge_by(spec: &Spec, story: &mut Story, recordings: &BTreeMap<String, Recording>, rules: &[&'static Rule]) {
    for recording in recordings.values() {
        story.tell(spec, recording);
        let view = View { spec, story, recording };
        for rule in rules {
            let mut tally = Tally::new(rule.card);
            (rule.judge)(&view, &mut tally);
            black_box(tally.measure);
        }
    }
}

pub fn measure(told: &mut dyn FnMut(Row)) {
    let Ok(python) = std::env::var("RTAMT_PYTHON") else {
        panic!("RTAMT_PYTHON names no Python that has rtamt: ci/bench.sh sees to it");
    };
    let folder = Path::new(ROOT).join("tests/goldens/rtamt");
    let mut recordings = BTreeMap::new();
    for entry in std::fs::read_dir(folder).expect("the traces").flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|ext| ext == "csv") {
            let text = std::fs::read_to_string(&path).expect("a trace");
            recordings.insert(path.file_stem().expect("a name").to_string_lossy().into_owned(), traced::read(&text));
        }
    }
    let spec = traced::van();
    let samples: usize = recordings.values().map(|recording| recording.rows.len()).sum();
    let (mut theirs_ns, mut twelve_ns, mut all_ns) = (Vec::new(), Vec::new(), Vec::new());
    let (mut margins, mut twelve) = (Value::Null, Vec::new());
    let all: Vec<&'static Rule> = RULES.iter().collect();
    for _ in 0..REPEATS {
        let (said, ns) = rtamt(&python);
        theirs_ns.push(ns);
        twelve = compared(&said);
        margins = said;
        for (rules, ours_ns) in [(&twelve, &mut twelve_ns), (&all, &mut all_ns)] {
            let mut story = Story::default();
            let (seconds, ()) = timed(|| (0..OURS).for_each(|_| judge_by(&spec, &mut story, &recordings, rules)));
            ours_ns.push(seconds * 1e9 / (samples * OURS) as f64);
        }
    }
    let theirs = median(&theirs_ns) * twelve.len() as f64;
    let mut row = |what: &str, ours_ns: &[f64], rules: usize| {
        let ours = median(ours_ns);
        told(Row {
            what: what.into(),
            figure: theirs / ours,
            unit: "x",
            must: 200.0,
            aim: 500.0,
            better: Better::High,
            note: format!(
                "{theirs:.0} ns a sample for {} formulas, {ours:.0} ns for {rules} rules on both views; medians of \
                 {REPEATS} turns over {samples} samples",
                twelve.len()
            ),
        });
    };
    row("samples a second through our rules, against rtamt's formulas for the same", &twelve_ns, twelve.len());
    row("the same with all our rules against those formulas", &all_ns, all.len());
    let (most, count) = differences(&margins, &recordings);
    told(Row {
        what: "largest difference of a margin from rtamt's".into(),
        figure: most,
        unit: "in its unit",
        must: 1e-9,
        aim: 1e-9,
        better: Better::Low,
        note: format!("{count} margins of {} rules; {most:e}", twelve.len()),
    });
}
