//! Reading a drive file.

use super::{Basis, Did, DriveFile, Expected, FORMAT, LARGEST, parse_did};
use crate::drive::{Drive, Start};
use crate::drive_check::{MOST_LINES, check_counts, check_event, check_start, check_step};
use crate::drive_text::{GRIP, SPEED, TIME, parse_event, parse_lever, parse_range, parse_step};
use serde::Deserialize;
use toml::Spanned;

/// What is wrong, at which byte.
pub(super) struct Fault {
    pub(super) at: usize,
    pub(super) message: String,
}

/// The file as it is written; texts keep their place.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    format: Spanned<i64>,
    name: String,
    drive: Spanned<RawDrive>,
    expected: Option<RawExpected>,
    recorded: Option<RawRecorded>,
    spec: Option<RawSpec>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDrive {
    #[serde(default)]
    start: RawStart,
    steps: Vec<Spanned<String>>,
    #[serde(default)]
    events: Vec<Spanned<String>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct RawStart {
    speed: Option<Spanned<String>>,
    gear: Option<Spanned<i64>>,
    lever: Option<Spanned<String>>,
    range: Option<Spanned<String>>,
    grip: Option<Spanned<String>>,
    clock: Option<Spanned<String>>,
    poll_phase: Option<Spanned<String>>,
    link_key: Option<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct RawExpected {
    rule: String,
    basis: Spanned<String>,
    outcome: String,
    margin: Spanned<f64>,
    unit: String,
    at: Spanned<String>,
    says: String,
    #[serde(default)]
    breaks_with: Vec<String>,
    controller: String,
    seed_comment: String,
    versions: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRecorded {
    #[serde(default)]
    did: Vec<Spanned<String>>,
    #[serde(default)]
    ticks: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSpec {
    toml: String,
}

pub(super) fn parse(text: &str) -> Result<DriveFile, Fault> {
    if text.len() > LARGEST {
        let message = format!("the file has {} bytes: a drive file has at most {LARGEST} (8 MiB)", text.len());
        return Err(Fault { at: 0, message });
    }
    let raw: RawFile = toml::from_str(text).map_err(|error| Fault {
        at: error.span().map_or(0, |span| span.start),
        message: error.message().to_owned(),
    })?;
    at(&raw.format, |&format| match format {
        FORMAT => Ok(()),
        _ => Err(format!("format {format} is unknown: this version reads format {FORMAT}")),
    })?;
    Ok(DriveFile {
        drive: drive(&raw.drive)?,
        name: raw.name,
        spec: raw.spec.map(|spec| spec.toml),
        expected: raw.expected.map(expected).transpose()?,
        did: raw.recorded.as_ref().map_or(Ok(Vec::new()), |recorded| did(&recorded.did))?,
        ticks: raw.recorded.map_or(Vec::new(), |recorded| recorded.ticks),
    })
}

fn drive(raw: &Spanned<RawDrive>) -> Result<Drive, Fault> {
    let inner = raw.get_ref();
    // Too many lines are refused before any is read.
    for (what, lines) in [("steps", &inner.steps), ("events", &inner.events)] {
        if let Some(line) = lines.get(MOST_LINES) {
            let message = format!("the drive has {} {what}: at most {MOST_LINES} are read", lines.len());
            return Err(Fault { at: line.span().start, message });
        }
    }
    let start = start(&inner.start, raw.span().start)?;
    let mut steps = Vec::with_capacity(inner.steps.len());
    for text in &inner.steps {
        steps.push(at(text, |text| parse_step(text).and_then(|step| check_step(&step).map(|()| step)))?);
    }
    let mut events = Vec::with_capacity(inner.events.len());
    for text in &inner.events {
        events.push(at(text, |text| parse_event(text).and_then(|event| check_event(&event).map(|()| event)))?);
    }
    let drive = Drive { start, steps, events };
    check_counts(&drive).map_err(|message| Fault { at: raw.span().start, message })?;
    Ok(drive)
}

fn start(raw: &RawStart, table_at: usize) -> Result<Start, Fault> {
    let usual = Start::default();
    let start = Start {
        speed: or(raw.speed.as_ref(), usual.speed, |text| SPEED.read(text))?,
        gear: or(raw.gear.as_ref(), usual.gear, |&gear| {
            u8::try_from(gear).map_err(|_| format!("there is no gear {gear}: from 1 to 10"))
        })?,
        lever: or(raw.lever.as_ref(), usual.lever, |text| parse_lever(text))?,
        range: or(raw.range.as_ref(), usual.range, |text| parse_range(text))?,
        clock_ms: or(raw.clock.as_ref(), usual.clock_ms, |text| TIME.read(text))?,
        poll_phase_ms: or(raw.poll_phase.as_ref(), usual.poll_phase_ms, |text| TIME.read(text))?,
        link_key: or(raw.link_key.as_ref(), usual.link_key, |text| link_key(text))?,
        grip: or(raw.grip.as_ref(), usual.grip, |text| GRIP.read(text))?,
    };
    // The place of the first number given is near enough: a start state is one line.
    let at = raw.speed.as_ref().map_or(table_at, |speed| speed.span().start);
    check_start(&start).map_err(|message| Fault { at, message })?;
    Ok(start)
}

fn link_key(text: &str) -> Result<u64, String> {
    let digits = text.strip_prefix("0x").filter(|digits| digits.bytes().all(|b| b.is_ascii_hexdigit()));
    digits.and_then(|digits| u64::from_str_radix(digits, 16).ok()).ok_or_else(|| {
        format!("\"{text}\" is no link key: write up to 16 hexadecimal digits after 0x, for example \"0x1f\"")
    })
}

fn expected(raw: RawExpected) -> Result<Expected, Fault> {
    Ok(Expected {
        rule: raw.rule,
        basis: at(&raw.basis, |text| match text.as_str() {
            "seen" => Ok(Basis::Seen),
            "true" => Ok(Basis::True),
            _ => Err(format!("\"{text}\" is no basis: write seen or true")),
        })?,
        outcome: raw.outcome,
        margin: at(&raw.margin, |margin| {
            if margin.is_finite() { Ok(*margin) } else { Err(format!("{margin} is no margin: write a finite number")) }
        })?,
        unit: raw.unit,
        at_ms: at(&raw.at, |text| TIME.read(text))?,
        says: raw.says,
        breaks_with: raw.breaks_with,
        controller: raw.controller,
        seed_comment: raw.seed_comment,
        versions: raw.versions,
    })
}

fn did(lines: &[Spanned<String>]) -> Result<Vec<Did>, Fault> {
    let mut did: Vec<Did> = Vec::with_capacity(lines.len());
    for line in lines {
        let next = at(line, |text| parse_did(text))?;
        if did.last().is_some_and(|last| last.t_ms > next.t_ms) {
            let message = format!("{} ms comes after a later line: put what the box did in order of time", next.t_ms);
            return Err(Fault { at: line.span().start, message });
        }
        did.push(next);
    }
    Ok(did)
}

/// Reads one value, and puts its place to what is wrong with it.
fn at<T, U>(value: &Spanned<T>, read: impl FnOnce(&T) -> Result<U, String>) -> Result<U, Fault> {
    read(value.get_ref()).map_err(|message| Fault { at: value.span().start, message })
}

/// Reads one value that may be absent.
fn or<T, U>(value: Option<&Spanned<T>>, usual: U, read: impl FnOnce(&T) -> Result<U, String>) -> Result<U, Fault> {
    value.map_or(Ok(usual), |value| at(value, read))
}
