//! `sprag replay`: shows a failing drive again from its file; with a controller, drives it again and compares.

use super::engine;
use super::exit::Ended;
use super::exit::Failure;
use super::out;
use super::test::ANSWER_LIMIT_MS;
use std::path::PathBuf;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The drive file; it stands alone
    file: PathBuf,
    /// Drive it again with this controller: builtin:NAME, or cmd:PROGRAM ARGS
    #[arg(long, value_name = "CONTROLLER")]
    controller: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Wall time that the controller has for one answer, ms
    #[arg(long, default_value_t = ANSWER_LIMIT_MS, value_name = "MS", value_parser = clap::value_parser!(u64).range(1..))]
    answer_limit_ms: u64,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Ended, Failure> {
    let controller =
        args.controller.as_deref().map(|text| engine::controller(text, args.answer_limit_ms)).transpose()?;
    let (text, ended) = engine::replay(&args.file, controller.as_deref(), args.json)?;
    out::print(&text)?;
    Ok(ended)
}
