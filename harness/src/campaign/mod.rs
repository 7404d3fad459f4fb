//! A campaign: drives a plan, gathers what the rules measured, shrinks each failing moment, finds whose fault it is.
//!
//! The only module that knows all others. Everything it says follows from (spec, build, plan, seed); the number of
//! threads changes nothing.

mod again;
mod ahead;
mod bad_map;
pub mod blame;
pub mod corners;
pub mod drive_out;
pub mod gather;
pub mod look;
pub mod moments;
pub mod plan;
mod read_back;
pub mod rig;
pub mod sweep;
mod terms;
mod together;
mod turns;
pub mod waived;

use crate::controller::{NotStarted, Source};
use crate::date::Date;
use crate::drive::Drive;
use crate::outcome::{Blame, Report};
use crate::spec::Spec;
use plan::{Asked, Plan};
use std::fmt;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// What the user asked for beyond the spec.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// Name of the run.
    pub run: String,
    /// Only these manoeuvres.
    pub only: Vec<String>,
    /// Number of random drives instead of the run's.
    pub random: Option<u32>,
    /// Only so many drives of the plan, from its start, after the saved ones.
    pub first: Option<u32>,
    /// Budget of one shrinking in drives, instead of the run's.
    pub shrink_drives: Option<u32>,
    /// Seed instead of the run's.
    pub seed: Option<u64>,
    /// Most events of an order instead of the run's; of a program no more than two unless asked for.
    pub orders: Option<u8>,
    /// Number of search drives instead of the run's.
    pub search: Option<u32>,
    /// Threads.
    pub jobs: usize,
    /// Saved drives, run first: name and drive.
    pub saved: Vec<(String, Drive)>,
    /// The day against which waivers are judged; a spec with waivers needs one.
    pub as_of: Option<Date>,
    /// The spec of an earlier state: what has been loosened, waived and switched off since is named.
    pub baseline: Option<Spec>,
}

/// How far a campaign has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Drives done.
    pub done: usize,
    /// Drives planned.
    pub total: usize,
    /// Simulated so far, ms.
    pub simulated_ms: u64,
    /// What is being done.
    pub doing: &'static str,
}

/// Whether the user wants to stop.
#[derive(Debug, Clone, Copy)]
pub struct Stop<'a>(pub &'a AtomicBool);

impl Stop<'_> {
    /// Asked to stop.
    #[must_use]
    pub fn asked(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// What a campaign leaves.
#[derive(Debug, Clone)]
pub struct Finished {
    /// What it says.
    pub report: Report,
    /// Drive files: name and text.
    pub drives: Vec<(String, String)>,
    /// The user asked to stop before the end.
    pub stopped: bool,
}

/// Why a campaign didn't run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotRun {
    /// Usage: what the user named doesn't exist.
    Usage(String),
    /// The controller wasn't started.
    NotStarted(NotStarted),
}

impl fmt::Display for NotRun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Usage(why) => f.write_str(why),
            Self::NotStarted(why) => why.fmt(f),
        }
    }
}

impl std::error::Error for NotRun {}

/// Each tick of a program costs two changes between processes, so its event orders are no longer than this unless asked
/// for.
const PROGRAM_ORDERS: u8 = 2;

/// Where failing drives are saved while they are being shrunk: the raw one first, each better one in its place.
pub type Save<'a> = &'a mut dyn FnMut(&str, &str);

