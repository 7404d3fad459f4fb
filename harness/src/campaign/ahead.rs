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

#[cfg(test)]
mod tests {
    use super::super::moments::find;
    use super::super::plan::{Asked, Plan};
    use super::super::rig::Rig;
    use super::super::sweep::one;
    use super::*;
    use crate::controller::in_process::Builtin;
    use crate::controller::reference::Fault;
    use crate::controller::{NotStarted, Port, Source};
    use crate::selftest::demo_spec;
    use crate::spec::Spec;
    use crate::vehicle::STEP_MS;

    /// The reference that doesn't wait, as often as it starts.
    struct Starts(AtomicUsize);

    impl Source for Starts {
        fn start(&self, spec: &Spec) -> Result<Box<dyn Port>, NotStarted> {
            let less = |left: usize| left.checked_sub(1);
            let left = self.0.fetch_update(Ordering::Relaxed, Ordering::Relaxed, less);
            left.map_err(|_| NotStarted("it is in use".to_owned()))?;
            Builtin { fault: Some(Fault::NoDwell) }.start(spec)
        }

        fn name(&self) -> String {
            "starts so often".to_owned()
        }
    }

    /// One start for the drives, two for the rigs that are there anyway, two for each failure that is looked into ahead.
    #[test]
    fn a_failure_whose_box_does_not_start_again_ahead_is_looked_into_all_the_same() {
        let spec = demo_spec().unwrap_or_else(|errors| panic!("{errors}"));
        let run = &spec.runs["commit"];
        let only = ["tours".to_owned()];
        let asked = Asked { only: &only, random: Some(0), orders: Some(0), ..Asked::default() };
        let plan = Plan::new(&spec, run, Vec::new(), &asked).expect("a manoeuvre");
        let moments = [1000, 3].map(|starts| {
            let source = Starts(AtomicUsize::new(starts));
            let mut rig = Rig::new(&spec, &source, STEP_MS).expect("it starts");
            let driven = vec![one(&mut rig, &plan, 0)];
            let finding = Finding {
                spec: &spec,
                source: &source,
                plan: &plan,
                run,
                driven: &driven,
                waivers: &[],
                only: None,
                jobs: 2,
            };
            let mut saved = BTreeSet::new();
            let found = find(&finding, &mut |name, _| {
                saved.insert(name.to_owned());
            });
            let found = found.expect("it has started once more");
            assert!(found.files.iter().all(|(name, _)| saved.contains(name)), "what is found is saved");
            assert!(!found.moments.is_empty());
            (found.moments.iter().map(|moment| moment.lines.clone()).collect::<Vec<_>>(), found.files)
        });
        assert_eq!(moments[0], moments[1]);
    }
}
