//! What a run says: rule cards, margins, outcomes, failing moments, and how they combine into one exit code.

mod report;
mod terms;

use crate::failing_cause::FailingCause;
pub use report::{Exit, Kinds, Report, Straying};
use serde::Serialize;
pub use terms::{Loosened, OffRow, Terms, WaiverRow, WaiverState};

/// What a waiver may cover, and what blocks a release.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Blocks the release.
    Critical,
    /// Blocks unless waived by name.
    Major,
    /// Reported only.
    Minor,
}

/// The view on which a margin was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// What was delivered to the box, and what the box put out.
    Seen,
    /// What the vehicle did.
    True,
}

impl Basis {
    /// The word on screen and in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::True => "true",
        }
    }
}

/// A situation in which a rule speaks, and how often a run must come to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Situation {
    /// What it is.
    pub name: &'static str,
    /// Least count per run.
    pub least: u32,
}

/// Vehicle data that an outcome leans on: an outcome is worth no more than these numbers are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum VehicleData {
    /// Ratios, final drive and rolling radius.
    Ratios,
    /// Mass, rolling and air resistance.
    RoadLoad,
    /// Torque curve, drag, idle speed and redline.
    Engine,
    /// The torque converter.
    Converter,
}

impl VehicleData {
    /// The words on screen and in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Ratios => "ratios and rolling radius",
            Self::RoadLoad => "mass and road load",
            Self::Engine => "engine",
            Self::Converter => "torque converter",
        }
    }
}

/// One row of the rule table.
#[derive(Debug)]
pub struct RuleCard {
    /// The rule's name.
    pub name: &'static str,
    /// The statement a build must keep.
    pub sentence: &'static str,
    /// Why: what hurts when it is broken.
    pub hazard: &'static str,
    /// Severity.
    pub severity: Severity,
    /// Unit of the margin.
    pub unit: &'static str,
    /// One unit of nearness: a margin within two of these is 'close'.
    pub near: f64,
    /// What it is judged on.
    pub judged_on: &'static [Basis],
    /// Where it speaks; the first index is 0 in all counts.
    pub situations: &'static [Situation],
    /// Names of the limits it judges by, as the spec writes them.
    pub limits: &'static [&'static str],
    /// Whether a bad map alone can break it.
    pub map_can_break: bool,
    /// The vehicle data its outcome leans on, besides the speed that the vehicle happens to drive at; none for most.
    pub leans_on: &'static [VehicleData],
    /// Version of the rule: raised when its judgement changes.
    pub version: u32,
}

/// No rule has more situations.
pub const MOST_SITUATIONS: usize = 6;

/// A margin and where it was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Signed distance to breaking the rule, in its unit; below 0 is broken.
    pub margin: f64,
    /// How far below 0 counts as 'too close' (on the true view); 0 where it was seen or put out.
    pub tolerance: f64,
    /// When, ms since the start of the drive.
    pub at_ms: u32,
    /// The box could not have known: what it could know differs from what is true through no doing of its own.
    pub unknowable: bool,
}

impl Mark {
    /// Below 0 by more than the tolerance.
    #[must_use]
    pub fn broken(&self) -> bool {
        self.margin < -self.tolerance
    }
}

/// What one rule measured on one drive.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measure {
    /// Smallest margin on what was seen.
    pub seen: Option<Mark>,
    /// Smallest margin on what was true.
    pub truth: Option<Mark>,
    /// How often each situation was reached.
    pub reached: [u32; MOST_SITUATIONS],
    /// How often it was reached within two units of the limit.
    pub close: u32,
    /// Obligations that a higher rule forbade.
    pub excused: u32,
}

impl Measure {
    /// The mark of a view.
    #[must_use]
    pub fn mark(&self, basis: Basis) -> Option<Mark> {
        match basis {
            Basis::Seen => self.seen,
            Basis::True => self.truth,
        }
    }
}

/// What became of a rule in a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Margin 0 or more wherever it was reached.
    Kept,
    /// Below 0.
    Broken,
    /// On the true view between minus the tolerance and 0, or gone at half the vehicle step.
    TooClose,
    /// Broken in truth, kept on what was seen, and broken by the reference too.
    SignalLimit,
    /// Kept or broken by how far this number is off.
    DependsOnData(String),
    /// Broken once, and kept when the same drive was driven again.
    NotReproducible,
    /// These situations didn't come as often as the run needs.
    NotReached(String),
    /// Why it can't be judged.
    CantJudge(String),
    /// The declared fact that removes it.
    DoesNotApply(String),
    /// Why the spec switches it off.
    SwitchedOff(String),
    /// Broken, and let pass for a time: by whom, why, until when.
    Waived(String),
    /// Broken within 5 s after another broken rule, in truth.
    Consequence(String),
}

