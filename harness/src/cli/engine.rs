//! What the commands call: the only file here that names the reader, the controllers, the campaign and replay.

use super::exit::Ended;
use super::exit::Failure;
use super::replay_text;
use crate::campaign;
use crate::controller::Source;
use crate::controller::named::named;
use crate::controller::reference::FAULTS;
use crate::controller::reference::FaultCard;
use crate::drive_file::DriveFile;
use crate::drive_file::LARGEST;
use crate::outcome::Exit;
use crate::outcome::RuleCard;
use crate::replay;
use crate::rules::RULES;
use crate::shift_points;
use crate::spec;
use crate::spec::Spec;
use crate::spec::written::WrittenMap;
use std::io::Read;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// Reads a spec; the failure holds all its errors.
pub fn load(path: &Path) -> Result<Spec, Failure> {
    spec::load(path).map_err(|errors| Failure::new(Exit::Usage, errors.to_string()))
}

/// Reads a spec and its map as it is written; the failure holds all errors.
pub fn load_written(path: &Path) -> Result<(Spec, WrittenMap), Failure> {
    spec::load_written(path).map_err(|errors| Failure::new(Exit::Usage, errors.to_string()))
}

/// Finds a controller by its name on the command line.
pub fn controller(text: &str, answer_limit_ms: u64) -> Result<Box<dyn Source>, Failure> {
    named(text, Some(Duration::from_millis(answer_limit_ms))).map_err(|why| Failure::new(Exit::Usage, why))
}

/// Drives a run.
pub fn run(
    spec: &Spec,
    controller: &dyn Source,
    options: &campaign::Options,
    stop: &campaign::Stop<'_>,
    save: campaign::Save<'_>,
    progress: &mut dyn FnMut(campaign::Progress),
) -> Result<campaign::Finished, Failure> {
    campaign::run(spec, controller, options, stop, save, progress).map_err(|why| match &why {
        campaign::NotRun::Usage(_) => Failure::new(Exit::Usage, why.to_string()),
        campaign::NotRun::NotStarted(_) => Failure::new(Exit::NotStarted, why.to_string()),
    })
}

/// Measures shift points.
pub fn shift_points(
    spec: &Spec,
    controller: &dyn Source,
    options: &shift_points::Options,
    stop: &AtomicBool,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<shift_points::Measured, Failure> {
    shift_points::measure(spec, controller, options, stop, progress)
        .map_err(|why| Failure::new(Exit::NotStarted, why.to_string()))
}

/// All rules.
pub fn cards() -> Vec<&'static RuleCard> {
    RULES.iter().map(|rule| rule.card).collect()
}

/// The seeded faults that a rule must catch.
pub fn faults(rule: &str) -> Vec<&'static FaultCard> {
    FAULTS.iter().filter(|fault| fault.rule == rule).collect()
}

/// Reads a drive file.
pub fn drive_file(path: &Path) -> Result<DriveFile, Failure> {
    let name = path.display().to_string();
    let usage = |why: String| Failure::new(Exit::Usage, why);
    let file = std::fs::File::open(path).map_err(|e| usage(format!("{name}: {e}")))?;
    let mut text = String::new();
    // One byte more than the largest, so that the parser says that it is too large.
    file.take(LARGEST as u64 + 1).read_to_string(&mut text).map_err(|e| usage(format!("{name}: {e}")))?;
    DriveFile::parse(&text, &name).map_err(|e| usage(e.to_string()))
}

/// Shows a drive file again, with a controller if one is named: what to print, and the code.
pub fn replay(path: &Path, controller: Option<&dyn Source>, json: bool) -> Result<(String, Ended), Failure> {
    let file = drive_file(path)?;
    let name = path.display().to_string();
    let replayed = replay::replay(&file, &name, controller).map_err(|why| match &why {
        replay::CantReplay::File(_) => Failure::new(Exit::Usage, why.to_string()),
        replay::CantReplay::NotStarted(_) => Failure::new(Exit::NotStarted, why.to_string()),
    })?;
    let text = if json { replay_text::json(&file, &replayed) } else { replay_text::screen(&file, &name, &replayed) };
    Ok((text, Ended { exit: replayed.exit(), signal: None }))
}
