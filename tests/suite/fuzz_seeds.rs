//! The fuzzers' seeds do what their names say: one that nothing reads would teach a fuzzer nothing.

use sprag::controller::wire::{Kind, read_reset, read_tick, read_welcome};
use sprag::drive_file::{DriveFile, check};
use std::path::Path;

/// The seeds of a target: name and bytes, sorted.
pub fn seeds(target: &str) -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fuzz/seeds").join(target);
    let mut seeds: Vec<(String, Vec<u8>)> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| (entry.file_name().into_string().unwrap(), std::fs::read(entry.path()).unwrap()))
        .collect();
    seeds.sort();
    seeds
}

/// Each seed is read, or refused if its name says so; at least so many are read, and at least so many refused.
fn hold_to_names(target: &str, read: usize, refused: usize, reads: impl Fn(&[u8]) -> Result<(), String>) {
    let mut counts = [0, 0];
    for (name, bytes) in seeds(target) {
        let result = reads(&bytes);
        let says_refused = name.starts_with("refused");
        assert_eq!(result.is_err(), says_refused, "{target}/{name}: {result:?}");
        counts[usize::from(says_refused)] += 1;
    }
    assert!(counts[0] >= read && counts[1] >= refused, "{target}: {counts:?} read and refused");
}

fn text(bytes: &[u8]) -> Result<&str, String> {
    std::str::from_utf8(bytes).map_err(|error| error.to_string())
}

fn drive_file(bytes: &[u8]) -> Result<(), String> {
    let file = DriveFile::parse(text(bytes)?, "seed").map_err(|error| error.to_string())?;
    check(&file.drive)
}

#[test]
fn seeds_of_drive_files() {
    hold_to_names("drive_file", 3, 0, drive_file);
}

#[test]
fn seeds_of_the_closed_loop() {
    hold_to_names("closed_loop", 9, 0, drive_file);
}

#[test]
fn seeds_of_the_own_box() {
    hold_to_names("own_box", 1, 0, drive_file);
}

#[test]
fn seeds_of_specs() {
    hold_to_names("spec_toml", 2, 1, |bytes| {
        let mut refuse = |file: &str| Err(format!("{file}: no files here"));
        sprag::spec::parse(text(bytes)?, "seed", &mut refuse).map(|_| ()).map_err(|errors| errors.to_string())
    });
}

#[test]
fn seeds_of_maps() {
    hold_to_names("map_csv", 3, 1, |bytes| {
        sprag::spec::parse_map_csv(text(bytes)?, "seed", 6).map(|_| ()).map_err(|errors| errors.to_string())
    });
}

#[test]
fn seeds_of_the_protocol() {
    hold_to_names("protocol", 4, 1, |bytes| {
        let ticks = [Kind::Contacts, Kind::Requests].map(|kind| read_tick(bytes, 1230, kind).is_ok());
        let read = ticks.contains(&true) || read_welcome(bytes).is_ok() || read_reset(bytes, None).is_ok();
        read.then_some(()).ok_or_else(|| "no line of the protocol".to_owned())
    });
}
