//! Reads a spec and the files it names: all errors of all files at once, and never more than the text says.

use super::error::{SpecError, SpecErrors};
use super::facts::{BoxFacts, OutOfFirst};
use super::map::ShiftMap;
use super::read_map::{self, Gears};
use super::reader::{Doc, Log, MOST_ERRORS, Table, Value};
use super::values::kind_of;
use super::vehicle::{GateMeans, Vehicle};
use super::written::WrittenMap;
use super::{Spec, map_csv, read_box, read_vehicle, terms};
use crate::units::Ms;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use toml::de::{DeTable, DeValue};

/// The format of files that this version reads.
pub const FORMAT: u32 = 1;
/// No file of a spec is larger, bytes.
pub const LARGEST_FILE: usize = 1 << 20;

/// Reads a spec file; files it names are looked up beside it.
///
/// # Errors
/// All that is wrong with the spec and the files it names.
pub fn load(path: &Path) -> Result<Spec, SpecErrors> {
    load_written(path).map(|(spec, _)| spec)
}

/// Reads a spec file as `load` does, and gives its map as it is written too.
///
/// # Errors
/// All that is wrong with the spec and the files it names.
pub fn load_written(path: &Path) -> Result<(Spec, WrittenMap), SpecErrors> {
    let name = path.display().to_string();
    let text = read_file(path).map_err(|why| SpecErrors { lines: vec![SpecError::whole(&name, &why)] })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    parse_written(&text, &name, &mut |file| read_file(&folder.join(file)))
}

/// Reads a spec file with another text in place of its map's file (or of the spec, where the map stands within it).
///
/// # Errors
/// All that is wrong with the spec and the files it names.
pub fn load_with_map(path: &Path, map: &WrittenMap, text: &str) -> Result<(Spec, WrittenMap), SpecErrors> {
    let name = path.display().to_string();
    if map.file == name {
        let folder = path.parent().unwrap_or(Path::new(""));
        return parse_written(text, &name, &mut |file| read_file(&folder.join(file)));
    }
    let spec = read_file(path).map_err(|why| SpecErrors { lines: vec![SpecError::whole(&name, &why)] })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    parse_written(&spec, &name, &mut |file| {
        let file = folder.join(file);
        if file.display().to_string() == map.file { Ok(text.to_owned()) } else { read_file(&file) }
    })
}

/// A file's text, where it is one that can be read at all.
fn read_file(path: &Path) -> Result<String, String> {
    let unreadable = |why: std::io::Error| format!("the file can't be read: {why}");
    // A pipe or device would block or never end.
    if !path.metadata().map_err(unreadable)?.is_file() {
        return Err("this is no file".to_owned());
    }
    let mut bytes = Vec::new();
    let limit = LARGEST_FILE as u64 + 1;
    File::open(path).map_err(unreadable)?.take(limit).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() > LARGEST_FILE {
        return Err("the file is larger than 1 MiB".to_owned());
    }
    String::from_utf8(bytes).map_err(|wrong| {
        let good = wrong.utf8_error().valid_up_to();
        let line = wrong.as_bytes().iter().take(good).filter(|&&b| b == b'\n').count() + 1;
        format!("line {line} is no UTF-8 text: save the file as UTF-8 (in a spreadsheet: CSV UTF-8)")
    })
}

/// Reads a spec's text. `name` is shown in errors; `open` gives the text of a file that the spec names, or why not.
///
/// # Errors
/// All that is wrong with the spec and the files it names.
pub fn parse(text: &str, name: &str, open: &mut dyn FnMut(&str) -> Result<String, String>) -> Result<Spec, SpecErrors> {
    parse_written(text, name, open).map(|(spec, _)| spec)
}

/// Reads a spec's text as `parse` does, and gives its map as it is written too.
///
/// # Errors
/// All that is wrong with the spec and the files it names.
pub fn parse_written(
    text: &str,
    name: &str,
    open: &mut dyn FnMut(&str) -> Result<String, String>,
) -> Result<(Spec, WrittenMap), SpecErrors> {
    let log = Log::default();
    let spec = parse_with(text, name, open, &log);
    let written = log.written.take();
    finish(spec.zip(written), log, name)
}

