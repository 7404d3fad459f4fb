//! Testing a controller from its maker's own `cargo test`, in a dozen lines.
//!
//! ```no_run
//! use sprag::controller::Controller;
//! use sprag::signal::{Answer, Inputs, Output};
//!
//! struct MyBox;
//!
//! impl Controller for MyBox {
//!     fn reset(&mut self) {}
//!     fn step(&mut self, _: &Inputs, _: &[Answer]) -> Output {
//!         Output::OPEN
//!     }
//! }
//!
//! let ran = sprag::own_build::test("specs/van.toml", "my box", |_spec| Box::new(MyBox)).random(300).run()?;
//! ran.assert_kept();
//! # Ok::<(), sprag::own_build::NotRun>(())
//! ```
//!
//! A test runs in the folder of its package, and relative paths count from there. The evidence goes to
//! `target/sprag/NAME`; a failing drive stands in its `drives` folder before it is shrunk, and each shorter one takes
//! its place. The `sprag` command replays it.
//!
//! **What a controller in the same process can't be survived for.** A panic is a finding, and the run goes on. A step
//! that never returns stops the test for good, since no thread can be ended from outside; an abort, a stack overflow,
//! a crash in C code, or any panic under `panic = "abort"` ends the test process with all that was not yet on disk. A
//! drive is written when the whole sweep is done and looked into, so the drive that hangs or aborts the first time is
//! *not* on disk. A build that may do so belongs into a process of its own (`sprag test --controller cmd:...`): there
//! it is ended after its answer limit, the drive is saved, and the campaign goes on.

use crate::campaign::{self, Options, Stop, saved_drives};
use crate::controller::Controller;
use crate::controller::in_process::InProcess;
use crate::date::Date;
use crate::evidence::{self, Files, Look};
use crate::outcome::{Exit, Outcome, Report};
use crate::spec::{self, Spec, SpecErrors};
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

/// A test of a controller, before it runs.
pub struct Test<F> {
    spec: Result<Spec, SpecErrors>,
    source: InProcess<F>,
    options: Options,
    saved: Option<PathBuf>,
    as_of: Option<String>,
    evidence: PathBuf,
}

/// A test against a spec file: the run `commit`, on all threads.
///
/// `make` makes one instance of the controller; several may live at once. Two tests that run at the same time need
/// different names, since the evidence goes by the name.
pub fn test<F>(spec: impl AsRef<Path>, name: &str, make: F) -> Test<F>
where
    F: Fn(&Spec) -> Box<dyn Controller> + Sync,
{
    Test::new(spec::load(spec.as_ref()), name, make)
}

/// The same against a spec that is already read, or changed by the test.
pub fn test_spec<F>(spec: &Spec, name: &str, make: F) -> Test<F>
where
    F: Fn(&Spec) -> Box<dyn Controller> + Sync,
{
    Test::new(Ok(spec.clone()), name, make)
}

impl<F: Fn(&Spec) -> Box<dyn Controller> + Sync> Test<F> {
    fn new(spec: Result<Spec, SpecErrors>, name: &str, make: F) -> Self {
        let jobs = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Self {
            spec,
            source: InProcess(name.to_owned(), make),
            options: Options { run: "commit".to_owned(), jobs, ..Options::default() },
            saved: None,
            as_of: None,
            evidence: Path::new("target/sprag").join(evidence::file_name(name)),
        }
    }

    /// Another run of the spec than `commit`.
    #[must_use]
    pub fn run_named(mut self, run: &str) -> Self {
        run.clone_into(&mut self.options.run);
        self
    }

    /// So many random drives instead of the run's.
    #[must_use]
    pub fn random(mut self, drives: u32) -> Self {
        self.options.random = Some(drives);
        self
    }

    /// This seed of the random drives instead of the run's.
    #[must_use]
    pub fn seed(mut self, seed: u64) -> Self {
        self.options.seed = Some(seed);
        self
    }

    /// Only this manoeuvre, and no random drives unless asked for; may be called more than once.
    #[must_use]
    pub fn only(mut self, manoeuvre: &str) -> Self {
        self.options.only.push(manoeuvre.to_owned());
        self
    }

