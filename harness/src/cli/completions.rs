//! `sprag completions`: a script for the shell.

use super::exit::Ended;
use super::exit::Failure;
use super::out;
use crate::outcome::Exit;
use clap_complete::Shell;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The shell
    shell: Shell,
}

/// Runs the command.
pub fn run(args: &Args, command: &mut clap::Command) -> Result<Ended, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, command, "sprag", &mut script);
    out::print(&String::from_utf8_lossy(&script))?;
    Ok(Exit::Kept.into())
}