/// Reads the CSV form of a map for a vehicle with this top gear; the lines needn't be complete.
///
/// # Errors
/// All that is wrong with it.
pub fn parse_map_csv(text: &str, file: &str, top_gear: u8) -> Result<ShiftMap, SpecErrors> {
    let log = Log::default();
    let doc = Doc { file, text, log: &log };
    let map = if fits(doc) { map_csv::map(doc, Gears { lowest: 0, lowest_up_from: 0, top: top_gear }) } else { None };
    finish(map, log, file)
}

/// The result, or the errors in the order of files and lines.
fn finish<T>(result: Option<T>, log: Log, name: &str) -> Result<T, SpecErrors> {
    let mut lines = log.errors.into_inner();
    match result {
        Some(result) if lines.is_empty() => Ok(result),
        _ => {
            // The spec itself first, then the files it names.
            lines.sort_by(|a, b| {
                (a.file != name, &a.file, a.line, a.column).cmp(&(b.file != name, &b.file, b.line, b.column))
            });
            lines.dedup();
            if lines.len() >= MOST_ERRORS {
                lines.push(SpecError::whole(name, &format!("only the first {MOST_ERRORS} errors are listed")));
            }
            if lines.is_empty() {
                lines.push(SpecError::whole(name, "this can't be read"));
            }
            Err(SpecErrors { lines })
        }
    }
}

fn fits(doc: Doc<'_>) -> bool {
    let fits = doc.text.len() <= LARGEST_FILE;
    if !fits {
        doc.log.errors.borrow_mut().push(SpecError::whole(doc.file, "the file is larger than 1 MiB"));
    }
    fits
}

/// The table of a TOML file without syntax errors.
fn syntax<'d>(doc: Doc<'d>) -> Option<toml::Spanned<DeTable<'d>>> {
    if !fits(doc) {
        return None;
    }
    let (table, errors) = DeTable::parse_recoverable(doc.text);
    for error in &errors {
        doc.fail(error.span().unwrap_or(0..0), error.message());
    }
    // Errors of meaning that only follow from a broken line would hide it.
    errors.is_empty().then_some(table)
}

/// Reads `format`, which each file must have and an inline table needn't.
fn format(t: &Table<'_>, must: bool) -> Option<()> {
    let Some(value) = t.find("format", "integer", must) else { return (!must).then_some(()) };
    let right = value.get_ref().as_integer().is_some_and(|n| n.radix() == 10 && n.as_str() == FORMAT.to_string());
    if !right {
        t.fail("format", &format!("`format` must be {FORMAT}: this version reads no other"));
    }
    right.then_some(())
}

pub(super) fn parse_with(
    text: &str,
    name: &str,
    open: &mut dyn FnMut(&str) -> Result<String, String>,
    log: &Log,
) -> Option<Spec> {
    let doc = Doc { file: name, text, log };
    let table = syntax(doc)?;
    let t = Table::new(doc, "", table.get_ref(), 0..0);
    // Of another format nothing else is known.
    format(&t, true)?;
    let spec_name = t.text("name", true);
    let vehicle = t.find("vehicle", "table or file", true).and_then(|v| vehicle(&t, v, open));
    let top = vehicle.as_ref().and_then(|v| u8::try_from(v.gearbox.ratios.len()).ok());
    let b = t.table("box");
    let facts = b.as_ref().and_then(|b| read_box::facts(b, top));
    if let Some(b) = b {
        let commands_first = facts.as_ref().is_some_and(|f| f.out_of_first == OutOfFirst::Commanded);
        if commands_first && vehicle.as_ref().is_some_and(|v| v.gearbox.gate.means == GateMeans::RangeLimit) {
            b.fail("out-of-first", "below a range limit the gearbox goes up by itself: `out-of-first = \"commanded\"` is for a gate that holds a gear");
        }
        b.done();
    }
    let l = t.table_or_empty("limits");
    // Without the table its two missing limits are named, which says more than the missing table.
    t.note("limits", "table", true);
    let limits = read_box::limits(&l, vehicle.as_ref().map(|v| v.engine.redline.value));
    l.done();
    let k = t.table_or_empty("link");
    let link = read_box::link(&k, facts.as_ref().map_or(Ms::new(1.0), |f| f.tick));
    k.done();
    let runs = read_box::runs(&t.table_or_empty("runs"));
    let c = t.table_or_empty("rules");
    let rules = terms::choice(&c);
    c.done();
    let waivers = terms::waivers(&t);
    let gears = Gears {
        lowest: facts.as_ref().map_or(0, |f| f.lowest_gear),
        lowest_up_from: facts.as_ref().map_or(0, BoxFacts::lowest_up_from),
        top: top.unwrap_or(0),
    };
    let map = t.find("map", "table or file", true).and_then(|v| map(&t, v, open, gears));
    t.done();
    Some(Spec {
        format: FORMAT,
        name: spec_name?.to_owned(),
        facts: facts?,
        limits: limits?,
        link: link?,
        runs,
        rules,
        waivers,
        map: map?,
        vehicle: vehicle?,
    })
}

