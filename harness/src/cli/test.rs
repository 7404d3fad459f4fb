//! `sprag test`: drives a run, writes the evidence, prints the screen.

use super::Color;
use super::clock;
use super::clock::Stopwatch;
use super::engine;
use super::exit::Ended;
use super::exit::Failure;
use super::interrupt::Interrupt;
use super::out;
use super::progress;
use crate::campaign::Finished;
use crate::campaign::Options;
use crate::campaign::Stop;
use crate::campaign::saved_drives;
use crate::date::Date;
use crate::evidence;
use crate::outcome::Exit;
use crate::spec::link::MOST_ORDER_EVENTS;
use serde_json::Value;
use serde_json::json;
use std::num::NonZeroUsize;
use std::path::Path;
use std::path::PathBuf;

/// Default limit for one answer, ms of wall time.
pub const ANSWER_LIMIT_MS: u64 = 1000;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The spec file; specs/README.md lists its keys
    spec: PathBuf,
    /// The controller: builtin:NAME, or cmd:PROGRAM ARGS
    ///
    /// builtin:reference follows map and box facts to the letter; the other built-in ones each have a seeded fault
    /// ('sprag selftest' lists them). A program answers line by line on its standard input and output:
    /// harness/src/controller/PROTOCOL.md says how.
    #[arg(long, default_value = "builtin:reference", value_name = "CONTROLLER")]
    controller: String,
    /// Which run of the spec
    #[arg(long, default_value = "commit", value_name = "NAME")]
    run: String,
    /// Only this manoeuvre; may be given more than once
    #[arg(long, value_name = "MANOEUVRE")]
    only: Vec<String>,
    /// Number of random drives, instead of the run's
    #[arg(long, value_name = "N")]
    random: Option<u32>,
    /// Only the first N drives of the plan, in which the kinds come by turns; saved drives come before them
    #[arg(long, value_name = "N")]
    first: Option<u32>,
    /// Number of search drives, instead of the run's; without it no more than random ones
    #[arg(long, value_name = "N")]
    search: Option<u32>,
    /// Most events of an event order (0 to 4), instead of the run's; of a program no more than 2 unless given here
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(..=i64::from(MOST_ORDER_EVENTS)))]
    orders: Option<u8>,
    /// Seed of the random drives, instead of the run's
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Budget of one shrinking in drives, instead of the run's
    #[arg(long, value_name = "N")]
    shrink_drives: Option<u32>,
    /// Worker threads; the outcome is the same for any number [default: all]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
    /// Where the evidence goes [default: evidence/NAME-OF-THE-SPEC]
    #[arg(long, value_name = "FOLDER")]
    evidence: Option<PathBuf>,
    /// Write no evidence
    #[arg(long, conflicts_with = "evidence")]
    no_evidence: bool,
    /// Folder of drives saved with the build, driven first
    #[arg(long, value_name = "FOLDER")]
    saved: Option<PathBuf>,
    /// The day against which the spec's waivers are judged, for example 2026-11-25; never taken from the clock
    #[arg(long, value_name = "DAY", value_parser = Date::parse)]
    as_of: Option<Date>,
    /// The spec as it was: limits loosened, waivers and rules switched off since then are named
    #[arg(long, value_name = "SPEC")]
    baseline: Option<PathBuf>,
    /// How to show progress
    #[arg(long, value_enum, default_value = "auto", value_name = "HOW")]
    progress: progress::Mode,
    /// Wall time that the controller has for one answer, ms
    #[arg(long, default_value_t = ANSWER_LIMIT_MS, value_name = "MS", value_parser = clap::value_parser!(u64).range(1..))]
    answer_limit_ms: u64,
}

/// Runs the command.
pub fn run(args: &Args, color: Color) -> Result<Ended, Failure> {
    let started_s = clock::now_s();
    let watch = Stopwatch::start();
    let stamp_s = clock::stamp_s().map_err(|says| Failure::new(Exit::Usage, says))?;
    let spec = engine::load(&args.spec)?;
    let spec_toml = spec.to_toml();
    let controller = engine::controller(&args.controller, args.answer_limit_ms)?;
    let interrupt = Interrupt::watch()?;
    let jobs = args.jobs.map_or_else(clock::threads, NonZeroUsize::get);
    let saved = match &args.saved {
        Some(folder) => saved_drives(folder).map_err(|why| Failure::new(Exit::Usage, why))?,
        None => Vec::new(),
    };
    let options = Options {
        run: args.run.clone(),
        only: args.only.clone(),
        random: args.random,
        first: args.first,
        shrink_drives: args.shrink_drives,
        orders: args.orders,
        search: args.search,
        seed: args.seed,
        jobs,
        saved,
        as_of: args.as_of,
        baseline: args.baseline.as_deref().map(engine::load).transpose()?,
    };
    let folder = args.evidence.clone().unwrap_or_else(|| Path::new("evidence").join(evidence::file_name(&spec.name)));
    // A failing drive is on disk before it is shrunk, so that nothing found is lost.
    let mut save = |name: &str, text: &str| {
        if args.no_evidence {
            return;
        }
        if let Err(error) = evidence::write_drive(&folder, name, text) {
            out::complain(&format!("a failing drive could not be saved: {error}"));
        }
    };
    let mut shown = progress::Shown::new(args.progress);
    let stop = Stop(&interrupt.stop);
    let finished = engine::run(&spec, controller.as_ref(), &options, &stop, &mut save, &mut |p| shown.at(&p));
    shown.end();
    let Finished { report, drives, .. } = finished?;
    // Read once, so that files, screen and code agree.
    let signal = interrupt.signal();
    let mut exit = report.exit();
    let mut standing = None;
    if !args.no_evidence {
        let volatile = volatile(started_s, watch.seconds(), jobs);
        let files = evidence::Files {
            report: &report,
            spec_toml: &spec_toml,
            drives: &drives,
            volatile,
            interrupted: signal.is_some(),
            stamp_s,
        };
        match evidence::write(&folder, &files) {
            Ok(()) => standing = Some(folder.display().to_string()),
            Err(error) => {
                out::complain(&format!("the evidence could not be written: {error}"));
                exit = exit.and(Exit::NotWritten);
            }
        }
    }
    let colour = match color {
        Color::Always => true,
        Color::Never => false,
        Color::Auto => clock::wants_colour(),
    };
    let look = evidence::Look { folder: standing.as_deref(), colour, interrupted: signal.is_some() };
    let mut text = evidence::screen(&report, &look);
    if let Some(folder) = &standing {
        text.push_str(&format!("Evidence: {folder}\n"));
    }
    out::print(&text)?;
    Ok(Ended { exit, signal })
}

/// What differs between equal runs.
fn volatile(started_s: i64, wall_seconds: f64, jobs: usize) -> Value {
    json!({
        "started": clock::utc(started_s),
        "wall-seconds": wall_seconds,
        "jobs": jobs,
        "command-line": clock::command_line(),
        "machine": {
            "system": std::env::consts::OS,
            "processor": std::env::consts::ARCH,
            "threads": clock::threads(),
        },
    })
}
