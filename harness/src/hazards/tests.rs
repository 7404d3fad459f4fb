use super::*;
use crate::campaign::plan::{Asked, Plan};
use crate::campaign::rig::Rig;
use crate::campaign::sweep::one;
use crate::controller::in_process::Builtin;
use crate::make::manoeuvres;
use crate::outcome::Severity;
use crate::rules::{MAP_AS_SPECIFIED, RULES};
use crate::selftest::demo_spec;
use crate::spec::facts::MapFrom;
use crate::vehicle::STEP_MS;
use std::collections::{BTreeMap, BTreeSet};

/// Names of the rules that a manoeuvre reaches with the reference on the demo van.
fn reached() -> BTreeMap<&'static str, BTreeSet<&'static str>> {
    let mut spec = demo_spec().unwrap();
    spec.facts.map_from = MapFrom::Hello;
    let run = &spec.runs["commit"];
    let source = Builtin { fault: None };
    let mut rig = Rig::new(&spec, &source, STEP_MS).unwrap();
    let mut with_gear = spec.clone();
    with_gear.facts.signals.gear = true;
    let mut reads_gear = Rig::new(&with_gear, &source, STEP_MS).unwrap();
    let mut declares = with_gear.clone();
    declares.facts.signals.engine_speed = true;
    (declares.facts.notices_stuck, declares.facts.sends_requests) = (true, true);
    let mut declares = Rig::new(&declares, &source, STEP_MS).unwrap();
    let mut found = BTreeMap::new();
    // Those that take hours reach nothing that the others don't.
    for manoeuvre in manoeuvres().iter().filter(|m| !m.long) {
        let plan = Plan::new(&spec, run, Vec::new(), &Asked { only: &[manoeuvre.name.to_owned()], ..Asked::default() })
            .unwrap();
        let names: &mut BTreeSet<_> = found.entry(manoeuvre.name).or_default();
        let rig = match manoeuvre.name {
            "freeze" | "bus-watch" | "ignition-off" | "full-pedal" => &mut declares,
            // What is told by the gear signal alone takes a box that reads it.
            "gearbox-misbehaves" | "swapped-taps" => &mut reads_gear,
            _ => &mut rig,
        };
        for index in 0..plan.len() {
            let driven = one(rig, &plan, index);
            let reached = driven.measures.told().filter(|(_, m)| m.reached.iter().any(|&n| n > 0));
            names.extend(reached.map(|(rule, _)| RULES[rule].card.name));
        }
    }
    found
}

#[test]
fn each_rule_is_reached_by_the_manoeuvres_that_it_names() {
    let reached = reached();
    for link in RULE_LINKS {
        for manoeuvre in link.manoeuvres {
            let by = reached.get(manoeuvre).unwrap_or_else(|| panic!("{}: no manoeuvre {manoeuvre}", link.rule));
            let all: Vec<_> = reached.iter().filter(|(_, r)| r.contains(link.rule)).map(|(m, _)| m).collect();
            assert!(by.contains(link.rule), "{manoeuvre} doesn't reach {}; these do: {all:?}", link.rule);
        }
    }
}

#[test]
fn hazards_rules_and_manoeuvres_are_linked_without_a_gap() {
    let mut wrong = Vec::new();
    for hazard in HAZARDS {
        if hazard.rules.is_empty() {
            wrong.push(format!("no rule detects: {}", hazard.name));
        }
        for rule in hazard.rules.iter().filter(|rule| link(rule).is_none()) {
            wrong.push(format!("{}: there is no rule {rule}", hazard.name));
        }
    }
    for link in RULE_LINKS {
        if of_rule(link.rule).is_empty() {
            wrong.push(format!("no hazard stands behind: {}", link.rule));
        }
        // Shift points reach that one, on the rolling road.
        if link.manoeuvres.is_empty() && link.rule != MAP_AS_SPECIFIED {
            wrong.push(format!("no manoeuvre reaches: {}", link.rule));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_links_know_the_rules_that_there_are() {
    for rule in RULES {
        let link = link(rule.card.name).unwrap_or_else(|| panic!("{} is not in RULE_LINKS", rule.card.name));
        assert_eq!(link.critical, rule.card.severity == Severity::Critical, "{}", link.rule);
    }
    let unknown: Vec<_> =
        RULE_LINKS.iter().map(|link| link.rule).filter(|name| RULES.iter().all(|r| r.card.name != *name)).collect();
    assert!(unknown.is_empty(), "linked, and no rules: {}", unknown.join(", "));
}

#[test]
fn names_are_not_used_twice_and_texts_are_short() {
    let hazards: BTreeSet<_> = HAZARDS.iter().map(|h| h.name).collect();
    let rules: BTreeSet<_> = RULE_LINKS.iter().map(|link| link.rule).collect();
    assert_eq!((hazards.len(), rules.len()), (HAZARDS.len(), RULE_LINKS.len()));
    for hazard in HAZARDS {
        // Three classes: harm 1 to 3, exposure 1 to 4, control 1 to 3.
        assert!((3..=10).contains(&hazard.rank), "{}", hazard.name);
        let longest = hazard.situation.len().max(hazard.effect.len());
        assert!(longest < 180 && !hazard.effect.ends_with('.'), "{}", hazard.name);
    }
}
