//! The command line: one file per command. The only place that prints, reads the clock and the environment.
//!
//! Results go to stdout, progress and complaints to stderr.

mod check;
mod clock;
mod completions;
mod engine;
mod exit;
mod interrupt;
mod on_paper;
mod out;
mod progress;
mod replay;
mod replay_text;
mod rules;
mod schema;
mod selftest;
mod shiftpoints;
mod test;

use crate::evidence::CAUTIONS;
use crate::evidence::SHORT_CAUTION;
use crate::evidence::wrap;
use clap::CommandFactory;
use clap::Parser;
use clap::Subcommand;
use clap::ValueEnum;
use exit::Ended;
use exit::Failure;
use std::process::ExitCode;

/// No line below the help is longer.
const HELP_WIDTH: usize = 100;

/// Drives a shift controller in closed loop with a simulated vehicle and judges what it did.
#[derive(Debug, Parser)]
#[command(name = "sprag", version, arg_required_else_help = true)]
struct Args {
    /// When to colour what is printed; NO_COLOR and CLICOLOR_FORCE count where this says auto
    #[arg(long, global = true, value_enum, default_value = "auto", value_name = "WHEN")]
    color: Color,
    #[command(subcommand)]
    command: Command,
}

/// When to colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Color {
    /// On a terminal.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Drive a controller through a run of a spec, judge it and write the evidence
    Test(test::Args),
    /// Show a failing drive again, and drive it again with a controller
    Replay(replay::Args),
    /// Read a spec, say what was understood, and check its map on paper
    Check(check::Args),
    /// Measure where a controller really shifts, against the map's lines
    Shiftpoints(shiftpoints::Args),
    /// List the rules, or show one of them
    Rules(rules::Args),
    /// Print the JSON Schema of the spec, for editors
    Schema,
    /// Try this tool itself on its seeded faults: each must be caught by its named rule
    Selftest(selftest::Args),
    /// Print the completions for a shell
    Completions(completions::Args),
}

/// Runs the command line of this process; `main` hands its value on.
#[must_use]
pub fn run() -> ExitCode {
    exit::report_panics(|| {
        let matches = match command().try_get_matches() {
            Ok(matches) => matches,
            Err(error) => return exit::of_usage(&error),
        };
        match <Args as clap::FromArgMatches>::from_arg_matches(&matches) {
            Ok(args) => exit::finish(args.command.run(args.color)),
            Err(error) => exit::of_usage(&error),
        }
    })
}

impl Command {
    fn run(self, color: Color) -> Result<Ended, Failure> {
        match self {
            Self::Test(args) => test::run(&args, color),
            Self::Replay(args) => replay::run(&args),
            Self::Check(args) => check::run(&args),
            Self::Shiftpoints(args) => shiftpoints::run(&args),
            Self::Rules(args) => rules::run(&args),
            Self::Schema => schema::run(),
            Self::Selftest(args) => selftest::run(&args),
            Self::Completions(args) => completions::run(&args, &mut command()),
        }
    }
}

/// The command line with what stands below the help: the codes and all cautions, the short one for each command.
fn command() -> clap::Command {
    let cautions: Vec<String> =
        CAUTIONS.iter().flat_map(|caution| wrap(&format!("- {caution}"), 0, HELP_WIDTH)).collect();
    let short = wrap(SHORT_CAUTION, 0, HELP_WIDTH).join("\n");
    Args::command()
        .after_help(short.clone())
        .after_long_help(format!("{}\n\nCautions:\n{}", exit::CODES, cautions.join("\n")))
        .mut_subcommands(|command| match command.get_name() {
            "test" | "replay" | "shiftpoints" => command.after_long_help(format!("{}\n\n{short}", exit::CODES)),
            _ => command.after_long_help(short.clone()),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_consistent() {
        command().debug_assert();
    }

    #[test]
    fn every_help_says_what_an_outcome_does_not_cover() {
        let mut all = command();
        let plain = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let help = plain(all.render_long_help().to_string());
        assert!(CAUTIONS.iter().all(|caution| help.contains(caution)), "{help}");
        for command in all.get_subcommands_mut().filter(|command| command.get_name() != "help") {
            let help = plain(command.render_long_help().to_string());
            assert!(help.ends_with(SHORT_CAUTION), "{help}");
        }
    }

    #[test]
    fn usage_is_read_as_written() {
        let read = |text: &str| Args::try_parse_from(text.split(' '));
        assert!(read("sprag test specs/van.toml --only kickdown --only coast --random 0 --seed 7 --jobs 2").is_ok());
        assert!(read("sprag replay a.toml --json").is_ok());
        for wrong in ["sprag test", "sprag test a.toml --jobs 0", "sprag test a.toml --seed x", "sprag drive a.toml"] {
            assert_eq!(read(wrong).unwrap_err().exit_code(), 2, "{wrong}");
        }
        assert!(read("sprag test a.toml --evidence x --no-evidence").is_err());
    }
}
