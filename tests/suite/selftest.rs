//! Each seeded fault is caught by its named rule, by a drive in which nothing can be left out.

use sprag::campaign::rig::Rig;
use sprag::controller::in_process::Builtin;
use sprag::drive::Drive;
use sprag::drive_file::{Basis, DriveFile};
use sprag::outcome;
use sprag::replay::{Came, replay};
use sprag::rules::{MAP_AS_SPECIFIED, RULES, again, find, needs_build};
use sprag::selftest::{Caught, demo_spec, run, spec_for};
use sprag::vehicle::STEP_MS;
use std::sync::OnceLock;

/// One run for all tests of this file: it takes most of their time.
fn caught() -> &'static [Caught] {
    static RUN: OnceLock<Vec<Caught>> = OnceLock::new();
    RUN.get_or_init(|| run(&demo_spec().expect("the demo spec"), 2, &|_| {}).expect("built-in controllers start"))
}

/// Those that a drive catches; the others are caught on the rolling road and leave no drive.
fn driven() -> impl Iterator<Item = &'static Caught> {
    caught().iter().filter(|c| c.card.rule != MAP_AS_SPECIFIED)
}

#[test]
fn every_seeded_fault_is_caught_by_its_named_rule_and_the_build_is_blamed() {
    for c in caught() {
        assert!(c.right(), "{} is not caught by '{}' within the budget", c.card.name, c.card.rule);
    }
}

#[test]
fn every_rule_has_a_seeded_fault() {
    for rule in RULES {
        assert!(caught().iter().any(|c| c.card.rule == rule.card.name), "no fault for '{}'", rule.card.name);
    }
}

/// A fault that shows on most plain drives needs no harness. One fault is the whole absence of a controller.
#[test]
fn every_fault_but_the_dead_box_equals_the_reference_on_at_least_half_of_the_plain_drives() {
    for c in caught() {
        println!("{:<26} equal on {:>3} of {}", c.card.name, c.equal, c.plain);
        assert!(c.plain >= 50);
        if c.card.name != "does-nothing" {
            assert!(2 * c.equal >= c.plain, "{} differs on most plain drives", c.card.name);
        }
    }
}

#[test]
fn leaving_out_any_one_step_or_event_of_a_minimal_drive_makes_the_rule_kept() {
    let demo = demo_spec().expect("the demo spec");
    for c in driven() {
        let spec = spec_for(&demo, c.card);
        let file = DriveFile::parse(&c.file, c.card.name).expect("the file of a minimal drive reads");
        let expected = file.expected.as_ref().expect("it says what is expected");
        let rule = find(&expected.rule).expect("a rule");
        let basis = if expected.basis == Basis::Seen { outcome::Basis::Seen } else { outcome::Basis::True };
        let source = Builtin { fault: Some(c.card.fault) };
        let spec = spec_for(&spec, c.card);
        let mut rig = Rig::new(&spec, &source, STEP_MS).expect("starts");
        let mut broken = |drive: &Drive| {
            rig.drive(drive);
            if again(rule).is_some() {
                rig.measure_again(drive, rule);
            }
            rig.measures()[rule].mark(basis).is_some_and(|m| m.broken())
        };
        assert!(broken(&file.drive), "{}: the minimal drive itself breaks the rule", c.card.name);
        for at in 0..file.drive.events.len() {
            let mut less = file.drive.clone();
            less.events.remove(at);
            assert!(!broken(&less), "{}: event {} of {:?} isn't needed", c.card.name, at + 1, file.drive);
        }
        for at in 0..file.drive.steps.len() {
            let mut less = file.drive.clone();
            less.steps.remove(at);
            assert!(
                less.steps.is_empty() || !broken(&less),
                "{}: step {} of {:?} isn't needed",
                c.card.name,
                at + 1,
                file.drive
            );
        }
    }
}

#[test]
fn every_minimal_drive_replays_from_its_file_alone_with_the_identical_margin() {
    for c in driven() {
        let file = DriveFile::parse(&c.file, c.card.name).expect("reads");
        let replayed = replay(&file, c.card.name, None).expect("replays");
        // Driving twice, and whatever else takes more than the drive, needs the build.
        let more = find(c.card.rule).is_some_and(|rule| again(rule).is_some());
        let expected = if find(c.card.rule).is_some_and(needs_build) { Came::NeedsBuild } else { Came::Same };
        assert_eq!(replayed.came, expected, "{}", c.card.name);
        assert_eq!(replayed.ticks_differ, None, "{}", c.card.name);
        let build = Builtin { fault: Some(c.card.fault) };
        if !more {
            assert_eq!(replay(&file, c.card.name, Some(&build)).expect("replays").came, Came::Same, "{}", c.card.name);
            let reference = replay(&file, c.card.name, Some(&Builtin { fault: None })).expect("replays");
            assert_ne!(reference.came, Came::Same, "{}: the reference keeps the rule", c.card.name);
        }
    }
}
