//! Writing a drive file.

use super::{Basis, DriveFile, Expected, FORMAT};
use crate::drive::Start;
use crate::drive_text::{duration_text, event_text, lever_text, range_text, scaled_text, step_text};

pub(super) fn text(file: &DriveFile) -> String {
    let drive = &file.drive;
    let mut text = format!("format = {FORMAT}\nname = {}\n", quoted(&file.name));
    text.push_str(&format!("\n[drive]\nstart = {}\n", start(&drive.start)));
    list(&mut text, "steps", drive.steps.iter().map(step_text));
    if !drive.events.is_empty() {
        list(&mut text, "events", drive.events.iter().map(event_text));
    }
    if let Some(outcome) = &file.expected {
        expected(&mut text, outcome);
    }
    if !file.did.is_empty() || !file.ticks.is_empty() {
        text.push_str("\n[recorded]\n");
        list(&mut text, "did", file.did.iter().map(ToString::to_string));
        list(&mut text, "ticks", file.ticks.iter().cloned());
    }
    if let Some(spec) = &file.spec {
        text.push_str(&format!("\n[spec]\ntoml = {}\n", block(spec)));
    }
    text
}

/// Speed, gear and lever always; the rest only where it isn't as usual.
fn start(start: &Start) -> String {
    let usual = Start::default();
    let mut text = format!(
        "{{ speed = \"{} km/h\", gear = {}, lever = \"{}\"",
        scaled_text(start.speed.into(), 10),
        start.gear,
        lever_text(start.lever)
    );
    if start.range != usual.range {
        text.push_str(&format!(", range = \"{}\"", range_text(start.range)));
    }
    if start.grip != usual.grip {
        text.push_str(&format!(", grip = \"{}\"", scaled_text(start.grip.into(), 100)));
    }
    if start.clock_ms != usual.clock_ms {
        text.push_str(&format!(", clock = \"{} ms\"", start.clock_ms));
    }
    if start.poll_phase_ms != usual.poll_phase_ms {
        text.push_str(&format!(", poll-phase = \"{}\"", duration_text(start.poll_phase_ms.into())));
    }
    // A TOML integer ends at 63 bits.
    if start.link_key != usual.link_key {
        text.push_str(&format!(", link-key = \"{:#x}\"", start.link_key));
    }
    text + " }"
}

fn expected(text: &mut String, outcome: &Expected) {
    let basis = match outcome.basis {
        Basis::Seen => "seen",
        Basis::True => "true",
    };
    text.push_str(&format!("\n[expected]\nrule = {}\nbasis = \"{basis}\"\n", quoted(&outcome.rule)));
    // Debug prints the shortest decimal that reads back to the same bits, always as a float.
    text.push_str(&format!("outcome = {}\nmargin = {:?}\n", quoted(&outcome.outcome), outcome.margin));
    text.push_str(&format!("unit = {}\nat = \"{}\"\n", quoted(&outcome.unit), duration_text(outcome.at_ms)));
    for (key, value) in [
        ("says", &outcome.says),
        ("controller", &outcome.controller),
        ("seed-comment", &outcome.seed_comment),
        ("versions", &outcome.versions),
    ] {
        text.push_str(&format!("{key} = {}\n", quoted(value)));
    }
    if !outcome.breaks_with.is_empty() {
        list(text, "breaks-with", outcome.breaks_with.iter().cloned());
    }
}

fn list(text: &mut String, key: &str, lines: impl Iterator<Item = String>) {
    text.push_str(&format!("{key} = [\n"));
    for line in lines {
        text.push_str(&format!("  {},\n", quoted(&line)));
    }
    text.push_str("]\n");
}

/// A TOML string on one line.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            _ if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            _ => out.push(c),
        }
    }
    out + "\""
}

/// A TOML string over several lines, as it is where TOML allows that.
fn block(text: &str) -> String {
    let plain = !text.contains("'''")
        && !text.ends_with('\'')
        && text.chars().all(|c| matches!(c, '\n' | '\t') || !c.is_control());
    if plain { format!("'''\n{text}'''") } else { quoted(text) }
}
