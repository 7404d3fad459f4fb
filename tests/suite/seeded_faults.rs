//! Every seeded fault is alive: somewhere it decides otherwise than the reference. That its rule catches it is shown
//! in closed loop; a fault that never acts could be caught by no rule.

use crate::boxes;
use crate::wander::{self, Wander};
use sprag::controller::Controller;
use sprag::controller::hello::Hello;
use sprag::controller::in_process::guard;
use sprag::controller::reference::{FAULTS, Fault, FaultCard, Reference};

/// Whether fault and reference differ in a wander of 60 s.
fn differ(hello: &Hello, fault: Fault, key: u64) -> bool {
    let mut reference = Reference::new(hello.clone(), None);
    let mut faulty = guard(Box::new(Reference::new(hello.clone(), Some(fault))));
    let mut wander = Wander::new(hello, key, 0);
    let mut last: (sprag::signal::Contacts, bool) = Default::default();
    let mut resets = 0;
    (0..6000).any(|tick| {
        // Now and then a reset, in a pulse where there is one.
        if tick > 1500 * (resets + 1) && (last.0 != Default::default() || tick % 1500 == 1499) {
            resets += 1;
            reference.reset();
            if faulty.reset().is_err() {
                return true;
            }
        }
        let answers = wander.tick(hello, tick, last);
        let expected = reference.step(&wander.inputs, &answers);
        last = (wander::contacts_of(&expected), expected.engaged == Some(true));
        if faulty.step(&wander.inputs, &answers) != Ok(expected) {
            return true;
        }
        let mut sent = [Vec::new(), Vec::new()];
        reference.requests(&mut sent[0]);
        faulty.requests(&mut sent[1]).unwrap();
        sent[0] != sent[1]
    })
}

#[test]
fn every_seeded_fault_acts_somewhere() {
    // A wander has no clock near its end, no hour before it, no damaged map, no engine that stalls, no two things in one tick, no six
    // engagements within ten seconds, no answer twice, no engine speed, no ignition off for long, and seldom a certain
    // corner of the map: the selftest catches those.
    let rules = ["disengaging wins ties", "clock-wrap invariance", "bad map refused", "idle-hour invariance"];
    let faults = [
        Fault::EngagesWithoutEnd,
        Fault::TwinIsAFault,
        Fault::EngineUnseen,
        Fault::TopTap,
        Fault::StuckColumn,
        Fault::KickAt80,
        Fault::FreezeUnseen,
        Fault::SlowFreezeUnseen,
        Fault::SteadyIsStuck,
        Fault::AsksOn,
    ];
    let rare = |card: &&FaultCard| rules.contains(&card.rule) || faults.contains(&card.fault);
    let mut same = Vec::new();
    for card in FAULTS.iter().filter(|card| !rare(card)) {
        let mut hello = boxes::plain();
        hello.signals.extend(card.reads);
        hello.sends_requests = true;
        hello.downhill_rpm = matches!(card.fault, Fault::DeafToDescents | Fault::ForgetsDescent).then_some(3500.0);
        let first = (1..=300).find(|key| differ(&hello, card.fault, key * 7919));
        println!("{:<26} differs first in wander {first:?}", card.name);
        if first.is_none() {
            same.push(card.name);
        }
    }
    assert!(same.is_empty(), "{same:?} act nowhere");
}
