//! All that a run says, and the exit code that it comes to.

use super::{Moment, Outcome, RuleOutcome, Severity, Terms};

/// How many drives came from where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Kinds {
    /// Saved with the build.
    pub saved: u32,
    /// Of manoeuvres.
    pub manoeuvre: u32,
    /// Random.
    pub random: u32,
    /// Event orders.
    pub orders: u32,
    /// Bred by the margin search.
    pub search: u32,
}

impl Kinds {
    /// All of them.
    #[must_use]
    pub fn all(&self) -> u64 {
        [self.saved, self.manoeuvre, self.random, self.orders, self.search].into_iter().map(u64::from).sum()
    }
}

/// Everything a run says.
#[derive(Debug, Clone)]
pub struct Report {
    /// Name of the spec.
    pub spec: String,
    /// Digest of the resolved spec (sha256, hex).
    pub spec_digest: String,
    /// Name of the vehicle.
    pub vehicle: String,
    /// The controller as the user names it.
    pub controller: String,
    /// Name of the run.
    pub run: String,
    /// Seed of the random drives.
    pub seed: u64,
    /// Drives, by where they come from.
    pub drives: Kinds,
    /// Simulated time, ms.
    pub simulated_ms: u64,
    /// How far the driver strayed from each cycle and measured drive.
    pub straying: Vec<Straying>,
    /// Engagement judged by commands, for want of a flag or announcement.
    pub engagement_by_commands: bool,
    /// One row a rule, in the table's order.
    pub rules: Vec<RuleOutcome>,
    /// Failing moments, the gravest first.
    pub moments: Vec<Moment>,
    /// What was agreed: waivers, rules switched off, limits loosened.
    pub terms: Terms,
    /// Why the rig is unfit, if it is.
    pub unfit: Option<String>,
    /// Versions of vehicle model, rules and generators.
    pub versions: String,
}

/// How far the driver of a drive strayed from the speeds that it follows.
#[derive(Debug, Clone, PartialEq)]
pub struct Straying {
    /// What is followed.
    pub name: String,
    /// At most, km/h.
    pub most_kmh: f64,
    /// Root of the mean square, km/h.
    pub rms_kmh: f64,
}

/// Exit codes, the same for all commands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// All that was asked is kept.
    Kept = 0,
    /// Broken.
    Broken = 1,
    /// Usage, spec or map at fault.
    Usage = 2,
    /// Controller not started, or rig unfit.
    NotStarted = 3,
    /// Nothing ran, or not reached.
    NotReached = 4,
    /// Too close, depends on data, not reproducible.
    Unclear = 5,
    /// Merge incomplete.
    MergeIncomplete = 6,
    /// Our own bug.
    OurBug = 70,
    /// Evidence not written.
    NotWritten = 74,
}

/// The order in which codes win when several hold at once.
const PRECEDENCE: [Exit; 9] = [
    Exit::OurBug,
    Exit::Usage,
    Exit::NotStarted,
    Exit::Broken,
    Exit::NotWritten,
    Exit::MergeIncomplete,
    Exit::Unclear,
    Exit::NotReached,
    Exit::Kept,
];

impl Exit {
    /// The one of two codes that wins.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        PRECEDENCE.into_iter().find(|&code| code == self || code == other).unwrap_or(Self::OurBug)
    }
}

impl Report {
    /// The exit code of the run: minor rules, signal limits, consequences and what is waived change nothing.
    #[must_use]
    pub fn exit(&self) -> Exit {
        let mut exit = Exit::Kept;
        if self.unfit.is_some() {
            exit = exit.and(Exit::NotStarted);
        }
        if self.drives.all() == 0 {
            exit = exit.and(Exit::NotReached);
        }
        for row in &self.rules {
            exit = exit.and(match &row.outcome {
                Outcome::Broken | Outcome::TooClose | Outcome::DependsOnData(_) | Outcome::NotReproducible
                    if row.card.severity == Severity::Minor =>
                {
                    Exit::Kept
                }
                Outcome::Broken => Exit::Broken,
                Outcome::TooClose | Outcome::DependsOnData(_) | Outcome::NotReproducible => Exit::Unclear,
                Outcome::NotReached(_) => Exit::NotReached,
                Outcome::Kept
                | Outcome::SignalLimit
                | Outcome::CantJudge(_)
                | Outcome::DoesNotApply(_)
                | Outcome::SwitchedOff(_)
                | Outcome::Waived(_)
                | Outcome::Consequence(_) => Exit::Kept,
            });
        }
        exit
    }
}
