//! The reference and its twin in Python get the same pseudo-random ticks and must decide the same in each.
//! Two programs written apart from one description seldom have the same mistake.

use crate::boxes;
use crate::wander::{self, Wander};
use sprag::closed_loop::ClosedLoop;
use sprag::controller::hello::{Hello, HelloLine};
use sprag::controller::named::named;
use sprag::controller::process::Program;
use sprag::controller::reference::Reference;
use sprag::controller::{Controller, Port};
use sprag::drive::Drive;
use sprag::make::{manoeuvres, random_drive};
use sprag::recording::Recording;
use sprag::signal::{Contacts, Signal};
use sprag::spec::Spec;
use sprag::spec::facts::{OutOfFirst, ReArm};
use sprag::spec::pedal::PedalIdentifier;
use sprag::spec::vehicle::EntryGear;
use sprag::vehicle::STEP_MS;
use std::path::Path;

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

/// The box with a button, armed by the lever too, on a pedal that reads 8 to 88 %.
fn back_in_gate() -> Hello {
    Hello {
        re_arm: ReArm::BackInGate,
        pedal_identifier: PedalIdentifier::E,
        pedal_released_pct: 8.0,
        pedal_floored_pct: 88.0,
        ..boxes::has_button()
    }
}

/// The box that reads the gear in a gate that holds it, and commands out of first.
fn out_of_first() -> Hello {
    let mut hello = Hello {
        signals: vec![Signal::Speed, Signal::Pedal, Signal::Gear],
        entry: EntryGear::Current,
        out_of_first: OutOfFirst::Commanded,
        ..boxes::plain()
    };
    let speed_kmh = vec![15.0; hello.map.pedal_pct.len()];
    hello.map.lines.insert(0, HelloLine { from: 1, to: 2, speed_kmh });
    hello
}

#[test]
fn the_twin_decides_the_same_tick_for_tick() {
    let kinds = [
        ("plain", boxes::plain(), 5000),
        ("reads gear", boxes::reads_gear(), u64::MAX - 70_000),
        ("button", boxes::has_button(), 0),
        ("back in the gate", back_in_gate(), 0),
        ("out of first", out_of_first(), 0),
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

/// Every so-manieth drive of the manoeuvres of a spec, none longer than a quarter of an hour, and random drives of 20 s: long enough for a few shifts each.
fn drives(spec: &Spec, every: usize, random: u32) -> Vec<(String, Drive)> {
    let named = manoeuvres().iter().flat_map(|manoeuvre| {
        let drives = (manoeuvre.drives)(spec).into_iter().enumerate().filter(|(_, drive)| drive.length_ms() <= 900_000);
        drives.map(|(at, drive)| (format!("{} {}", manoeuvre.name, at + 1), drive))
    });
    let random = (0..random).map(|at| (format!("random {}", at + 1), random_drive(spec, 2026, at, 20_000)));
    named.step_by(every).chain(random).collect()
}

/// What both decide; the first tick in which they differ, in words.
fn difference(reference: &Recording, twin: &Recording) -> Option<String> {
    if let Some(silence) = &twin.silence {
        return Some(format!("the twin: {silence}"));
    }
    let decided = |recording: &Recording| {
        let rows = recording.rows.iter();
        rows.map(|r| (r.t_ms, r.contacts, r.announcement, r.engaged, r.counted_gear)).collect::<Vec<_>>()
    };
    let (reference, twin) = (decided(reference), decided(twin));
    let first = reference.iter().zip(&twin).find(|(a, b)| a != b);
    first.map(|(a, b)| format!("reference {a:?}\ntwin      {b:?}")).or_else(|| {
        let (rows, other) = (reference.len(), twin.len());
        (rows != other).then(|| format!("{rows} rows of the reference, {other} of the twin"))
    })
}

/// Drives every other drive with both; ticks and commands compared.
fn drive_both(spec: &Spec, drives: &[(String, Drive)], parity: usize) -> (usize, usize) {
    let start = |name: &str| named(name, None).unwrap().start(spec).unwrap();
    let mut ports = [start("builtin:reference"), start(&boxes::script("reference.py").unwrap())];
    let mut loops = [ClosedLoop::new(spec, STEP_MS), ClosedLoop::new(spec, STEP_MS)];
    let (mut ticks, mut commands) = (0, 0);
    for (name, drive) in drives.iter().skip(parity).step_by(2) {
        for (looped, port) in loops.iter_mut().zip(&mut ports) {
            looped.run(drive, port.as_mut());
        }
        let difference = difference(loops[0].recording(), loops[1].recording());
        assert_eq!(difference, None, "{} {name}: {drive:?}", spec.name);
        let rows = &loops[0].recording().rows;
        ticks += rows.len();
        commands += rows
            .windows(2)
            .filter(|pair| pair[0].contacts == Contacts::default() && pair[1].contacts != pair[0].contacts)
            .count();
    }
    (ticks, commands)
}

/// In closed loop each decision comes back as what the box sees next, so one difference would grow.
fn same_in_closed_loop(spec: &str, every: usize, random: u32) {
    if boxes::script("reference.py in closed loop").is_none() {
        return;
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../specs").join(spec);
    let spec = sprag::spec::load(&path).unwrap();
    let drives = drives(&spec, every, random);
    let counts = std::thread::scope(|scope| {
        let halves = [0, 1].map(|parity| {
            scope.spawn({
                let (spec, drives) = (&spec, &drives);
                move || drive_both(spec, drives, parity)
            })
        });
        halves.map(|half| half.join().unwrap())
    });
    let (ticks, commands) = (counts[0].0 + counts[1].0, counts[0].1 + counts[1].1);
    println!("{}: {} drives, {ticks} ticks, {commands} commands alike", spec.name, drives.len());
    assert!(commands > drives.len(), "{commands} commands in {} drives compare little", drives.len());
}

#[test]
fn the_twin_drives_the_van_the_same() {
    same_in_closed_loop("van.toml", 12, 40);
}

#[test]
fn the_twin_drives_the_hatch_the_same() {
    same_in_closed_loop("hatch.toml", 12, 40);
}

/// Some 5 million ticks through pipes.
#[test]
#[ignore = "takes minutes; run it when the reference or its twin changes"]
fn the_twin_drives_everything_the_same() {
    same_in_closed_loop("van.toml", 1, 500);
    same_in_closed_loop("hatch.toml", 1, 500);
}

#[test]
fn the_twin_stays_small() {
    assert!(include_str!("../controllers/reference.py").lines().count() < 270);
}
