//! The reference and its twin in Python get the same pseudo-random ticks and must decide the same in each.
//! Two programs written apart from one description seldom have the same mistake.

use crate::boxes;
use crate::wander::{self, Wander};
use sprag::controller::hello::Hello;
use sprag::controller::process::Program;
use sprag::controller::reference::Reference;
use sprag::controller::{Controller, Port};
use sprag::signal::Contacts;

/// Drives both for a number of ticks; gives back how many commands and engagements were compared.
fn compare(hello: &Hello, key: u64, clock_ms: u64, ticks: u64) -> Option<(u32, u32)> {
    let program = Program::named(&boxes::script("reference.py")?).unwrap();
    let mut twin = program.launch(hello).unwrap();
    let mut reference = Reference::new(hello.clone(), None);
    let mut wander = Wander::new(hello, key, clock_ms);
    let (mut commands, mut engagements) = (0, 0);
    let mut last = (Contacts::default(), false);
    twin.reset().unwrap();
    for tick in 0..ticks {
        if tick == ticks / 2 {
            twin.reset().unwrap();
            reference.reset();
        }
        let answers = wander.tick(hello, tick, last);
        let expected = reference.step(&wander.inputs, &answers);
        let got = twin.step(&wander.inputs, &answers).unwrap();
        assert_eq!(got, expected, "tick {tick}: {:?} {answers:?} {reference:?}", wander.inputs);
        let contacts = wander::contacts_of(&got);
        commands += u32::from((contacts.up && !last.0.up) || (contacts.down && !last.0.down));
        engagements += u32::from(got.engaged == Some(true) && !last.1);
        last = (contacts, got.engaged == Some(true));
    }
    Some((commands, engagements))
}

#[test]
fn the_twin_decides_the_same_tick_for_tick() {
    let kinds = [
        ("plain", boxes::plain(), 5000),
        ("reads gear", boxes::reads_gear(), u64::MAX - 70_000),
        ("button", boxes::has_button(), 0),
    ];
    for (name, hello, clock_ms) in kinds {
        let (mut commands, mut engagements) = (0, 0);
        for key in [1, 77, 4242] {
            let Some(counts) = compare(&hello, key, clock_ms, 15_000) else { return };
            (commands, engagements) = (commands + counts.0, engagements + counts.1);
        }
        println!("{name}: {commands} commands, {engagements} engagements alike");
        // A wander in which next to nothing happens would compare nothing.
        assert!(commands >= 30 && engagements >= 10, "{name}: {commands} commands, {engagements} engagements");
    }
}
