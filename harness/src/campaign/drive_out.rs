//! Makes the drive file of a failure: drive, spec, expected outcome, what the box did, the ticks around it.

use crate::drive::Drive;
use crate::drive_file::{self, Did, DriveFile, Expected};
use crate::outcome::{Basis, Mark, Outcome, RuleCard};
use crate::recording::Recording;
use crate::spec::Spec;
use crate::ticks;

/// Ticks shown before and after the failure, ms.
pub const SHOWN_BEFORE_MS: u32 = 1500;
/// See [`SHOWN_BEFORE_MS`].
pub const SHOWN_AFTER_MS: u32 = 1500;

/// What a file tells.
pub struct Told<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// The drive.
    pub drive: &'a Drive,
    /// Its recording.
    pub recording: &'a Recording,
    /// The rule.
    pub rule: &'static RuleCard,
    /// The view.
    pub basis: Basis,
    /// Margin and time.
    pub mark: Mark,
    /// What it comes to.
    pub outcome: &'a Outcome,
    /// What happened.
    pub says: String,
    /// With which numbers of the drive it comes too.
    pub breaks_with: &'a [String],
    /// The controller as the user names it.
    pub controller: String,
    /// Name of the drive that found it.
    pub found_in: String,
    /// Seed of the run.
    pub seed: u64,
}

/// The text of the file.
#[must_use]
pub fn drive_file(told: &Told<'_>) -> String {
    DriveFile {
        name: format!("{} ({})", told.rule.name, told.found_in),
        drive: told.drive.clone(),
        spec: Some(told.spec.to_toml()),
        expected: Some(Expected {
            rule: told.rule.name.to_owned(),
            basis: match told.basis {
                Basis::Seen => drive_file::Basis::Seen,
                Basis::True => drive_file::Basis::True,
            },
            outcome: told.outcome.word().to_owned(),
            margin: told.mark.margin,
            unit: told.rule.unit.to_owned(),
            at_ms: told.mark.at_ms,
            says: told.says.clone(),
            breaks_with: told.breaks_with.to_vec(),
            controller: told.controller.clone(),
            seed_comment: format!("{}, seed {}", told.found_in, told.seed),
            versions: super::versions(),
        }),
        did: did(told.recording),
        ticks: ticks::table(told.recording, told.mark.at_ms, SHOWN_BEFORE_MS, SHOWN_AFTER_MS),
    }
    .to_text()
}

/// What the box did, as the list of its changes.
#[must_use]
pub fn did(recording: &Recording) -> Vec<Did> {
    let mut changes: Vec<Did> = Vec::new();
    for row in &recording.rows {
        let did = Did {
            t_ms: row.t_ms,
            contacts: row.contacts,
            engaged: row.engaged,
            counted_gear: row.counted_gear,
            announcement: row.announcement,
            silence: None,
        };
        let same = changes.last().is_some_and(|last| {
            last.contacts == did.contacts
                && last.engaged == did.engaged
                && last.counted_gear == did.counted_gear
                && did.announcement.is_none()
        });
        if !same {
            changes.push(did);
        }
    }
    if let Some(silence) = &recording.silence {
        changes.push(Did {
            t_ms: recording.rows.last().map_or(0, |r| r.t_ms + recording.tick_ms),
            contacts: crate::signal::Contacts::default(),
            engaged: None,
            counted_gear: None,
            announcement: None,
            silence: Some(silence.to_string()),
        });
    }
    changes
}
