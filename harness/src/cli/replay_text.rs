//! How a replay is shown.

use crate::drive_file::DriveFile;
use crate::drive_text;
use crate::replay::Came;
use crate::replay::Replayed;
use crate::rules::say::time;
use serde_json::json;
use std::fmt::Write;

/// One sentence on how it came out.
fn verdict(file: &DriveFile, replayed: &Replayed) -> String {
    let margin = |m: f64| format!("{m}");
    let unit = file.expected.as_ref().map_or("", |e| e.unit.as_str());
    let expected = file.expected.as_ref().map_or(String::new(), |e| margin(e.margin));
    let now = replayed.mark.map_or("none".to_owned(), |m| margin(m.margin));
    match &replayed.came {
        Came::Same => format!("Reproduced: the identical margin, {expected} {unit}."),
        Came::OtherMargin if now == expected => {
            let at = |at_ms: Option<u32>| at_ms.map_or("none".to_owned(), time);
            let (now, expected) = (replayed.mark.map(|m| m.at_ms), file.expected.as_ref().map(|e| e.at_ms));
            format!("NOT the same: the margin comes at {}; the file says at {}.", at(now), at(expected))
        }
        Came::OtherMargin => {
            format!("NOT the same: the margin is {now} {unit}; the file says {expected} {unit}.")
        }
        Came::OtherRule(other) => format!("NOT the same: this rule is kept now, another one is broken: {other}."),
        Came::KeptNow => format!("Kept now: the margin is {now} {unit}; the file says {expected} {unit}."),
        Came::NothingExpected => "Driven; the file expects nothing of it.".to_owned(),
        Came::NeedsBuild => {
            "Not shown: this rule compares two drives of the same build; name the build with --controller.".to_owned()
        }
    }
}

/// The screen.
pub fn screen(file: &DriveFile, name: &str, replayed: &Replayed) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", verdict(file, replayed));
    let _ = writeln!(out);
    if let Some(e) = &file.expected {
        let _ = writeln!(
            out,
            "Rule:    {}, judged on what was {}",
            e.rule,
            if e.basis == crate::drive_file::Basis::Seen { "seen" } else { "true" }
        );
        let _ = writeln!(out, "Then:    {} ({})", e.says, e.controller);
        let _ = writeln!(out, "Outcome: {}, found in {}", e.outcome, e.seed_comment);
    }
    if !replayed.says.is_empty() {
        let _ = writeln!(out, "Now:     {} ({})", replayed.says, replayed.by);
    }
    if let Some(versions) = &replayed.other_versions {
        let _ = writeln!(out, "Note:    written by other versions ({versions}); a difference may come from them");
    }
    let _ = writeln!(out, "\nThe drive ({name}):");
    for line in drive_text::lines(&file.drive) {
        let _ = writeln!(out, "  {line}");
    }
    for (at, span) in file.expected.iter().flat_map(|e| e.breaks_with.iter().enumerate()) {
        let _ = writeln!(out, "{}{span}", if at == 0 { "\nIt breaks with " } else { "     and with " });
    }
    let _ = writeln!(out, "\nThe ticks around it:");
    for line in &replayed.ticks {
        let _ = writeln!(out, "  {line}");
    }
    if let Some(at) = replayed.ticks_differ {
        let _ = writeln!(out, "\nThe ticks in the file are not these: they differ from line {} on.", at + 1);
    }
    if !replayed.broken.is_empty() {
        let _ = writeln!(out, "\nBroken in this drive:");
        for what in &replayed.broken {
            let _ = writeln!(out, "  {what}");
        }
    }
    out
}

/// The same as JSON.
pub fn json(file: &DriveFile, replayed: &Replayed) -> String {
    let came = match &replayed.came {
        Came::Same => "same",
        Came::OtherMargin => "other margin",
        Came::OtherRule(_) => "other rule",
        Came::KeptNow => "kept now",
        Came::NothingExpected => "nothing expected",
        Came::NeedsBuild => "needs the build",
    };
    let value = json!({
        "came": came,
        "says": replayed.says,
        "by": replayed.by,
        "rule": file.expected.as_ref().map(|e| &e.rule),
        "margin-expected": file.expected.as_ref().map(|e| e.margin),
        "margin": replayed.mark.map(|m| m.margin),
        "at-ms": replayed.mark.map(|m| m.at_ms),
        "breaks-with": file.expected.as_ref().map(|e| &e.breaks_with),
        "ticks-differ-from-line": replayed.ticks_differ.map(|at| at + 1),
        "broken": replayed.broken,
    });
    format!("{value:#}\n")
}
