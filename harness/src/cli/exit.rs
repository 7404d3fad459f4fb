//! How a command ends: one table from outcomes and errors to exit codes, and one line for a bug of ours.

use super::out;
use crate::outcome::Exit;
use std::panic;
use std::process::ExitCode;
use std::sync::Mutex;

/// What each code means, for the help.
pub const CODES: &str = "\
Exit codes:
  0        all that was asked is kept
  1        a rule is broken
  2        the usage, the spec or the map is at fault
  3        the controller did not start, or the rig is unfit
  4        nothing ran, or a situation that the run needs was not reached
  5        too close, depends on data, not reproducible
  6        merge incomplete
  70       a bug in this tool
  74       the evidence could not be written
  130, 143 interrupted; what was found until then is written";

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ended {
    /// Its code.
    pub exit: Exit,
    /// The signal that ended it early, which overrides the code.
    pub signal: Option<i32>,
}

impl From<Exit> for Ended {
    fn from(exit: Exit) -> Self {
        Self { exit, signal: None }
    }
}

/// Why a command could not do its work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// Its code.
    pub exit: Exit,
    /// For the user: what is wrong, where, and what would be right.
    pub says: String,
}

impl Failure {
    /// A failure with this code.
    pub fn new(exit: Exit, says: impl Into<String>) -> Self {
        Self { exit, says: says.into() }
    }
}

/// The code as the shell sees it; a signal adds 128 to its number.
fn code(ended: Ended) -> u8 {
    ended.signal.and_then(|signal| u8::try_from(128 + signal).ok()).unwrap_or(ended.exit as u8)
}

/// The end of a command.
pub fn finish(result: Result<Ended, Failure>) -> ExitCode {
    match result {
        Ok(ended) => ExitCode::from(code(ended)),
        Err(failure) => {
            out::complain(failure.says.trim_end());
            ExitCode::from(failure.exit as u8)
        }
    }
}

/// The end of a command line that can't be read, or that asks for help.
pub fn of_usage(error: &clap::Error) -> ExitCode {
    // A closed pipe is no error: who reads the help's first lines only has seen enough.
    let _ = error.print();
    ExitCode::from(if error.use_stderr() { Exit::Usage } else { Exit::Kept } as u8)
}

/// Where and how the last panic happened. Not printed at once: a controller's panic is a finding and not ours.
static LAST: Mutex<Option<String>> = Mutex::new(None);

/// Runs the work; a panic of our own ends in one line and code 70.
pub fn report_panics(work: impl FnOnce() -> ExitCode + panic::UnwindSafe) -> ExitCode {
    panic::set_hook(Box::new(|info| {
        let payload = info.payload();
        let what =
            payload.downcast_ref::<&str>().copied().or_else(|| payload.downcast_ref::<String>().map(String::as_str));
        let what = what.unwrap_or("no message");
        // A scope of threads panics once more for the panic of one of its threads, which is already kept.
        if what != "a scoped thread panicked" {
            let place = info.location().map_or(String::new(), |l| format!(" at {}:{}", l.file(), l.line()));
            if let Ok(mut last) = LAST.lock() {
                *last = Some(format!("{}{place}", crate::evidence::line(what)));
            }
        }
    }));
    panic::catch_unwind(work).unwrap_or_else(|_| {
        let what = LAST.lock().ok().and_then(|mut last| last.take()).unwrap_or_default();
        out::complain(&format!("a bug in sprag, please report it: {what}"));
        ExitCode::from(Exit::OurBug as u8)
    })
}

#[cfg(test)]
#[path = "exit_tests.rs"]
mod tests;
