//! Several instances in one process: drives side by side come to what each comes to alone, whatever goes wrong in one of
//! them.

use crate::{boxes, runs};
use sprag::campaign::Stop;
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::sweep::{Checks, Driven, sweep};
use sprag::controller::Controller;
use sprag::controller::in_process::InProcess;
use sprag::controller::named::named;
use sprag::drive::{Drive, Happening};
use sprag::outcome::Basis;
use sprag::rules::find;
use sprag::signal::{Answer, Inputs, Output};
use sprag::spec::Spec;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

const SEED: u64 = 5;
const LENGTH_MS: u32 = 4000;

/// Short random drives; the supply of some of them dips. The name of a saved drive decides what else is checked: the
/// first one is also driven in a process of its own. None begins at rest: a plan drives the first of those after an hour of
/// idling too, which takes a box in Python ten seconds each.
fn drives(count: u32, dips: &[u32]) -> Vec<(String, Drive)> {
    let spec = runs::spec("van");
    let is_checked = |name: &String| Checks::of_random(sprag::make::name_number(name) as usize).afresh;
    let first = (0..).map(|n| format!("first {n}")).find(is_checked).unwrap();
    let drive = |at: u32| {
        let mut drive = sprag::make::random_drive(&spec, SEED, at, LENGTH_MS);
        drive.start.speed = drive.start.speed.max(1);
        drive.events.retain(|event| !matches!(event.what, Happening::Supply(..)));
        if dips.contains(&at) {
            drive.events.push(runs::at(1500, Happening::Supply(7000, 200)));
        }
        (if at == 0 { first.clone() } else { format!("drive {at}") }, drive)
    };
    (0..count).map(drive).collect()
}

/// What a script's drives come to, or `None` without Python.
fn driven(script: &str, jobs: usize, drives: Vec<(String, Drive)>) -> Option<Vec<Driven>> {
    let spec = runs::spec("van");
    let only = ["button".to_owned()];
    // The van has no button, so these are the saved drives alone.
    let plan = Plan::new(&spec, &spec.runs["commit"], drives, &Asked { only: &only, ..Asked::default() }).unwrap();
    let source = named(&boxes::script(script)?, Some(Duration::from_secs(20))).unwrap();
    let stop = AtomicBool::new(false);
    Some(sweep(&spec, source.as_ref(), &plan, jobs, &Stop(&stop), &mut |_| {}).unwrap())
}

/// Whether two sweeps came to the same, drive by drive.
fn assert_same(what: &str, one: &[Driven], other: &[Driven]) {
    assert_eq!(one.len(), other.len(), "{what}");
    for (at, (a, b)) in one.iter().zip(other).enumerate() {
        assert_eq!((&a.measures, a.driven_ms, a.silent), (&b.measures, b.driven_ms, b.silent), "{what}: drive {at}");
    }
}

/// The drives on which a rule is broken.
fn broken(driven: &[Driven], rule: &str) -> Vec<usize> {
    let rule = find(rule).unwrap();
    let breaks = |d: &Driven| d.measures.get(rule).mark(Basis::Seen).is_some_and(|mark| mark.broken());
    driven.iter().enumerate().filter(|(_, d)| breaks(d)).map(|(at, _)| at).collect()
}

#[test]
fn the_reference_in_python_drives_the_same_side_by_side_as_alone() {
    let Some(together) = driven("reference.py", 1, drives(70, &[])) else { return };
    assert!(together.iter().all(|d| !d.silent) && together.len() >= 70);
    assert!(broken(&together, "determinism").is_empty());
    assert_same("two threads", &together, &driven("reference.py", 2, drives(70, &[])).unwrap());
    assert_same("alone", &together, &driven("reference.py alone", 2, drives(70, &[])).unwrap());
}

#[test]
fn a_box_that_dies_takes_no_other_drive_with_it() {
    let drives = || drives(20, &[3, 11]);
    let Some(alone) = driven("crowd.py dies alone", 1, drives()) else { return };
    assert_eq!(broken(&alone, "answers each tick"), [3, 11]);
    assert_same("together", &alone, &driven("crowd.py dies", 1, drives()).unwrap());
    assert_same("together on two threads", &alone, &driven("crowd.py dies", 2, drives()).unwrap());
}

#[test]
fn what_only_dies_in_company_is_found_at_that_tick() {
    let Some(together) = driven("crowd.py dies-in-company", 1, drives(8, &[3])) else { return };
    let silent = broken(&together, "answers each tick");
    assert!(silent.contains(&3) && silent.len() > 1, "{silent:?}");
    assert!(silent.iter().all(|&at| together[at].driven_ms <= 1500 + 10), "{together:?}");
}

#[test]
fn instances_that_notice_each_other_break_determinism() {
    let Some(together) = driven("crowd.py one-clock", 1, drives(8, &[])) else { return };
    assert!(!broken(&together, "determinism").is_empty());
    let innocent = driven("crowd.py none", 1, drives(8, &[])).unwrap();
    assert!(broken(&innocent, "determinism").is_empty());
}

/// A reset that leaves something behind shows against a process that was just started, or against the drive before.
#[test]
fn a_reset_that_forgets_nothing_breaks_determinism() {
    let Some(alone) = driven("crowd.py forgets-reset alone", 1, drives(8, &[])) else { return };
    assert!(!broken(&alone, "determinism").is_empty());
}

#[test]
fn a_wish_to_stop_is_heard_between_drives() {
    /// Somebody who wishes to stop as soon as the first drive is under way.
    struct Impatient(Arc<AtomicBool>);
    impl Controller for Impatient {
        fn reset(&mut self) {
            self.0.store(true, Ordering::Relaxed);
        }
        fn step(&mut self, _: &Inputs, _: &[Answer]) -> Output {
            Output::OPEN
        }
    }
    let stop = Arc::new(AtomicBool::new(false));
    let wish = Arc::clone(&stop);
    let source = InProcess("impatient".to_owned(), move |_: &Spec| {
        Box::new(Impatient(Arc::clone(&wish))) as Box<dyn Controller>
    });
    let spec = runs::spec("van");
    let only = ["button".to_owned()];
    let asked = Asked { only: &only, ..Asked::default() };
    let plan = Plan::new(&spec, &spec.runs["commit"], drives(40, &[]), &asked).unwrap();
    // What was begun is seen through, and nothing else is begun.
    assert_eq!(sweep(&spec, &source, &plan, 1, &Stop(&stop), &mut |_| {}).unwrap().len(), 1);
}
