//! The command line as users meet it: exit codes, and the first sentence of each complaint.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const CODE_BROKEN: i32 = 1;
const CODE_USAGE: i32 = 2;
const CODE_NOT_STARTED: i32 = 3;
const CODE_NOT_WRITTEN: i32 = 74;

/// The command, in the top folder of the project.
fn sprag(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sprag-for-tests"));
    command.args(words).current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/..")).stdin(Stdio::null());
    command
}

fn run(words: &[&str]) -> Output {
    sprag(words).output().expect("the command runs")
}

/// A folder for the files of one test.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cli").join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    folder
}

fn file(folder: &Path, name: &str, bytes: impl AsRef<[u8]>) -> String {
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("a file for the test");
    path.display().to_string()
}

/// The command ends with this code, complains in these words, prints no result, and never speaks of a bug.
fn complains(words: &[&str], code: i32, says: &[&str]) {
    let output = run(words);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{words:?}: {stderr}");
    for part in says {
        assert!(stderr.contains(part), "{words:?} does not say {part:?}: {stderr}");
    }
    assert!(!stderr.contains("a bug in sprag") && !stderr.contains("panicked"), "{words:?}: {stderr}");
    assert!(output.stdout.is_empty(), "{words:?} prints {}", String::from_utf8_lossy(&output.stdout));
}

#[test]
fn a_spec_that_is_not_there_or_no_text_is_named() {
    let folder = folder("no-spec");
    let huge = file(&folder, "huge.toml", vec![b'#'; (1 << 20) + 1]);
    let binary = file(&folder, "binary.toml", [b'a', 0xff, 0xfe, 0]);
    for command in ["test", "check"] {
        complains(&[command, "specs/vna.toml"], CODE_USAGE, &["specs/vna.toml", "the file can't be read"]);
        complains(&[command, &huge], CODE_USAGE, &["huge.toml", "the file is larger than 1 MiB"]);
        complains(&[command, &binary], CODE_USAGE, &["binary.toml", "line 1 is no UTF-8 text"]);
        complains(&[command, "specs"], CODE_USAGE, &["this is no file"]);
    }
}

#[test]
fn a_wrong_spec_gets_all_its_errors_at_once() {
    let folder = folder("wrong-spec");
    let van = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../specs/van.toml")).expect("the van");
    let wrong = van
        .replace("\"lever\"", "\"leaver\"")
        .replace("\"40 km/h\"", "40")
        .replace("rpm-floor", "rpm-flor")
        .replace("vehicles/van.toml", "vehicles/none.toml");
    let wrong = file(&folder, "wrong.toml", wrong);
    let says = ["did you mean \"lever\"?", "`rpm-floor` is missing", "engagement-speed-ceiling", "vehicles/none.toml"];
    complains(&["test", &wrong], CODE_USAGE, &says);
    complains(&["check", &wrong], CODE_USAGE, &says);
}

#[test]
fn a_controller_that_is_not_there_is_no_finding() {
    let van = |controller, code, says| {
        complains(&["test", "specs/van.toml", "--no-evidence", "--controller", controller], code, &[says]);
    };
    van("builtin:refrence", CODE_USAGE, "the nearest names are reference, ");
    van("refrence", CODE_USAGE, "names no controller: write ");
    van("cmd:", CODE_USAGE, "cmd:");
    van("cmd:/no/such/box", CODE_NOT_STARTED, "there is no program \"/no/such/box\"");
    van("cmd:true", CODE_NOT_STARTED, "no hello: its process ended: exit code 0");
    // It says the harness's own hello back.
    van("cmd:cat", CODE_NOT_STARTED, "no hello: ");
}

#[test]
fn what_a_spec_does_not_have_is_answered_with_what_it_has() {
    let van = |word, value, says: &[&str]| {
        complains(&["test", "specs/van.toml", "--no-evidence", word, value], CODE_USAGE, says);
    };
    van("--run", "weekly", &["no run \"weekly\"; it has: commit, nightly, release"]);
    van("--only", "kickdwn", &["no manoeuvre \"kickdwn\"; there are: ", "kickdown-ladder"]);
    van("--saved", "no/such/folder", &["no/such/folder"]);
    van("--jobs", "0", &["--jobs"]);
    van("--random", "-1", &["-1"]);
}

#[test]
fn a_drive_file_that_is_none_is_an_error_with_its_place() {
    let folder = folder("drive-files");
    let garbage = file(&folder, "garbage.toml", "start = [\n\u{1b}[31m");
    let huge = file(&folder, "huge.toml", vec![b'#'; (8 << 20) + 1]);
    let binary = file(&folder, "binary.toml", [0xff, 0xfe, 0]);
    complains(&["replay", "no/such/drive.toml"], CODE_USAGE, &["no/such/drive.toml: No such file"]);
    complains(&["replay", &garbage], CODE_USAGE, &["garbage.toml:"]);
    complains(&["replay", &huge], CODE_USAGE, &["a drive file has at most 8388608 (8 MiB)"]);
    complains(&["replay", &binary], CODE_USAGE, &["binary.toml: "]);
    complains(&["replay", "specs/van.toml"], CODE_USAGE, &["specs/van.toml:"]);
}