fn vehicle(t: &Table<'_>, value: &Value<'_>, open: &mut dyn FnMut(&str) -> Result<String, String>) -> Option<Vehicle> {
    let read = |part: Table<'_>, own_file: bool| {
        let known_format = format(&part, own_file);
        let vehicle = known_format.and_then(|()| read_vehicle::vehicle(&part));
        if known_format.is_some() {
            part.done();
        }
        vehicle
    };
    if let DeValue::Table(_) = value.get_ref() {
        return t.inner("vehicle", value).and_then(|part| read(part, false));
    }
    let (file, text) = named(t.doc, "vehicle", value, open)?;
    let doc = Doc { file: &file, text: &text, log: t.doc.log };
    let table = syntax(doc)?;
    read(Table::new(doc, "vehicle", table.get_ref(), 0..0), true)
}

fn map(
    t: &Table<'_>,
    value: &Value<'_>,
    open: &mut dyn FnMut(&str) -> Result<String, String>,
    gears: Gears,
) -> Option<ShiftMap> {
    let read = |part: Table<'_>, own_file: bool| {
        format(&part, own_file)?;
        let placement = read_map::toml(&part);
        let (doc, span) = (part.doc, part.span.clone());
        part.done();
        read_map::check(doc, &span, placement?, gears)
    };
    if let DeValue::Table(_) = value.get_ref() {
        return t.inner("map", value).and_then(|part| read(part, false));
    }
    let (file, text) = named(t.doc, "map", value, open)?;
    let doc = Doc { file: &file, text: &text, log: t.doc.log };
    if file.ends_with(".csv") {
        return if fits(doc) { map_csv::map(doc, gears) } else { None };
    }
    let table = syntax(doc)?;
    read(Table::new(doc, "map", table.get_ref(), 0..0), true)
}

/// The name to show and the text of a file named in a spec.
fn named(
    doc: Doc<'_>,
    key: &str,
    value: &Value<'_>,
    open: &mut dyn FnMut(&str) -> Result<String, String>,
) -> Option<(String, String)> {
    let Some(file) = value.get_ref().as_str() else {
        doc.fail(value.span(), &format!("`{key}` must be a file name or a table, not {}", kind_of(value)));
        return None;
    };
    let known_kind = file.ends_with(".toml") || (key == "map" && file.ends_with(".csv"));
    if !known_kind || Path::new(file).is_absolute() || file.contains('\0') {
        let kinds = if key == "map" { "a .csv or .toml file" } else { "a .toml file" };
        doc.fail(value.span(), &format!("`{key}` must name {kinds}, by a path relative to this one"));
        return None;
    }
    match open(file) {
        Ok(text) => {
            let folder = Path::new(doc.file).parent().unwrap_or(Path::new(""));
            Some((folder.join(file).display().to_string(), text))
        }
        Err(why) => {
            doc.fail(value.span(), &format!("{file}: {why}"));
            None
        }
    }
}

impl Spec {
    /// The whole spec as one TOML text that stands alone and reads back the same.
    #[must_use]
    pub fn to_toml(&self) -> String {
        // A spec holds texts and small numbers only, which TOML can always hold.
        toml::to_string(self).unwrap_or_default()
    }
}
