//! Controllers that misbehave, through the command line: the exit code, what is said first, that the findings stand in
//! the evidence, and that no process is left.

use crate::boxes;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

const CODE_BROKEN: i32 = 1;
const CODE_NOT_STARTED: i32 = 3;

/// Set for the command, and with it for whatever it starts.
const MARK: &str = "SPRAG_HOSTILE_TEST";
/// A busy machine must not turn one finding into another: short only where it is to be met.
const PATIENT_MS: &str = "20000";
const SHORT_MS: &str = "300";

/// A mark that no other run of this suite sets.
fn own(mark: &str) -> String {
    format!("{mark} {}", std::process::id())
}

/// How many processes carry a mark.
fn marked(mark: &str) -> usize {
    let wanted = format!("{MARK}={}", own(mark));
    let has = |environ: Vec<u8>| environ.split(|&byte| byte == 0).any(|entry| entry == wanted.as_bytes());
    let processes = std::fs::read_dir("/proc").unwrap().flatten();
    processes
        .filter_map(|process| std::fs::read(process.path().join("environ")).ok())
        .filter(|e| has(e.clone()))
        .count()
}

/// What was killed a moment ago may still be on its way out.
fn assert_gone(mark: &str) {
    let gone = || {
        std::thread::sleep(Duration::from_millis(20));
        marked(mark) == 0
    };
    assert!((0..100).any(|_| gone()), "{mark}: {} processes are left", marked(mark));
}

fn evidence_of(mark: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("hostile").join(mark)
}

fn folder(mark: &str) -> PathBuf {
    let folder = evidence_of(mark);
    let _ = std::fs::remove_dir_all(&folder);
    folder
}

/// Tests the van's box with a controller; the output and the evidence folder.
fn test(controller: &str, mark: &str, limit_ms: &str, more: &[&str]) -> (Output, PathBuf) {
    let evidence = folder(mark);
    // Each try starts such a box anew, and how short its drive gets is not the question.
    let output = Command::new(env!("CARGO_BIN_EXE_sprag-for-tests"))
        .args(["test", "specs/van.toml", "--random", "0", "--progress", "none", "--answer-limit-ms", limit_ms])
        .args(["--shrink-drives", "10", "--controller", controller, "--evidence"])
        .arg(&evidence)
        .args(more)
        .current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
        .env(MARK, own(mark))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_gone(mark);
    (output, evidence)
}

/// What a rule came to in the evidence.
fn outcome(evidence: &Path, rule: &str) -> String {
    let text = std::fs::read_to_string(evidence.join("results.json")).unwrap();
    let results: Value = serde_json::from_str(&text).unwrap();
    let rules = results["rules"].as_array().unwrap();
    let row = rules.iter().find(|row| row["rule"]["name"] == rule).unwrap();
    row["outcome"].as_str().unwrap().to_owned()
}

/// The drive files of a rule.
fn drive_files(evidence: &Path, rule: &str) -> Vec<String> {
    let entries = std::fs::read_dir(evidence.join("drives")).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names.filter(|name| name.starts_with(&rule.replace([' ', '\''], "-"))).collect()
}

/// After the hello, silence of any kind is a broken rule, with the words in the evidence and a drive to replay.
fn falls_silent(mode: &str, limit_ms: &str, jobs: &str, says: &str) {
    let Some(controller) = boxes::script(&format!("hostile.py {mode}")) else { return };
    let (output, evidence) =
        test(&controller, &format!("{mode}-{jobs}"), limit_ms, &["--only", "ignition-on", "--jobs", jobs]);
    let screen = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(CODE_BROKEN), "{mode}: {screen}{}", String::from_utf8_lossy(&output.stderr));
    let first = screen.lines().next().unwrap_or_default();
    assert!(first.starts_with("BROKEN: 1 rule at 1 failing moment in "), "{mode}: {first}");
    // The screen breaks lines where it must.
    let flat = screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(says), "{mode}: no {says:?} on {screen}");
    assert_eq!(outcome(&evidence, "answers each tick"), "broken", "{mode}");
    assert_eq!(drive_files(&evidence, "answers each tick").len(), 1, "{mode}");
    assert!(evidence.join("manifest.sha256").exists(), "{mode}: the evidence is complete");
}

