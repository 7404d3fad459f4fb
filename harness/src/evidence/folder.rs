//! The evidence folder: every file whole or absent, and the manifest last, so that a folder with a manifest is complete.

use super::junit::junit;
use super::results::results;
use super::summary::summary;
use super::trace;
use crate::outcome::Report;
use serde_json::Value;
use sha2::Digest;
use sha2::Sha256;
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

/// The manifest's name; `sha256sum -c` reads it.
pub const MANIFEST: &str = "manifest.sha256";
/// The one file that differs between equal runs; the manifest leaves it out.
const VOLATILE: &str = "volatile.json";

/// What goes into the folder.
#[derive(Debug)]
pub struct Files<'a> {
    /// The report.
    pub report: &'a Report,
    /// The resolved spec.
    pub spec_toml: &'a str,
    /// Names and texts of the drive files.
    pub drives: &'a [(String, String)],
    /// Start time, wall time, machine and what else differs from run to run.
    pub volatile: Value,
    /// The run was ended early: the files say so.
    pub interrupted: bool,
    /// The time stamp in files that need one, seconds since 1970; 0 where the user names none.
    pub stamp_s: i64,
}

/// Where a drive file stands in the folder.
#[must_use]
pub fn drive_path(file: &str) -> String {
    format!("drives/{}", file.strip_prefix("drives/").unwrap_or(file))
}

/// Text as a file name: letters, digits, `.`, `_` and `-` only, as upload services ask for, and no dot in front.
#[must_use]
pub fn file_name(text: &str) -> String {
    let name: String =
        text.chars().map(|c| if c.is_ascii_alphanumeric() || "._-".contains(c) { c } else { '-' }).collect();
    let name = name.trim_start_matches('.');
    if name.is_empty() { "unnamed".to_owned() } else { name.to_owned() }
}

/// Writes the folder. Files of an earlier run are replaced; files that are not ours stay.
///
/// # Errors
/// With the file that could not be written.
pub fn write(folder: &Path, files: &Files<'_>) -> io::Result<()> {
    let mut texts = BTreeMap::from([
        ("junit.xml".to_owned(), junit(files.report, files.interrupted, files.stamp_s)?),
        ("results.json".to_owned(), pretty(&results(files.report, files.interrupted))?),
        ("spec.toml".to_owned(), files.spec_toml.to_owned()),
        ("summary.md".to_owned(), summary(files.report, files.interrupted)),
        ("traceability.md".to_owned(), trace::page(files.report)),
    ]);
    for (name, text) in files.drives {
        let path = drive_path(name);
        if !is_drive_path(&path) {
            let what = format!("{name:?} is no name for a drive file: letters, digits, '.', '_' and '-' only");
            return Err(io::Error::new(io::ErrorKind::InvalidInput, what));
        }
        if texts.insert(path, text.clone()).is_some() {
            let what = format!("two drive files are called {name:?}");
            return Err(io::Error::new(io::ErrorKind::InvalidInput, what));
        }
    }
    make_folder(&folder.join("drives"))?;
    forget_earlier(folder)?;
    for (name, text) in &texts {
        put(folder, name, text)?;
    }
    put(folder, VOLATILE, &pretty(&files.volatile)?)?;
    put(folder, MANIFEST, &manifest(&texts))
}

/// Writes one drive file ahead of the rest, so that it is on disk before anything else is done with it.
///
/// # Errors
/// With the file that could not be written.
pub fn write_drive(folder: &Path, name: &str, text: &str) -> io::Result<()> {
    make_folder(&folder.join("drives"))?;
    put(folder, &drive_path(name), text)
}

/// One line a file: digest, two blanks, name; sorted by name.
fn manifest(texts: &BTreeMap<String, String>) -> String {
    texts.iter().map(|(name, text)| format!("{}  {name}\n", sha256(text.as_bytes()))).collect()
}

/// SHA-256 in hex.
fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Takes away the earlier manifest, so that the folder counts as incomplete from here on, and the drive files it names.
fn forget_earlier(folder: &Path) -> io::Result<()> {
    let path = folder.join(MANIFEST);
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(at(&path, &error)),
    };
    fs::remove_file(&path).map_err(|error| at(&path, &error))?;
    // A manifest from elsewhere may name anything: only what can be a drive file of ours is taken away.
    for name in text.lines().filter_map(|l| l.split_once("  ")).map(|(_, name)| name).filter(|n| is_drive_path(n)) {
        match fs::remove_file(folder.join(name)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(at(&folder.join(name), &error)),
            _ => {}
        }
    }
    Ok(())
}

fn is_drive_path(path: &str) -> bool {
    path.strip_prefix("drives/").is_some_and(|name| !name.is_empty() && file_name(name) == name)
}

/// Writes beside and renames: a reader never meets half a file.
fn put(folder: &Path, name: &str, text: &str) -> io::Result<()> {
    let path = folder.join(name);
    let beside = folder.join(format!("{name}.part"));
    fs::write(&beside, text).and_then(|()| fs::rename(&beside, &path)).map_err(|error| at(&path, &error))
}

fn make_folder(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder).map_err(|error| at(folder, &error))
}

fn pretty(value: &Value) -> io::Result<String> {
    Ok(serde_json::to_string_pretty(value)? + "\n")
}

fn at(path: &Path, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", path.display()))
}

#[cfg(test)]
#[path = "folder_tests.rs"]
mod tests;
