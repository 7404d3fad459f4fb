//! Replays a drive file: from the file alone, by playing back what the box did, or with a build.

use crate::campaign::drive_out::{SHOWN_AFTER_MS, SHOWN_BEFORE_MS};
use crate::campaign::rig::Rig;
use crate::controller::{NotStarted, Port, Source};
use crate::drive_file::{self, Did, DriveFile};
use crate::outcome::{Basis, Exit, Mark};
use crate::recording::Silence;
use crate::rules::{RULES, again, find, needs_build};
use crate::signal::{Action, Answer, Contacts, Inputs, Output};
use crate::spec::Spec;
use crate::ticks;
use crate::vehicle::STEP_MS;
use std::fmt;

/// Plays back what a box did.
struct Playback {
    did: Vec<Did>,
    clock_ms: u64,
    at: usize,
}

impl Port for Playback {
    fn reset(&mut self) -> Result<(), Silence> {
        Ok(())
    }

    fn step(&mut self, inputs: &Inputs, _: &[Answer]) -> Result<Output, Silence> {
        let now_ms = inputs.time_ms.saturating_sub(self.clock_ms);
        let mut announcement = None;
        while let Some(next) = self.did.get(self.at).filter(|d| u64::from(d.t_ms) <= now_ms) {
            announcement = next.announcement.or(announcement);
            self.at += 1;
        }
        let Some(now) = self.at.checked_sub(1).and_then(|at| self.did.get(at)) else {
            return Ok(Output::OPEN);
        };
        if let Some(why) = &now.silence {
            return Err(Silence::Told(why.clone()));
        }
        Ok(Output {
            action: Action::Contacts(Contacts { up: now.contacts.up, down: now.contacts.down }),
            announcement,
            engaged: now.engaged,
            counted_gear: now.counted_gear,
        })
    }
}

/// A source of one playback.
struct Recorded<'a> {
    file: &'a DriveFile,
}

impl Source for Recorded<'_> {
    fn start(&self, _: &Spec) -> Result<Box<dyn Port>, NotStarted> {
        Ok(Box::new(Playback { did: self.file.did.clone(), clock_ms: self.file.drive.start.clock_ms, at: 0 }))
    }

    fn name(&self) -> String {
        "what the box did, played back from the file".into()
    }
}

/// How a replay came out.
#[derive(Debug, Clone, PartialEq)]
pub enum Came {
    /// The same rule with the identical margin.
    Same,
    /// The same rule with another margin.
    OtherMargin,
    /// The rule is kept now; another one is broken.
    OtherRule(String),
    /// The rule is kept now, and so are all others.
    KeptNow,
    /// The file expects nothing: what the rules say is listed.
    NothingExpected,
    /// Only the build itself can show it (driven twice).
    NeedsBuild,
}

/// A replay.
#[derive(Debug, Clone)]
pub struct Replayed {
    /// What was driven: the build's name, or the playback.
    pub by: String,
    /// Played back from the file, with no build.
    pub played_back: bool,
    /// How it came out.
    pub came: Came,
    /// The margin now, where the rule was measured.
    pub mark: Option<Mark>,
    /// What happens at the mark now.
    pub says: String,
    /// The ticks around it now.
    pub ticks: Vec<String>,
    /// The recorded ticks in the file differ from those now, from this line on.
    pub ticks_differ: Option<usize>,
    /// Rules broken now: name, view, margin with unit.
    pub broken: Vec<String>,
    /// Versions written in the file, if they are not the present ones.
    pub other_versions: Option<String>,
}

/// Why a file can't be replayed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CantReplay {
    /// It holds no spec, or one that can't be read, or a rule nobody knows.
    File(String),
    /// The controller wasn't started.
    NotStarted(NotStarted),
}

impl fmt::Display for CantReplay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(why) => f.write_str(why),
            Self::NotStarted(why) => why.fmt(f),
        }
    }
}

impl Replayed {
    /// The exit code.
    #[must_use]
    pub fn exit(&self) -> Exit {
        match self.came {
            // What the file shows is not what it holds.
            Came::Same if self.played_back && self.ticks_differ.is_some() => Exit::Unclear,
            Came::Same | Came::NothingExpected => Exit::Kept,
            Came::OtherRule(_) => Exit::Broken,
            Came::OtherMargin | Came::KeptNow | Came::NeedsBuild => Exit::Unclear,
        }
    }
}

