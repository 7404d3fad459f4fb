//! Simulated time until a seeded fault is caught: libFuzzer, led by the coverage of box, loop and rules, against Sprag's
//! plan on the same loop with the same rules and checks.
//!
//! `SPRAG_FUZZED` is the built `fuzz/measured/seeded_fault.rs`: `ci/bench.sh` sees to it. Without it, and where `FAULTS`
//! asks for others, there are no rows. What is never caught counts as the cap: against a side that comes to it a ratio is
//! at least what it says.

use crate::row::{Better, Row};
use crate::search::{asked, mean};
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::sweep::one;
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::{FAULTS, FaultCard, SECOND_FAULTS};
use sprag::rules::find;
use sprag::selftest::{Watch, demo_spec, spec_for};
use std::process::Command;

/// A few of either list, from plain ones to ones that take two things at once.
const NAMES: [&str; 6] =
    ["seven-bit-speed", "tap-debounced", "refusal-keeps-alive", "quiet-once", "deaf-in-pulse", "hasty-kickdown"];

/// Seeds, each of them a run of its own.
const SEEDS: u64 = 2;

/// The cap, simulated: 600 drives of a minute.
const CAP_MS: u64 = 10 * 3_600_000;

/// Simulated time until libFuzzer catches it, ms.
fn fuzzer(program: &str, name: &str, seed: u64, changes: &str) -> f64 {
    // It leaves the input behind that caught it.
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../target/fuzzed/");
    std::fs::create_dir_all(folder).expect("a folder for what it leaves");
    let ran = Command::new(program)
        .args([&format!("-seed={seed}"), "-max_len=65536", "-verbosity=0", &format!("-artifact_prefix={folder}")])
        .env("SPRAG_FAULT", name)
        .env("SPRAG_CAP_MS", CAP_MS.to_string())
        .env("SPRAG_CHANGES", changes)
        .output()
        .unwrap_or_else(|error| panic!("{program}: {error}"));
    let said = String::from_utf8_lossy(&ran.stdout);
    let ms = said.lines().find_map(|line| match line.split_once(' ') {
        Some(("caught", ms)) => ms.parse::<u64>().ok(),
        Some(("capped", _)) => Some(CAP_MS),
        _ => None,
    });
    ms.unwrap_or_else(|| panic!("{name}: {said}{}", String::from_utf8_lossy(&ran.stderr))).min(CAP_MS) as f64
}

/// Simulated time until the plan catches it, ms.
fn ours(card: &'static FaultCard, seed: u64) -> f64 {
    let spec = spec_for(&demo_spec().expect("it ships inside"), card);
    let source = Builtin { fault: Some(card.fault) };
    let mut watch = Watch::new(&spec, &source, find(card.rule).expect("a rule of the table")).expect("it is built in");
    let wanted = Asked { seed: Some(seed), ..Asked::default() };
    let plan = Plan::new(&spec, &spec.runs["commit"], Vec::new(), &wanted).expect("nothing unknown is asked for");
    let mut driven_ms = 0;
    for index in 0..plan.len() {
        let driven = one(&mut watch.rig, &plan, index);
        driven_ms += u64::from(driven.driven_ms);
        if driven_ms >= CAP_MS || watch.catches(&driven, &|| plan.drive(index)) {
            break;
        }
    }
    driven_ms.min(CAP_MS) as f64
}

pub fn measure(told: &mut dyn FnMut(Row)) {
    let Ok(program) = std::env::var("SPRAG_FUZZED") else {
        eprintln!("no row for libFuzzer: SPRAG_FUZZED names no built target");
        return;
    };
    let prefix = std::env::var("FAULTS").unwrap_or_default();
    let wanted = |name: &str| prefix.split(',').any(|start| name.starts_with(start));
    let named = |card: &&FaultCard| NAMES.contains(&card.name) && wanted(card.name);
    let cards: Vec<&'static FaultCard> = FAULTS.iter().chain(SECOND_FAULTS).filter(named).collect();
    if cards.is_empty() || asked("PLAIN", 1) == 0 {
        return;
    }
    let mut figures: [Vec<f64>; 3] = Default::default();
    for card in &cards {
        let over = |ms: &dyn Fn(u64) -> f64| mean(&(1..=SEEDS).map(ms).collect::<Vec<_>>());
        let of_one = [
            over(&|seed| ours(card, seed)),
            over(&|seed| fuzzer(&program, card.name, seed, "bytes")),
            over(&|seed| fuzzer(&program, card.name, seed, "drives")),
        ];
        let [a, b, c] = of_one.map(|ms| ms / 60_000.0);
        eprintln!("{:<26} {a:>8.1} {b:>8.1} {c:>8.1}   minutes: ours, libFuzzer on bytes, on drives", card.name);
        for (all, ms) in figures.iter_mut().zip(of_one) {
            all.push(ms);
        }
    }
    let [ours, bytes, drives] = figures.map(|all| mean(&all) / 60_000.0);
    let mut row = |what: &str, theirs: f64, must, aim| {
        told(Row {
            what: what.into(),
            figure: theirs / ours,
            unit: "x",
            must,
            aim,
            better: Better::High,
            note: format!(
                "geometric means over {} faults, seeds 1 to {SEEDS}, cap {} h simulated: {ours:.1} against {theirs:.1} min",
                cards.len(),
                CAP_MS / 3_600_000
            ),
        });
    };
    row(
        "simulated time to the first catch, against libFuzzer on bytes that make a drive: times less",
        bytes,
        5.0,
        20.0,
    );
    row("the same against libFuzzer on drive files, with the search's changes", drives, 1.0, 2.0);
}
