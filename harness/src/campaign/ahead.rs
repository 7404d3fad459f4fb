//! Looks into the first failures of several rules at the same time: shrinking one takes as long as a thousand drives, and a
//! program in a slow language is driven by one core only.
//!
//! Each is looked into with rigs of its own, so that it comes out the same on any number of threads.

use super::Save;
use super::blame::Judgement;
use super::look::{Candidate, Looked, Rigs};
use super::moments::Finding;
use crate::drive::Drive;
use crate::outcome::Moment;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError, mpsc};

/// The failure of a rule that is to be looked into.
#[derive(Debug, Clone, Copy)]
pub struct Chosen {
    /// Where it is.
    pub candidate: Candidate,
    /// What it looks like.
    pub judgement: Judgement,
    /// The instant in the drive as found, ms.
    pub raw_ms: Option<u32>,
}

/// What came of looking into a failure.
pub struct Seen {
    /// Its moment.
    pub moment: Moment,
    /// Its minimal drive.
    pub drive: Drive,
    /// Its drive files: name and text.
    pub files: Vec<(String, String)>,
}

/// Looks into failures, by rule. Of those at one instant of one drive only the first is: its minimal drive may do for all.
/// One whose controller doesn't start again is left out.
pub fn look(finding: &Finding<'_>, chosen: &[Chosen], save: Save<'_>) -> BTreeMap<usize, Seen> {
    let mut instants = BTreeSet::new();
    let first = |c: &&Chosen| c.raw_ms.is_none_or(|ms| instants.insert((c.candidate.index, ms)));
    let firsts: Vec<&Chosen> = chosen.iter().filter(first).collect();
    let next = AtomicUsize::new(0);
    let seen = Mutex::new(BTreeMap::new());
    let (to_save, saved) = mpsc::channel::<(String, String)>();
    let some = |to_save: mpsc::Sender<(String, String)>| {
        while let Some(&&Chosen { candidate, judgement, .. }) = firsts.get(next.fetch_add(1, Ordering::Relaxed)) {
            let Ok(mut rigs) = Rigs::new(finding.spec, finding.source) else { continue };
            let Some(looked) = Looked::new(finding, candidate, judgement) else { continue };
            let mut files = Vec::new();
            let (moment, drive) = looked.look(&mut rigs, &mut files, &mut |name, text| {
                // It is received as long as there are senders.
                let _ = to_save.send((name.to_owned(), text.to_owned()));
            });
            let seen_now = Seen { moment, drive, files };
            seen.lock().unwrap_or_else(PoisonError::into_inner).insert(candidate.rule, seen_now);
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..finding.jobs.min(firsts.len()) {
            let to_save = to_save.clone();
            scope.spawn(|| some(to_save));
        }
        drop(to_save);
        for (name, text) in saved {
            save(&name, &text);
        }
    });
    seen.into_inner().unwrap_or_else(PoisonError::into_inner)
}