/// The spec inside a drive file.
///
/// # Errors
/// It holds none, or one that can't be read.
pub fn spec_of(file: &DriveFile, name: &str) -> Result<Spec, CantReplay> {
    let text =
        file.spec.as_ref().ok_or_else(|| CantReplay::File(format!("{name} holds no spec, so it can't be driven")))?;
    let mut refuse = |other: &str| Err(format!("a spec inside a drive file names no other file (\"{other}\")"));
    crate::spec::parse(text, &format!("{name} (its spec)"), &mut refuse).map_err(|e| CantReplay::File(e.to_string()))
}

/// Replays a file, with a build or by playing back what the box did.
///
/// # Errors
/// The file can't be replayed.
pub fn replay(file: &DriveFile, name: &str, build: Option<&dyn Source>) -> Result<Replayed, CantReplay> {
    let spec = spec_of(file, name)?;
    let recorded = Recorded { file };
    let source: &dyn Source = build.unwrap_or(&recorded);
    if build.is_none() && file.did.is_empty() {
        return Err(CantReplay::File(format!("{name} doesn't hold what the box did: name a build with --controller")));
    }
    let mut rig = Rig::new(&spec, source, STEP_MS).map_err(CantReplay::NotStarted)?;
    rig.drive(&file.drive);
    let expected = file.expected.as_ref();
    let rule = match expected {
        Some(e) => Some(find(&e.rule).ok_or_else(|| {
            CantReplay::File(format!("{name} names the rule \"{}\", which is none of this version's", e.rule))
        })?),
        None => None,
    };
    let (twice, needs_build) = (rule.is_some_and(|at| again(at).is_some()), rule.is_some_and(needs_build));
    if let (true, Some(rule), Some(_)) = (twice, rule, build) {
        rig.measure_again(&file.drive, rule);
    }
    let basis = expected.map_or(Basis::Seen, |e| match e.basis {
        drive_file::Basis::Seen => Basis::Seen,
        drive_file::Basis::True => Basis::True,
    });
    let broken: Vec<(usize, String)> = RULES
        .iter()
        .enumerate()
        .flat_map(|(at, r)| [Basis::Seen, Basis::True].map(|b| (at, r, b)))
        .filter_map(|(at, r, b)| {
            let mark = rig.measures()[at].mark(b).filter(Mark::broken)?;
            Some((
                at,
                format!(
                    "{} ({}): margin {:.3} {} at {:.2} s",
                    r.card.name,
                    b.word(),
                    mark.margin,
                    r.card.unit,
                    f64::from(mark.at_ms) / 1000.0
                ),
            ))
        })
        .collect();
    // What only the build can show, the playback measures as if nothing had been.
    let shows = build.is_some() || !needs_build;
    let mark = rule.filter(|_| shows).and_then(|at| rig.measures()[at].mark(basis));
    let came = match (expected, rule, mark) {
        _ if needs_build && build.is_none() => Came::NeedsBuild,
        (Some(e), Some(_), Some(m)) if m.margin.to_bits() == e.margin.to_bits() && m.at_ms == e.at_ms => Came::Same,
        (Some(_), Some(_), Some(m)) if m.margin < 0.0 => Came::OtherMargin,
        (Some(_), Some(at), _) => broken
            .iter()
            .find(|(other, _)| *other != at)
            .map_or(Came::KeptNow, |(_, what)| Came::OtherRule(what.clone())),
        _ => Came::NothingExpected,
    };
    let at_ms = mark.map(|m| m.at_ms).or(expected.map(|e| e.at_ms)).unwrap_or(0);
    // A rule that compares two drives has words for where they differ alone.
    let says = match (rule, mark.filter(|m| !needs_build || m.broken())) {
        (Some(at), Some(m)) => rig.says(&RULES[at], basis, m.at_ms),
        _ => String::new(),
    };
    let shown = ticks::table(rig.recording(), at_ms, SHOWN_BEFORE_MS, SHOWN_AFTER_MS);
    let ticks_differ = (!file.ticks.is_empty() && file.ticks != shown)
        .then(|| file.ticks.iter().zip(&shown).take_while(|(a, b)| a == b).count());
    let versions = crate::campaign::versions();
    Ok(Replayed {
        by: source.name(),
        played_back: build.is_none(),
        came,
        mark,
        says,
        ticks: shown,
        ticks_differ,
        broken: broken.into_iter().map(|(_, what)| what).collect(),
        other_versions: expected.filter(|e| e.versions != versions).map(|e| e.versions.clone()),
    })
}
