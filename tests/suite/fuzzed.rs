//! A build under a fuzzer, without the fuzzer: what the targets call does what the README says.

use crate::fuzz_seeds;
use own_crate::TableBox;
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::Fault;
use sprag::drive_file::DriveFile;
use sprag::fuzz::Fuzz;
use sprag::replay::{Came, replay, spec_of};
use sprag::selftest::demo_spec;
use std::path::Path;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
/// Room for an input, as the smoke run gives it.
const MOST: usize = 1 << 16;

fn fuzz(fault: Option<Fault>) -> Fuzz {
    Fuzz::of(demo_spec().unwrap(), Builtin { fault }).unwrap()
}

/// Changes from nothing on, each one of what the one before made, as a fuzzer without a corpus would begin; the first
/// that finds something.
fn first_finding(fuzz: &Fuzz, changes: u32) -> Option<(String, String)> {
    let (mut data, mut size) = (vec![0; MOST], 0);
    (0..changes).find_map(|number| {
        size = fuzz.change(&mut data, size, MOST, number);
        let finding = fuzz.finding(&data[..size])?;
        Some((finding, String::from_utf8(data[..size].to_vec()).unwrap()))
    })
}

#[test]
fn what_is_made_from_nothing_stands_alone_and_replays() {
    let fuzz = fuzz(None);
    let mut data = vec![0; MOST];
    let mut size = 0;
    for number in 0..20 {
        size = fuzz.change(&mut data, size, MOST, number);
        let file = DriveFile::parse(std::str::from_utf8(&data[..size]).unwrap(), "input").unwrap();
        assert_eq!(spec_of(&file, "input").unwrap(), demo_spec().unwrap());
        let replayed = replay(&file, "input", Some(&Builtin { fault: None })).unwrap();
        assert_eq!(replayed.came, Came::NothingExpected);
        // What is broken in truth alone is a signal limit: a replay lists it, a fuzzer doesn't hear of it.
        assert!(replayed.broken.iter().all(|rule| rule.contains(" (true): ")), "{:?}", replayed.broken);
    }
}

#[test]
fn the_same_changes_come_again() {
    let made = || {
        let (fuzz, mut data, mut size) = (fuzz(None), vec![0; MOST], 0);
        let sizes: Vec<usize> = (0..20)
            .map(|number| {
                size = fuzz.change(&mut data, size, MOST, number);
                size
            })
            .collect();
        (sizes, data)
    };
    assert!(made() == made());
}

#[test]
fn a_fault_is_found_by_its_rule_and_its_input_finds_it_again() {
    let (finding, input) = first_finding(&fuzz(Some(Fault::SevenBitSpeed)).only("over-rev after downshift"), 300)
        .expect("it is one of the plainest");
    assert!(finding.starts_with("broken: over-rev after downshift (margin -"), "{finding}");
    assert_eq!(
        fuzz(Some(Fault::SevenBitSpeed)).only("over-rev after downshift").finding(input.as_bytes()),
        Some(finding)
    );
    let file = DriveFile::parse(&input, "input").unwrap();
    let replayed = replay(&file, "input", Some(&Builtin { fault: Some(Fault::SevenBitSpeed) })).unwrap();
    assert!(replayed.broken.iter().any(|rule| rule.starts_with("over-rev after downshift")), "{:?}", replayed.broken);
}

#[test]
fn the_reference_is_never_at_fault() {
    assert_eq!(first_finding(&fuzz(None), 100), None);
}

#[test]
fn two_inputs_are_crossed_and_what_is_no_drive_is_not() {
    let fuzz = fuzz(None);
    let made = |number| {
        let mut data = vec![0; MOST];
        let size = fuzz.change(&mut data, 0, MOST, number);
        data.truncate(size);
        data
    };
    let (first, second) = (made(1), made(2));
    let mut into = vec![0; MOST];
    let sizes: Vec<usize> = (0..20).map(|number| fuzz.cross(&first, &second, &mut into, number)).collect();
    assert!(sizes.iter().any(|size| *size > 0));
    let last = sizes.last().copied().unwrap_or(0);
    assert!(last == 0 || DriveFile::parse(std::str::from_utf8(&into[..last]).unwrap(), "crossed").is_ok());
    assert_eq!(fuzz.cross(&first, b"no drive", &mut into, 3), 0);
    // Too little room: nothing is written, and what was there stays.
    assert_eq!(fuzz.cross(&first, &second, &mut [0; 10], 3), 0);
    let mut small = *b"no drive, no room";
    assert_eq!(fuzz.change(&mut small, 8, 17, 4), 8);
    assert_eq!(&small, b"no drive, no room");
}

/// A failing drive of a campaign, with what was expected and recorded and with a spec, is an input as it is.
#[test]
fn a_saved_failure_is_an_input() {
    let (fuzz, mut driven) = (fuzz(None), 0);
    for (name, bytes) in fuzz_seeds::seeds("drive_file") {
        fuzz.with_rig(&bytes, |rig, drive| {
            rig.drive(drive);
            driven += u32::from(name == "saved_failure.toml");
        });
    }
    assert_eq!(driven, 1);
}

/// The target that the README shows, called as the fuzzer calls it, on the seeds that it starts from.
#[test]
fn the_own_box_keeps_the_rules_on_its_seeds() {
    let van = Path::new(ROOT).join("specs/van.toml");
    let fuzz = Fuzz::new(van, "table box", |spec| Box::new(TableBox::new(spec))).unwrap();
    for (name, bytes) in fuzz_seeds::seeds("own_box") {
        assert_eq!(fuzz.finding(&bytes), None, "{name}");
    }
}

#[test]
fn the_readme_shows_the_target_that_is_built() {
    let read = |file: &str| std::fs::read_to_string(Path::new(ROOT).join(file)).unwrap();
    let target = read("fuzz/targets/own_box.rs");
    let lines = target.split_once("#![no_main]\n").unwrap().1.trim();
    assert!(lines.lines().filter(|line| !line.is_empty()).count() <= 10, "more than ten lines");
    assert!(read("fuzz/README.md").contains(&format!("```rust\n#![no_main]\n\n{lines}\n```\n")));
}
