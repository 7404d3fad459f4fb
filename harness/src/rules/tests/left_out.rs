//! What a rule says where it doesn't apply or can't be judged.

use super::made::spec;
use crate::rules::{MAP_AS_SPECIFIED, RULES, Rule, STUCK_NOTICED, find};
use crate::spec::Spec;

fn rule(name: &str) -> &'static Rule {
    &RULES[find(name).unwrap_or_else(|| panic!("no rule {name}"))]
}

/// The van has a low range, and its wire goes to the box.
#[test]
fn low_range_where_there_is_none_or_no_wire() {
    let reason = |spec: &Spec| (rule("low range disengages").does_not_apply)(spec);
    let van = spec("van.toml");
    assert_eq!(reason(&van), None);
    let mut without = van.clone();
    without.vehicle.gearbox.low_range = None;
    assert_eq!(reason(&without).as_deref(), Some("the vehicle has no low range"));
    let mut unwired = van;
    unwired.facts.signals.range = false;
    assert_eq!(reason(&unwired).as_deref(), Some("the range is not wired to the box"));
}

/// Of a box that says nothing nobody knows when it engages.
#[test]
fn a_box_that_announces_nothing() {
    let van = spec("van.toml");
    let mut silent = van.clone();
    silent.facts.announces = false;
    for name in ["no shift right after engaging", STUCK_NOTICED] {
        let reason = rule(name).cant_judge;
        assert_eq!(reason(&van), None, "{name}");
        let why = reason(&silent).unwrap_or_else(|| panic!("{name} can't be judged"));
        assert!(why.contains("announces nothing"), "{name}: {why:?}");
    }
}

/// No drive tells the map to the count: the reason names the command that does.
#[test]
fn the_map_is_measured_elsewhere() {
    let why = (rule(MAP_AS_SPECIFIED).cant_judge)(&spec("van.toml")).expect("can't be judged by a drive");
    assert!(why.contains("'sprag shiftpoints'"), "{why:?}");
}