#[test]
fn the_search_for_processes_left_finds_one_that_is() {
    let mut sleeper = Command::new("sleep").arg("60").env(MARK, own("sleeper")).spawn().unwrap();
    let seen = (0..100).any(|_| {
        std::thread::sleep(Duration::from_millis(20));
        marked("sleeper") == 1
    });
    sleeper.kill().unwrap();
    sleeper.wait().unwrap();
    assert!(seen);
    assert_gone("sleeper");
}

#[test]
fn what_does_not_start_is_no_verdict() {
    let script = |mode: &str| boxes::script(&format!("hostile.py {mode}"));
    let Some(no_hello) = script("no-hello") else { return };
    let cases = [
        ("not-there", "cmd:/no/such/box".to_owned(), "there is no program \"/no/such/box\""),
        (
            "no-start",
            script("dies-at-start").unwrap(),
            "no hello: its process ended: exit code 1; it last said: no map file",
        ),
        ("no-hello", no_hello, "no hello: expected value"),
        ("newer", script("newer").unwrap(), "it speaks protocol 2.0, but this harness speaks 1.6"),
        ("other-kind", script("requests").unwrap(), "the spec says that this box answers contacts"),
    ];
    for (mark, controller, says) in cases {
        let (output, evidence) = test(&controller, mark, PATIENT_MS, &["--only", "ignition-on"]);
        let complaint = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(CODE_NOT_STARTED), "{mark}: {complaint}");
        assert!(complaint.lines().next().is_some_and(|first| first.contains(says)), "{mark}: {complaint}");
        assert!(output.stdout.is_empty() && !evidence.join("manifest.sha256").exists(), "{mark}: nothing was judged");
    }
}

#[test]
fn a_box_that_hangs_is_broken_and_does_not_hold_up_the_run() {
    let results = ["1", "2"].map(|jobs| {
        falls_silent("hangs", SHORT_MS, jobs, "no answer within 300 ms of wall time");
        std::fs::read(evidence_of(&format!("hangs-{jobs}")).join("results.json")).ok()
    });
    assert!(results[0] == results[1], "one thread and two find the same");
    falls_silent("ignores-term", SHORT_MS, "2", "no answer within 300 ms of wall time");
}

#[test]
fn a_box_that_ends_is_broken() {
    falls_silent("dies", PATIENT_MS, "2", "its process ended: exit code 3; it last said: division by zero");
    falls_silent("killed", PATIENT_MS, "2", "its process ended: SIGKILL");
    falls_silent("closes", PATIENT_MS, "2", "it closed its output");
}

#[test]
fn a_box_that_talks_nonsense_is_broken() {
    falls_silent("garbage", PATIENT_MS, "2", "its answer can't be read: expected value, at byte 1 of shifting up now");
    falls_silent("other-tick", PATIENT_MS, "2", "it answered for ");
    falls_silent("floods", PATIENT_MS, "2", "it prints more than an answer: a further line");
    falls_silent("huge-line", PATIENT_MS, "2", "a line longer than 1 MiB");
}

#[test]
fn talk_on_standard_error_and_a_child_left_behind_break_nothing() {
    for mode in ["stderr-flood 190", "leaves-child"] {
        let Some(controller) = boxes::script(&format!("hostile.py {mode}")) else { return };
        let mark = mode.split(' ').next().unwrap();
        let (_, evidence) = test(&controller, mark, PATIENT_MS, &["--only", "ignition-on"]);
        assert_eq!(outcome(&evidence, "answers each tick"), "kept", "{mode}");
    }
}

/// What was found before a box died stands beside its death.
#[test]
fn findings_made_before_a_box_dies_stand() {
    let Some(controller) = boxes::script("hostile.py bad-then-dies") else { return };
    let mut bytes = Vec::new();
    for jobs in ["1", "2"] {
        let more = ["--only", "ignition-on", "--only", "clock-wrap", "--jobs", jobs];
        let (output, evidence) = test(&controller, &format!("bad-then-dies-{jobs}"), PATIENT_MS, &more);
        let screen = String::from_utf8_lossy(&output.stdout);
        assert_eq!(output.status.code(), Some(CODE_BROKEN), "{screen}");
        for rule in ["engage on lever movement only", "answers each tick"] {
            assert_eq!(outcome(&evidence, rule), "broken", "{rule}: {screen}");
            assert_eq!(drive_files(&evidence, rule).len(), 1, "{rule}");
        }
        bytes.push(std::fs::read(evidence.join("results.json")).unwrap());
    }
    assert!(bytes[0] == bytes[1], "one thread and two find the same");
}
