//! The same build, spec and seed give the same bytes on any number of threads; a drive file gives the same margin in a
//! process of its own, and notices when a digit of it was changed.

use crate::runs;
use sprag::campaign::{Options, Stop, run};
use sprag::controller::named::named;
use sprag::evidence;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::AtomicBool;

const CODE_KEPT: i32 = 0;
const CODE_UNCLEAR: i32 = 5;

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("determinism").join(name);
    let _ = std::fs::remove_dir_all(&folder);
    folder
}

/// All files of the evidence but `volatile.json`.
fn campaign(jobs: usize) -> BTreeMap<String, Vec<u8>> {
    let spec = runs::spec("van");
    let source = named("builtin:no-dwell", None).unwrap();
    let only = ["ignition-on", "engage-and-creep"].map(str::to_owned).to_vec();
    let options =
        Options { run: "commit".into(), only, random: Some(70), search: Some(70), jobs, ..Options::default() };
    let stop = AtomicBool::new(false);
    let finished = run(&spec, source.as_ref(), &options, &Stop(&stop), &mut |_, _| {}, &mut |_| {}).unwrap();
    let folder = folder(&format!("jobs-{jobs}"));
    let files = evidence::Files {
        report: &finished.report,
        spec_toml: &spec.to_toml(),
        drives: &finished.drives,
        volatile: serde_json::json!({ "jobs": jobs }),
        interrupted: false,
        stamp_s: 0,
    };
    evidence::write(&folder, &files).unwrap();
    let mut all = BTreeMap::new();
    for place in [folder.clone(), folder.join("drives")] {
        for entry in std::fs::read_dir(place).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_file())
        {
            let name = entry.strip_prefix(&folder).unwrap().display().to_string();
            all.insert(name, std::fs::read(entry).unwrap());
        }
    }
    assert!(all.remove("volatile.json").is_some());
    all
}

#[test]
fn one_thread_two_and_three_write_the_same_bytes() {
    let one = campaign(1);
    let drives = one.keys().filter(|name| name.starts_with("drives/")).count();
    assert!(drives >= 2 && one.contains_key("results.json") && one.contains_key("junit.xml"), "{:?}", one.keys());
    for jobs in [2, 3] {
        let other = campaign(jobs);
        assert!(one.keys().eq(other.keys()), "{:?} and {:?}", one.keys(), other.keys());
        for (name, bytes) in &one {
            assert!(other[name] == *bytes, "{name} differs with {jobs} threads");
        }
    }
}

/// Replays a text as a drive file, from the file alone: the exit code and the screen.
fn replay(name: &str, text: &str) -> (Option<i32>, String) {
    let path = folder(name).with_extension("toml");
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(&path, text).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_sprag-for-tests")).arg("replay").arg(&path).output().unwrap();
    (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned())
}

#[test]
fn a_drive_file_gives_the_identical_margin_in_a_process_of_its_own_and_notices_a_changed_digit() {
    let files = campaign(2);
    let file = files.iter().find(|(name, _)| name.starts_with("drives/opposite-shift-dwell")).map(|(_, bytes)| bytes);
    let text = String::from_utf8(file.expect("its own rule is broken").clone()).unwrap();
    let margin = text.lines().find_map(|line| line.strip_prefix("margin = ")).unwrap();
    let (code, screen) = replay("as-written", &text);
    assert_eq!(code, Some(CODE_KEPT), "{screen}");
    assert!(screen.starts_with(&format!("Reproduced: the identical margin, {margin} s.")), "{screen}");
    assert!(!screen.contains("The ticks in the file are not these"), "{screen}");

    let (code, screen) =
        replay("other-margin", &text.replace(&format!("margin = {margin}\n"), &format!("margin = {margin}1\n")));
    assert_eq!(code, Some(CODE_UNCLEAR), "{screen}");
    assert!(screen.starts_with("NOT the same: the margin is "), "{screen}");

    let at = text.lines().find_map(|line| line.strip_prefix("at = ")).unwrap();
    let (code, screen) = replay("other-time", &text.replace(&format!("at = {at}\n"), "at = \"99.99 s\"\n"));
    assert_eq!(code, Some(CODE_UNCLEAR), "{screen}");
    assert!(screen.starts_with("NOT the same: the margin comes at "), "{screen}");
    assert!(screen.contains("; the file says at 99.99 s."), "{screen}");

    // A gear in a row of the ticks: the margin is the same, the row is not.
    let (before, ticks) = text.split_once("\nticks = [").unwrap();
    let row = ticks.lines().filter(|line| line.contains("gate")).nth(1).unwrap();
    let changed = row.replacen("gate", "N   ", 1);
    let (_, screen) = replay("other-ticks", &format!("{before}\nticks = [{}", ticks.replacen(row, &changed, 1)));
    // Two lines of head and one row come first.
    assert!(screen.contains("The ticks in the file are not these: they differ from line 4 on."), "{screen}");
}