    /// So many threads. The outcome is the same for any number.
    #[must_use]
    pub fn jobs(mut self, threads: usize) -> Self {
        self.options.jobs = threads;
        self
    }

    /// A folder of drives that are kept with the build; they are driven first.
    #[must_use]
    pub fn saved(mut self, folder: impl Into<PathBuf>) -> Self {
        self.saved = Some(folder.into());
        self
    }

    /// The day against which waivers are judged, as "2026-11-25"; a spec with waivers needs one.
    #[must_use]
    pub fn as_of(mut self, day: &str) -> Self {
        self.as_of = Some(day.to_owned());
        self
    }

    /// Another folder for the evidence.
    #[must_use]
    pub fn evidence(mut self, folder: impl Into<PathBuf>) -> Self {
        self.evidence = folder.into();
        self
    }

    /// Drives, judges, and writes the evidence.
    ///
    /// # Errors
    /// Nothing was driven, because what the test names is wrong or isn't there.
    pub fn run(self) -> Result<Ran, NotRun> {
        let spec = self.spec.map_err(|errors| NotRun(errors.to_string()))?;
        let mut options = self.options;
        if let Some(folder) = &self.saved {
            options.saved = saved_drives(folder).map_err(NotRun)?;
        }
        if let Some(day) = &self.as_of {
            options.as_of = Some(Date::parse(day).map_err(NotRun)?);
        }
        let folder = self.evidence;
        let mut not_written = None;
        let mut save = |name: &str, text: &str| {
            if let Err(error) = evidence::write_drive(&folder, name, text) {
                not_written = Some(error.to_string());
            }
        };
        let never = AtomicBool::new(false);
        let finished = campaign::run(&spec, &self.source, &options, &Stop(&never), &mut save, &mut |_| ())
            .map_err(|why| NotRun(why.to_string()))?;
        let files = Files {
            report: &finished.report,
            spec_toml: &spec.to_toml(),
            drives: &finished.drives,
            volatile: serde_json::json!({ "jobs": options.jobs, "run-by": "own test" }),
            interrupted: false,
            stamp_s: 0,
        };
        let written = evidence::write(&folder, &files).map_err(|error| error.to_string());
        Ok(Ran { report: finished.report, folder, not_written: not_written.or(written.err()) })
    }
}

/// A test that has run.
#[derive(Debug, Clone)]
pub struct Ran {
    /// What it says, row by row.
    pub report: Report,
    /// Where the evidence stands.
    pub folder: PathBuf,
    /// Why the evidence isn't there in full, if so.
    pub not_written: Option<String>,
}

impl Ran {
    /// The exit code that the `sprag` command would end with.
    #[must_use]
    pub fn exit(&self) -> Exit {
        let written = if self.not_written.is_some() { Exit::NotWritten } else { Exit::Kept };
        self.report.exit().and(written)
    }

    /// The broken rules, by name.
    #[must_use]
    pub fn broken(&self) -> Vec<&'static str> {
        self.report.rules.iter().filter(|row| row.outcome == Outcome::Broken).map(|row| row.card.name).collect()
    }

    /// The screen of the `sprag` command, and where the evidence stands.
    #[must_use]
    pub fn screen(&self) -> String {
        let folder = self.folder.display().to_string();
        let look = Look { folder: Some(&folder), ..Look::default() };
        let evidence = match &self.not_written {
            None => format!("Evidence: {folder}"),
            Some(why) => format!("The evidence could not be written: {why}"),
        };
        format!("{}{evidence}\n", evidence::screen(&self.report, &look))
    }

    /// Asks that all is kept: nothing broken, too close or hanging on data, no situation of the run missed, and the
    /// evidence written.
    ///
    /// # Panics
    /// If not, with the screen: that is how a test fails.
    pub fn assert_kept(&self) {
        assert!(self.exit() == Exit::Kept, "\n{}", self.screen());
    }
}

/// Why nothing was driven: a wrong spec with all its errors, an unknown run or manoeuvre, an unreadable saved drive, a
/// controller that panics while it is made.
#[derive(Clone, PartialEq, Eq)]
pub struct NotRun(String);

impl fmt::Display for NotRun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.trim_end())
    }
}

/// The same text: a test that returns this error prints it so.
impl fmt::Debug for NotRun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl std::error::Error for NotRun {}