#[test]
fn evidence_that_can_not_be_written_is_its_own_code_and_the_screen_stands() {
    let folder = folder("not-written");
    let below_a_file = file(&folder, "file", "") + "/evidence";
    let words = ["test", "specs/van.toml", "--only", "engage-and-creep", "--evidence", &below_a_file];
    let output = run(&words);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(CODE_NOT_WRITTEN), "{stderr}");
    assert!(stderr.contains("the evidence could not be written: "), "{stderr}");
    let screen = String::from_utf8_lossy(&output.stdout);
    assert!(screen.contains("Spec van, ") && !screen.contains("Evidence: "), "{screen}");
}

#[test]
fn a_seeded_fault_is_broken_and_its_drive_replays() {
    let evidence = folder("seeded-fault").display().to_string();
    let words = ["test", "specs/van.toml", "--controller", "builtin:level-triggered", "--random", "0"];
    let output = run(&[&words[..], &["--first", "400", "--evidence", &evidence]].concat());
    let screen = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(CODE_BROKEN), "{screen}");
    let replay = screen
        .lines()
        .find_map(|l| l.trim_start().strip_prefix("replay "))
        .expect("a replay command on the screen")
        .trim()
        .to_owned();
    let words: Vec<&str> = replay.split(' ').skip(1).collect();
    assert_eq!(words.first(), Some(&"replay"), "{replay}");
    // Shown from the file alone, and by the same build, it is the same; the reference keeps the rule there.
    let exit = |more: &[&str]| run(&[&words[..], more].concat()).status.code();
    let shown = String::from_utf8_lossy(&run(&words).stdout).into_owned();
    assert!(shown.contains("\nIt breaks with the speed at the start from 0 km/h to "), "{shown}");
    assert_eq!(exit(&[]), Some(0));
    assert_eq!(exit(&["--controller", "builtin:level-triggered"]), Some(0));
    assert_eq!(exit(&["--controller", "builtin:reference"]), Some(5));
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    for words in [&["rules"][..], &["--help"], &["schema"], &["check", "specs/van.toml"]] {
        let mut child = sprag(words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(output.status.code(), Some(0), "{words:?}");
        assert!(output.stderr.is_empty(), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
}

#[test]
fn help_lists_the_codes_and_the_cautions() {
    let output = run(&["--help"]);
    let help = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(0));
    let words = help.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in ["Exit codes:", "130, 143", "Cautions:", "closed ground", "no permit for the road", "second person"] {
        assert!(words.contains(part), "{part} is not in {help}");
    }
    assert!(help.lines().all(|line| line.chars().count() <= 100), "{help}");
    complains(&["drive"], CODE_USAGE, &["unrecognized subcommand 'drive'"]);
    complains(&[], CODE_USAGE, &["Usage: sprag"]);
}

#[test]
fn rules_lists_each_rule_and_tells_about_one() {
    let table = run(&["rules"]).stdout;
    let table = String::from_utf8_lossy(&table);
    // A head, and 54 rules.
    assert_eq!(table.lines().count(), 1 + 54, "{table}");
    let one = run(&["rules", "hunting"]).stdout;
    assert!(String::from_utf8_lossy(&one).starts_with("hunting count\n"));
    complains(&["rules", "hunger"], CODE_USAGE, &["\"hunger\" is no rule: 'sprag rules' lists them"]);
}

/// Nothing fails on the van's map, and the narrow one is at fault; cured, it is not.
#[test]
fn check_says_what_fails_and_writes_what_cures_it() {
    let folder = folder("check");
    let van = run(&["check", "specs/van.toml"]);
    let screen = String::from_utf8_lossy(&van.stdout).into_owned();
    assert_eq!(van.status.code(), Some(0), "{screen}");
    assert!(screen.starts_with("Spec van is read without an error.") && screen.contains("nothing fails"), "{screen}");
    let (map, svg) = (folder.join("cured.csv"), folder.join("narrow.svg"));
    let (map_name, svg_name) = (map.display().to_string(), svg.display().to_string());
    let narrow = run(&["check", "specs/van-narrow.toml", "--quiet", "--write-map", &map_name, "--svg", &svg_name]);
    let screen = String::from_utf8_lossy(&narrow.stdout).into_owned();
    assert_eq!(narrow.status.code(), Some(CODE_USAGE), "{screen}");
    assert!(screen.contains("specs/maps/van-narrow.csv:4:19 (row 80, column 3>2)"), "{screen}");
    assert!(screen.lines().all(|line| line.chars().count() <= 120 || line.starts_with("Cured map: ")), "{screen}");
    assert!(std::fs::read_to_string(&svg).expect("a picture").contains("equal-force gap: fails"));
    let narrow = include_str!("../../specs/van-narrow.toml").replace("maps/van-narrow.csv", "cured.csv");
    let vehicles = folder.join("vehicles");
    std::fs::create_dir_all(&vehicles).expect("a folder");
    std::fs::write(vehicles.join("van.toml"), include_str!("../../specs/vehicles/van.toml")).expect("a vehicle");
    let cured = file(&folder, "cured.toml", narrow);
    let output = run(&["check", &cured]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stdout));
    complains(
        &["check", "specs/van.toml", "--write-map", &folder.join("map.toml").display().to_string()],
        CODE_USAGE,
        &["must end as specs/maps/van.csv does"],
    );
    complains(
        &["check", "specs/van.toml", "--svg", &folder.join("none/map.svg").display().to_string()],
        CODE_NOT_WRITTEN,
        &["map.svg could not be written"],
    );
}
