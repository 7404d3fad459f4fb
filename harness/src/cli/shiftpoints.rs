//! `sprag shiftpoints`: where a build really shifts, measured, against the map's lines.

use super::clock;
use super::engine;
use super::exit::Ended;
use super::exit::Failure;
use super::interrupt::Interrupt;
use super::out;
use super::progress;
use super::test::ANSWER_LIMIT_MS;
use crate::campaign::Progress;
use crate::outcome::Exit;
use crate::shift_points;
use crate::shift_points::Options;
use crate::shift_points::Pedals;
use std::num::NonZeroUsize;
use std::path::Path;
use std::path::PathBuf;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The spec file; specs/README.md lists its keys
    spec: PathBuf,
    /// The controller: builtin:NAME, or cmd:PROGRAM ARGS
    #[arg(long, default_value = "builtin:reference", value_name = "CONTROLLER")]
    controller: String,
    /// Measure at each N-th pedal code, instead of those at, beside and between the map's positions
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..))]
    pedal_step: Option<u8>,
    /// Measure at all 256 pedal codes
    #[arg(long, conflicts_with = "pedal_step")]
    all_codes: bool,
    /// Write every measured point to this file
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Draw the measured points over the map's lines into this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Worker threads; the outcome is the same for any number [default: all]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
    /// How to show progress
    #[arg(long, value_enum, default_value = "auto", value_name = "HOW")]
    progress: progress::Mode,
    /// Wall time that the controller has for one answer, ms
    #[arg(long, default_value_t = ANSWER_LIMIT_MS, value_name = "MS", value_parser = clap::value_parser!(u64).range(1..))]
    answer_limit_ms: u64,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Ended, Failure> {
    let spec = engine::load(&args.spec)?;
    let controller = engine::controller(&args.controller, args.answer_limit_ms)?;
    let interrupt = Interrupt::watch()?;
    let pedals = match args.pedal_step {
        _ if args.all_codes => Pedals::Step(1),
        Some(step) => Pedals::Step(step),
        None => Pedals::Usual,
    };
    let options = Options { pedals, jobs: args.jobs.map_or_else(clock::threads, NonZeroUsize::get) };
    let mut shown = progress::Shown::new(args.progress);
    let mut progress =
        |done, total| shown.at(&Progress { done, total, simulated_ms: 0, doing: "measuring shift points" });
    let measured = engine::shift_points(&spec, controller.as_ref(), &options, &interrupt.stop, &mut progress);
    shown.end();
    let measured = measured?;
    let signal = interrupt.signal();
    out::print(&shift_points::table(&spec, &measured))?;
    let mut exit = measured.exit(&spec);
    let files = [(&args.csv, shift_points::csv(&measured)), (&args.svg, shift_points::svg(&spec, &measured))];
    for (path, text) in files {
        if let Some(path) = path
            && let Err(why) = write(path, &text)
        {
            out::complain(&why);
            exit = exit.and(Exit::NotWritten);
        }
    }
    Ok(Ended { exit, signal })
}

fn write(path: &Path, text: &str) -> Result<(), String> {
    std::fs::write(path, text).map_err(|error| format!("{} could not be written: {error}", path.display()))
}
