use super::super::example;
use super::*;
use serde_json::json;
use std::path::PathBuf;

/// A folder of this test's own, gone at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("sprag-evidence-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        Self(path)
    }

    fn names(&self) -> Vec<String> {
        let mut names = Vec::new();
        for folder in ["", "drives"] {
            for entry in fs::read_dir(self.0.join(folder)).unwrap().map(Result::unwrap) {
                if entry.file_type().unwrap().is_file() {
                    names.push(Path::new(folder).join(entry.file_name()).display().to_string());
                }
            }
        }
        names.sort();
        names
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn write_to(folder: &Path, report: &Report, drives: &[(String, String)], volatile: Value) -> io::Result<()> {
    write(folder, &Files { report, spec_toml: "format = 1\n", drives, volatile, interrupted: false, stamp_s: 0 })
}

fn one_drive() -> Vec<(String, String)> {
    vec![("ceiling-1.toml".to_owned(), "abc".to_owned())]
}

/// FIPS 180-4's well-known examples: the empty message and "abc".
#[test]
fn digests_are_sha256() {
    assert_eq!(sha256(b""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

#[test]
fn the_manifest_names_every_file_but_itself_and_the_volatile_one() {
    let scratch = Scratch::new("manifest");
    write_to(&scratch.0, &example::broken(), &one_drive(), json!({})).unwrap();
    let manifest = fs::read_to_string(scratch.0.join(MANIFEST)).unwrap();
    let names: Vec<&str> = manifest.lines().map(|l| l.split_once("  ").unwrap().1).collect();
    assert_eq!(
        names,
        ["drives/ceiling-1.toml", "junit.xml", "results.json", "spec.toml", "summary.md", "traceability.md"]
    );
    assert!(manifest.starts_with("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  drives/"));
    let mut all: Vec<&str> = names.clone();
    all.extend(["manifest.sha256", "volatile.json"]);
    all.sort_unstable();
    assert_eq!(scratch.names(), all);
}

#[test]
fn equal_runs_give_equal_bytes_but_for_the_volatile_file() {
    let (one, two) = (Scratch::new("one"), Scratch::new("two"));
    write_to(&one.0, &example::broken(), &one_drive(), json!({"wall-seconds": 1.5})).unwrap();
    write_to(&two.0, &example::broken(), &one_drive(), json!({"wall-seconds": 2.5})).unwrap();
    assert_eq!(one.names(), two.names());
    for name in one.names() {
        let same = fs::read(one.0.join(&name)).unwrap() == fs::read(two.0.join(&name)).unwrap();
        assert_eq!(same, name != VOLATILE, "{name}");
    }
}

#[test]
fn a_later_run_takes_away_the_earlier_drives_and_leaves_what_is_not_ours() {
    let scratch = Scratch::new("later");
    write_to(&scratch.0, &example::broken(), &one_drive(), json!({})).unwrap();
    fs::write(scratch.0.join("notes.txt"), "mine").unwrap();
    fs::write(scratch.0.join("drives/mine.toml"), "mine").unwrap();
    write_to(&scratch.0, &example::kept(), &[], json!({})).unwrap();
    let names = scratch.names();
    assert!(!names.contains(&"drives/ceiling-1.toml".to_owned()));
    assert!(names.contains(&"drives/mine.toml".to_owned()) && names.contains(&"notes.txt".to_owned()));
}

#[test]
fn a_manifest_from_elsewhere_takes_nothing_away_outside_the_drives() {
    let scratch = Scratch::new("elsewhere");
    fs::create_dir_all(scratch.0.join("in/drives")).unwrap();
    fs::write(scratch.0.join("keep.toml"), "mine").unwrap();
    let hostile = "00  ../keep.toml\n00  drives/../../keep.toml\n00  /etc/hostname\n00\n";
    fs::write(scratch.0.join("in").join(MANIFEST), hostile).unwrap();
    write_to(&scratch.0.join("in"), &example::kept(), &[], json!({})).unwrap();
    assert_eq!(fs::read_to_string(scratch.0.join("keep.toml")).unwrap(), "mine");
}

#[test]
fn a_drive_file_stays_in_its_folder() {
    let scratch = Scratch::new("stays");
    for name in ["../x.toml", "a/b.toml", "", ".hidden", "drives/", "a b.toml"] {
        let drives = [(name.to_owned(), String::new())];
        let error = write_to(&scratch.0, &example::kept(), &drives, json!({})).unwrap_err();
        assert!(error.to_string().contains("is no name for a drive file"), "{name}: {error}");
    }
    let twice = [one_drive(), one_drive()].concat();
    assert!(write_to(&scratch.0, &example::kept(), &twice, json!({})).unwrap_err().to_string().contains("two drive"));
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let scratch = Scratch::new("file");
    fs::write(&scratch.0, "a file").unwrap();
    let error = write_to(&scratch.0, &example::kept(), &[], json!({})).unwrap_err();
    assert!(error.to_string().contains("sprag-evidence-"), "{error}");
    fs::remove_file(&scratch.0).unwrap();
}

#[test]
fn names_become_file_names() {
    for (text, name) in [("van", "van"), ("My van/2", "My-van-2"), ("..", "unnamed"), ("é", "-"), (".a", "a")] {
        assert_eq!(file_name(text), name);
    }
}