/// Runs a campaign.
///
/// # Errors
/// The run, a manoeuvre or the controller doesn't exist.
pub fn run(
    spec: &Spec,
    source: &dyn Source,
    options: &Options,
    stop: &Stop<'_>,
    save: Save<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Finished, NotRun> {
    let run = spec.runs.get(&options.run).ok_or_else(|| {
        let names: Vec<&str> = spec.runs.keys().map(String::as_str).collect();
        NotRun::Usage(format!("the spec has no run \"{}\"; it has: {}", options.run, names.join(", ")))
    })?;
    let mut run = run.clone();
    if source.takes_turns() {
        run.order_events = run.order_events.min(PROGRAM_ORDERS);
    }
    run.shrink_drives = options.shrink_drives.unwrap_or(run.shrink_drives);
    let run = &run;
    let asked = Asked {
        only: &options.only,
        random: options.random,
        first: options.first,
        seed: options.seed,
        orders: options.orders,
        search: options.search,
        long: options.run != "commit",
    };
    let plan = Plan::new(spec, run, options.saved.clone(), &asked).map_err(NotRun::Usage)?;
    let waivers = terms::holding(spec, options.as_of).map_err(NotRun::Usage)?;
    let driven = sweep::sweep(spec, source, &plan, options.jobs, stop, progress).map_err(NotRun::NotStarted)?;
    progress(Progress {
        done: driven.len(),
        total: plan.len(),
        simulated_ms: driven.iter().map(|d| u64::from(d.driven_ms)).sum(),
        doing: "shrinking",
    });
    let finding = moments::Finding {
        spec,
        source,
        plan: &plan,
        run,
        driven: &driven,
        waivers: &waivers,
        only: None,
        jobs: options.jobs,
    };
    let found = moments::find(&finding, save).map_err(NotRun::NotStarted)?;
    let full = options.only.is_empty();
    let mut rules = gather::rules(spec, &plan, run, &driven, &found, full);
    gather::hangs_on_data(spec, source, &plan, &driven, &mut rules).map_err(NotRun::NotStarted)?;
    let unfit = found.moments.iter().find(|m| m.blame == Blame::Rig).map(|m| {
        let what = m.broken.first().map_or(String::new(), |b| format!("{}: {}", b.card.name, b.says));
        format!("the reference breaks a rule that no map can break ({what})")
    });
    let spec_toml = spec.to_toml();
    let report = Report {
        spec: spec.name.clone(),
        spec_digest: crate::digest::sha256_hex(spec_toml.as_bytes()),
        vehicle: spec.vehicle.name.clone(),
        controller: source.name(),
        run: options.run.clone(),
        seed: plan.seed(),
        drives: plan.kinds(driven.len()),
        simulated_ms: driven.iter().map(|d| u64::from(d.driven_ms)).sum(),
        straying: driven.iter().filter_map(|d| d.straying.clone()).collect(),
        engagement_by_commands: found.engagement_by_commands,
        rules,
        terms: terms::terms(spec, options, &found.moments),
        moments: found.moments,
        unfit,
        versions: versions(),
    };
    Ok(Finished { report, drives: found.files, stopped: stop.asked() })
}

/// Versions of what a result depends on besides spec and build.
#[must_use]
pub fn versions() -> String {
    let rules: Vec<String> = crate::rules::RULES.iter().map(|r| r.card.version.to_string()).collect();
    format!(
        "sprag {}, vehicle model {}, {}, {}, rules {}",
        env!("CARGO_PKG_VERSION"),
        crate::vehicle::MODEL,
        crate::make::GENERATOR,
        crate::search::SEARCH,
        rules.join(".")
    )
}

/// A file name from a sentence: letters, digits and hyphens.
#[must_use]
pub fn file_name(text: &str) -> String {
    let plain: String =
        text.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    plain.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-")
}

/// Reads the saved drives of a folder, sorted by file name.
///
/// # Errors
/// The folder or a file can't be read; the sentence says which.
pub fn saved_drives(folder: &Path) -> Result<Vec<(String, Drive)>, String> {
    let entries = std::fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let mut paths: Vec<_> = entries
        .filter_map(|e| e.ok().map(|e| e.path()))
        .filter(|p| p.extension().is_some_and(|x| x == "toml"))
        .collect();
    paths.sort();
    paths
        .into_iter()
        .map(|path| {
            let name = path.display().to_string();
            let text = std::fs::read_to_string(&path).map_err(|e| format!("{name}: {e}"))?;
            let file = crate::drive_file::DriveFile::parse(&text, &name).map_err(|e| e.to_string())?;
            Ok((format!("saved {}", file.name), file.drive))
        })
        .collect()
}
