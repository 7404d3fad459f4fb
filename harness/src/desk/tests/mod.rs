//! The checks against numbers by hand, each at the map that fails it, the one that just holds, and one without it.

mod by_hand;
mod cured;
mod drawn;
mod each_check;

use super::Desk;
use super::check;
use crate::spec::Spec;
use crate::spec::load_with_map;
use crate::spec::load_written;
use crate::spec::written::WrittenMap;
use std::path::PathBuf;

fn path(spec: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("specs").join(spec)
}

/// The demo van.
fn van() -> (Spec, WrittenMap) {
    load_written(&path("van.toml")).unwrap()
}

/// The demo van with another map.
fn van_with(csv: &str) -> (Spec, WrittenMap) {
    let (_, written) = van();
    load_with_map(&path("van.toml"), &written, csv).unwrap_or_else(|e| panic!("{e}"))
}

/// The demo van's map with one row of its text changed.
fn van_edited(changes: &[(&str, &str)]) -> (Spec, WrittenMap) {
    let mut text = van().1.text;
    for (right, other) in changes {
        assert_eq!(text.matches(right).count(), 1, "{right}");
        text = text.replace(right, other);
    }
    van_with(&text)
}

/// Lines that are the same at every pedal: up 2>3 to 5>6, then down 3>2 to 6>5.
fn flat(speeds: [f64; 8]) -> (Spec, WrittenMap) {
    let row = speeds.map(|s| s.to_string()).join(",");
    van_with(&format!("% / km/h,2>3,3>4,4>5,5>6,3>2,4>3,5>4,6>5\n0,{row}\n100,{row}\n"))
}

/// The word of a check.
fn word(desk: &Desk, number: u8) -> &'static str {
    desk.rows.iter().find(|r| r.check.number == number).unwrap().word()
}

/// The worst figure of a check.
fn figure(desk: &Desk, number: u8) -> &str {
    &desk.rows.iter().find(|r| r.check.number == number).unwrap().worst
}

fn checked((spec, written): &(Spec, WrittenMap)) -> Desk {
    check(spec, Some(written))
}

#[test]
fn the_table_is_numbered_and_says_what_each_check_asks() {
    for (number, check) in (1..).zip(&super::CHECKS) {
        assert_eq!(check.number, number);
        assert!(check.asks.ends_with('.') && !check.name.is_empty() && !check.source.is_empty(), "{check:?}");
    }
}

/// The demo van and hatch have nothing that fails; the map that is known to hunt fails the check that tells hunting.
#[test]
fn the_shipped_maps_are_what_they_are_said_to_be() {
    for (name, fails) in [("van.toml", false), ("hatch.toml", false), ("van-narrow.toml", true)] {
        let (spec, written) = load_written(&path(name)).unwrap();
        let desk = check(&spec, Some(&written));
        assert_eq!(desk.fails(), fails, "{name}");
        assert_eq!(word(&desk, 5) == "fails", fails, "{name}");
    }
}