impl Outcome {
    /// The word on screen and in files.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Kept => "kept",
            Self::Broken => "broken",
            Self::TooClose => "too close",
            Self::SignalLimit => "signal limit",
            Self::DependsOnData(_) => "depends on data",
            Self::NotReproducible => "not reproducible",
            Self::NotReached(_) => "not reached",
            Self::CantJudge(_) => "can't judge",
            Self::DoesNotApply(_) => "does not apply",
            Self::SwitchedOff(_) => "switched off",
            Self::Waived(_) => "waived",
            Self::Consequence(_) => "consequence",
        }
    }

    /// The sentence behind the word, where there is one.
    #[must_use]
    pub fn why(&self) -> &str {
        match self {
            Self::Kept | Self::Broken | Self::TooClose | Self::NotReproducible | Self::SignalLimit => "",
            Self::DependsOnData(why)
            | Self::NotReached(why)
            | Self::CantJudge(why)
            | Self::DoesNotApply(why)
            | Self::SwitchedOff(why)
            | Self::Waived(why)
            | Self::Consequence(why) => why,
        }
    }
}

/// A rule's row in the report.
#[derive(Debug, Clone)]
pub struct RuleOutcome {
    /// The rule.
    pub card: &'static RuleCard,
    /// What became of it.
    pub outcome: Outcome,
    /// The smallest margin of all drives, its view and drive.
    pub smallest: Option<(Basis, Mark, String)>,
    /// How often each of its situations was reached.
    pub reached: Vec<u32>,
    /// How often the rarest came of those that a run must come to; where it must come to none, the one that came most.
    pub rarest: Option<u32>,
    /// In how many drives it was reached.
    pub drives: u32,
    /// How often close.
    pub close: u32,
    /// How often excused.
    pub excused: u32,
}

/// Whose fault a failing moment is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Blame {
    /// The reference, with the same map and signals, keeps the rule.
    Build,
    /// The reference breaks it on what was read; the line that would cure it.
    Map(String),
    /// The reference breaks it in truth only.
    SignalLimit,
    /// Only at a corner of a number's spread: which number.
    Data(String),
    /// A rule that no map can break, broken by the reference: nothing is claimed.
    Rig,
    /// The same drive, driven again, keeps the rule: by then there is nothing to lay at anybody's door.
    Nobody,
}

impl Blame {
    /// A sentence for people.
    #[must_use]
    pub fn says(&self) -> String {
        match self {
            Self::Build => "the build is at fault: the reference with the same map and signals keeps the rule".into(),
            Self::Map(cure) => format!("the map is at fault: the reference breaks the rule with it too; {cure}"),
            Self::SignalLimit => {
                "signal limit: no fault in what the box read; the reference breaks the rule in truth too".into()
            }
            Self::Data(number) => format!("depends on data: broken only within the spread of {number}"),
            Self::Nobody => {
                "nobody can be blamed: driven again, the box keeps the rule; it may hang on the machine's load, or on \
                 something that the box keeps from drive to drive"
                    .into()
            }
            Self::Rig => "the rig is unfit: the reference breaks a rule that no map can break".into(),
        }
    }
}

/// One rule broken at a failing moment.
#[derive(Debug, Clone)]
pub struct BrokenRule {
    /// The rule.
    pub card: &'static RuleCard,
    /// On which view.
    pub basis: Basis,
    /// Margin and time in the minimal drive.
    pub mark: Mark,
    /// What happened, as a practitioner would say it.
    pub says: String,
    /// Whose fault.
    pub blame: Blame,
    /// The failing cause as a waiver would name it; none where there is nothing that could be waived.
    pub cause: Option<FailingCause>,
}

/// One command or instant, with all the rules that it breaks.
#[derive(Debug, Clone)]
pub struct Moment {
    /// The drive that found it.
    pub drive: String,
    /// The rules broken, the gravest first.
    pub broken: Vec<BrokenRule>,
    /// Whose fault the gravest is.
    pub blame: Blame,
    /// How the rules count: `Broken`, `TooClose`, `SignalLimit`, `Consequence`...
    pub outcome: Outcome,
    /// Name of the drive file, in the evidence folder.
    pub file: String,
    /// The minimal drive, one line a step or event.
    pub lines: Vec<String>,
    /// With which numbers of the minimal drive, each alone, it breaks too: "the pedal from 34 % to 61 %".
    pub breaks_with: Vec<String>,
    /// Steps, events, length (ms) of the drive as found and as shrunk.
    pub raw_size: (usize, usize, u32),
    /// The same, shrunk.
    pub size: (usize, usize, u32),
    /// Drives spent shrinking; what was spent to find out what it breaks with isn't among them.
    pub shrink_drives: u32,
    /// The budget ended before nothing smaller was left to try.
    pub stopped_by_budget: bool,
}
