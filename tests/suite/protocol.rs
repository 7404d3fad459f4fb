//! Programs that misbehave: each is a finding with its own words, and none leaves a process behind.

use crate::boxes;
use sprag::controller::Port;
use sprag::controller::process::{Program, ProgramPort};
use sprag::recording::Silence;
use sprag::signal::{Action, Contacts};
use std::time::Duration;

/// A hostile program, or `None` without Python. The limits are short only where they are to be met: a busy machine
/// must not turn one finding into another.
fn hostile(mode: &str) -> Option<Program> {
    let mut program = Program::named(&boxes::script(&format!("hostile.py {mode}"))?).unwrap();
    let hangs = ["hangs", "ignores-term"].contains(&mode);
    program.answer_limit = Duration::from_millis(if hangs { 400 } else { 20_000 });
    program.start_limit = Duration::from_millis(if mode == "silent" { 700 } else { 20_000 });
    Some(program)
}

/// Drives until something is wrong, 200 ms at most.
fn drive(port: &mut ProgramPort) -> Result<(), Silence> {
    port.reset()?;
    for t in (0..200).step_by(10) {
        let output = port.step(&boxes::at_rest(&boxes::plain(), t), &[])?;
        assert_eq!(output.action, Action::Contacts(Contacts::default()));
    }
    Ok(())
}

/// How many processes run in this group; what has ended and waits to be noticed doesn't run.
fn running(group: u32) -> usize {
    // Linux, proc_pid_stat(5): after the name in brackets come state, parent and process group.
    let runs = |stat: &String| {
        let fields: Vec<&str> = stat.rsplit(')').next().unwrap_or_default().split_whitespace().collect();
        fields.get(2) == Some(&group.to_string().as_str()) && fields.first() != Some(&"Z")
    };
    let processes = std::fs::read_dir("/proc").unwrap().flatten();
    processes.filter_map(|process| std::fs::read_to_string(process.path().join("stat")).ok()).filter(runs).count()
}

/// Nothing is left of the group; what was killed a moment ago may still be on its way out.
fn assert_gone(group: u32) {
    let gone = || {
        std::thread::sleep(Duration::from_millis(10));
        running(group) == 0
    };
    assert!((0..50).any(|_| gone()), "process group {group} still runs");
}

/// What drives to the first trouble give, and that nothing is left.
fn trouble(mode: &str) -> Option<Result<(), Silence>> {
    let mut port = hostile(mode)?.launch(&boxes::plain()).unwrap();
    let group = port.process_id();
    let result = drive(&mut port);
    if let Err(silence) = &result {
        assert_eq!(port.reset().as_ref(), Err(silence), "what failed stays failed");
    }
    drop(port);
    assert_gone(group);
    Some(result)
}

macro_rules! finding {
    ($test:ident, $mode:literal, $pattern:pat, $words:literal) => {
        #[test]
        fn $test() {
            let Some(result) = trouble($mode) else { return };
            let silence = result.unwrap_err();
            assert!(matches!(silence, $pattern), "{silence:?}");
            assert!(silence.to_string().starts_with($words), "{silence}");
        }
    };
}

finding!(hangs, "hangs", Silence::TooLate(400), "no answer within 400 ms");
finding!(ignores_term, "ignores-term", Silence::TooLate(400), "no answer within 400 ms");
finding!(floods, "floods", Silence::Flood(_), "it prints more than an answer: a further line, {\"t\": 50");
finding!(closes, "closes", Silence::Closed, "it closed its output");
finding!(
    garbage,
    "garbage",
    Silence::Garbage(_),
    "its answer can't be read: expected value, at byte 1 of shifting up now"
);
finding!(wrong_key, "wrong-key", Silence::Garbage(_), "its answer can't be read: unknown field `gaer`");
finding!(other_tick, "other-tick", Silence::OtherTick(50, _), "asked at 50 ms, it answered for 40 ms");
finding!(dies, "dies", Silence::Ended(_), "its process ended: exit code 3; it last said: division by zero");
finding!(killed, "killed", Silence::Ended(_), "its process ended: SIGKILL");
finding!(nan, "nan", Silence::Garbage(_), "its answer can't be read: expected value, at byte 7");
finding!(huge_line, "huge-line", Silence::Flood(_), "it prints more than an answer: a line longer than 1 MiB");

#[test]
fn talk_on_standard_error_is_kept_and_stops_nothing() {
    let Some(program) = hostile("stderr-flood 190") else { return };
    let mut port = program.launch(&boxes::plain()).unwrap();
    assert_eq!(running(port.process_id()), 1, "what runs must be seen, or no test here shows anything");
    assert_eq!(drive(&mut port), Ok(()));
    assert!((1..=64 * 1024).contains(&port.stderr().len()));
}

#[test]
fn a_child_of_the_program_goes_too() {
    assert!(trouble("leaves-child").is_none_or(|result| result.is_ok()));
}

#[test]
fn a_program_without_reset_is_started_anew() {
    let Some(program) = hostile("no-reset 100000") else { return };
    let mut port = program.launch(&boxes::plain()).unwrap();
    let first = port.process_id();
    assert_eq!(drive(&mut port), Ok(()));
    assert_eq!(port.process_id(), first, "the first drive needs no second start");
    assert_eq!(drive(&mut port), Ok(()));
    assert_ne!(port.process_id(), first);
    assert_gone(first);
}

#[test]
fn a_program_that_does_not_start_says_why() {
    let hello = boxes::plain();
    let why = |mode: &str| hostile(mode)?.launch(&hello).err().map(|error| error.0);
    for (mode, words) in [
        ("silent", "no hello within 700 ms. If it has written one, it is still in a buffer"),
        ("no-hello", "no hello: expected value, at byte 1 of Hello!"),
        ("newer", "no hello: it speaks protocol 2.0, but this harness speaks 1.6"),
        ("requests", "the spec says that this box answers contacts"),
        ("dies-at-start", "no hello: its process ended: exit code 1; it last said: no map file"),
    ] {
        let Some(text) = why(mode) else { return };
        assert!(text.contains(&format!("{mode}: {words}")), "{text}");
    }
    let program = Program::named("cmd:no-such-program-here -x").unwrap();
    let error = program.launch(&hello).err().map(|error| error.0);
    let expected = "cmd:no-such-program-here -x: there is no program \"no-such-program-here\"";
    assert_eq!(error.as_deref(), Some(expected));
}
