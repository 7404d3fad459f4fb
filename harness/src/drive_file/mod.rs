//! The drive file: one drive that stands alone, as a few lines of text that go by mail.
//!
//! It carries the drive, and for a failing one also the spec it ran under, the expected outcome, what the box did and
//! the ticks around the failure, so that it can be shown and judged again without spec or build. Opening one starts no
//! program and reads no other file.

mod did;
mod read;
#[cfg(test)]
mod tests;
mod write;

use crate::drive::Drive;
pub use crate::drive_check::check;
pub use did::{Did, parse_did};
use std::fmt;

/// The format that this version writes and reads.
pub const FORMAT: i64 = 1;
/// No drive file is larger than this, bytes.
pub const LARGEST: usize = 8 << 20;

/// A drive file.
#[derive(Debug, Clone, PartialEq)]
pub struct DriveFile {
    /// Name of the drive.
    pub name: String,
    /// The drive.
    pub drive: Drive,
    /// The resolved spec it ran under, as TOML text.
    pub spec: Option<String>,
    /// What its run is expected to show.
    pub expected: Option<Expected>,
    /// What the box did: each change of what it put out, in order of time.
    pub did: Vec<Did>,
    /// The recorded ticks around the failure, as rows of text.
    pub ticks: Vec<String>,
}

/// From which side an outcome was judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// On what was delivered to the box or put out by it.
    Seen,
    /// On what the vehicle did.
    True,
}

/// The outcome that a drive is kept for.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// Identifier of the rule.
    pub rule: String,
    /// The side it was judged from.
    pub basis: Basis,
    /// The outcome in one word: "broken".
    pub outcome: String,
    /// The margin, finite, in the rule's unit; kept to the bit.
    pub margin: f64,
    /// The rule's unit.
    pub unit: String,
    /// When, ms since the start of the drive.
    pub at_ms: u32,
    /// What happened, in a sentence.
    pub says: String,
    /// With which numbers of the drive, each alone, it comes too.
    pub breaks_with: Vec<String>,
    /// The controller that did it.
    pub controller: String,
    /// Where the drive came from, for people only: the drive needs no seed.
    pub seed_comment: String,
    /// Versions of vehicle model, rule and generator.
    pub versions: String,
}

/// What is wrong in a drive file, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DriveFileError {
    /// The file as the user named it.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong and what would be right.
    pub message: String,
}

impl fmt::Display for DriveFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}: {}", self.file, self.line, self.column, self.message)
    }
}

impl std::error::Error for DriveFileError {}

impl DriveFile {
    /// A file that holds a drive and nothing else.
    #[must_use]
    pub fn new(name: &str, drive: Drive) -> Self {
        Self { name: name.to_owned(), drive, spec: None, expected: None, did: Vec::new(), ticks: Vec::new() }
    }

    /// Reads a drive file; `file_name` is for messages only.
    ///
    /// # Errors
    /// The first thing that is wrong, with its place.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, DriveFileError> {
        read::parse(text).map_err(|fault| {
            let before = text.get(..fault.at.min(text.len())).unwrap_or(text);
            let line_start = before.rfind('\n').map_or(0, |at| at + 1);
            DriveFileError {
                file: file_name.to_owned(),
                line: before.matches('\n').count() + 1,
                column: before[line_start..].chars().count() + 1,
                message: fault.message,
            }
        })
    }

    /// The text of the file; reads back the same as long as the drive passes [`check`] and the margin is finite.
    #[must_use]
    pub fn to_text(&self) -> String {
        write::text(self)
    }
}
