//! What the commands call: the only file here that names the reader, the controllers, the campaign and replay.

use super::exit::Ended;
use super::exit::Failure;
use crate::controller::Source;
use crate::outcome::Exit;
use crate::outcome::Report;
use crate::outcome::RuleCard;
use crate::spec::Spec;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Where a run is.
#[derive(Debug, Clone)]
pub struct Progress {
    /// What is being driven.
    pub what: String,
    /// Drives done.
    pub done: u64,
    /// Drives to do.
    pub total: u64,
    /// Failing moments until now.
    pub failing: u64,
}

/// What the command line asks of a run.
#[derive(Debug)]
#[allow(dead_code, reason = "read by the campaign")]
pub struct Options<'a> {
    /// Name of the run.
    pub run: String,
    /// Only these manoeuvres, if any.
    pub only: Vec<String>,
    /// Number of random drives, if not the run's.
    pub random: Option<u32>,
    /// Seed, if not the run's.
    pub seed: Option<u64>,
    /// Worker threads.
    pub jobs: usize,
    /// Once set, the run ends early with what it has.
    pub stop: &'a AtomicBool,
}

/// A run's report and its drive files.
#[derive(Debug)]
pub struct Finished {
    /// The report.
    pub report: Report,
    /// Names and texts of the drive files.
    pub drives: Vec<(String, String)>,
}

fn not_built_in(what: &str) -> Failure {
    Failure::new(Exit::OurBug, format!("{what} isn't built into this binary"))
}

/// Reads a spec; the failure holds all its errors.
pub fn load(_path: &Path) -> Result<Spec, Failure> {
    Err(not_built_in("the spec reader"))
}

/// The resolved spec.
pub fn to_toml(_spec: &Spec) -> Result<String, Failure> {
    Err(not_built_in("the spec writer"))
}

/// The JSON Schema of the spec.
pub fn schema_json() -> Result<String, Failure> {
    Err(not_built_in("the schema"))
}

/// Finds a controller by its name on the command line.
pub fn controller(_text: &str, _answer_limit_ms: u64) -> Result<Box<dyn Source>, Failure> {
    Err(not_built_in("controllers"))
}

/// Drives a run.
pub fn run(
    _spec: &Spec,
    _controller: &dyn Source,
    _options: &Options<'_>,
    _progress: &mut dyn FnMut(&Progress),
) -> Result<Finished, Failure> {
    Err(not_built_in("the campaign"))
}

/// All rules.
pub fn cards() -> &'static [&'static RuleCard] {
    &[]
}

/// Shows a drive file again, with a controller if one is named: what to print, and the code.
pub fn replay(_file: &Path, _controller: Option<&dyn Source>, _json: bool) -> Result<(String, Ended), Failure> {
    Err(not_built_in("replay"))
}
