//! Drives until a seeded fault is first caught by its named rule: Sprag's plan against plain generators on the same
//! loop, with the same rules and the same checks of each drive.
//!
//! `SEEDS`, `CAP` and `FAULTS` (starts of their names, with commas between) in the environment ask for less than the full
//! figure, and `PLAIN=0` leaves the plain generators out: then only the last row means anything. Faults that no drive can
//! show (those of 'map as specified' and 'bad map refused') take no part. The second list are faults that the search
//! wasn't built on, with a lower cap. Beside them stands libFuzzer, in simulated time.

use crate::fuzzed;
use crate::plain;
use crate::row::{Better, Row};
use proptest::strategy::{BoxedStrategy, Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::sweep::{Checks, drive, one};
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::{FAULTS, FaultCard, SECOND_FAULTS};
use sprag::drive::Drive;
use sprag::rules::{MAP_AS_SPECIFIED, find};
use sprag::selftest::{Watch, demo_spec, spec_for};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The cap on the second list, drives.
const SECOND_CAP: usize = 2000;

/// Drives to the first catch, a seed each; what was never caught counts as the cap.
#[derive(Debug, Clone)]
struct Figures {
    name: &'static str,
    ours: Vec<f64>,
    uniform: Vec<f64>,
    brake_off: Vec<f64>,
}

/// A number from the environment.
pub fn asked(name: &str, default: usize) -> usize {
    let read = |text: String| text.parse().unwrap_or_else(|_| panic!("{name}: {text} is no number"));
    std::env::var(name).map_or(default, read)
}

pub fn measure(told: &mut dyn FnMut(Row)) {
    let (seeds, cap) = (asked("SEEDS", 5), asked("CAP", 20_000));
    measure_list("", FAULTS, seeds, cap, told);
    measure_list("second list: ", SECOND_FAULTS, seeds, cap.min(SECOND_CAP), told);
    fuzzed::measure(told);
}

/// The rows of one list, each with these words in front.
fn measure_list(list: &str, faults: &'static [FaultCard], seeds: usize, cap: usize, told: &mut dyn FnMut(Row)) {
    let prefix = std::env::var("FAULTS").unwrap_or_default();
    let asked_for = |card: &&FaultCard| prefix.split(',').any(|start| card.name.starts_with(start));
    let cards: Vec<&'static FaultCard> = faults
        .iter()
        .filter(|card| ![MAP_AS_SPECIFIED, "bad map refused"].contains(&card.rule) && asked_for(card))
        .collect();
    if cards.is_empty() {
        return;
    }
    let next = AtomicUsize::new(0);
    let all: Mutex<Vec<(usize, Figures)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(card) = cards.get(at) else { return };
                    let figures = one_fault(card, seeds, cap);
                    eprintln!(
                        "{:<26} {:>8.0} {:>8.0} {:>8.0}   ours {:?}",
                        figures.name,
                        mean(&figures.ours),
                        mean(&figures.uniform),
                        mean(&figures.brake_off),
                        figures.ours
                    );
                    all.lock().unwrap().push((at, figures));
                }
            });
        }
    });
    let mut all = all.into_inner().unwrap();
    all.sort_by_key(|(at, _)| *at);
    let all: Vec<Figures> = all.into_iter().map(|(_, figures)| figures).collect();
    rows(&all, seeds, cap, &mut |row| told(Row { what: format!("{list}{}", row.what), ..row }));
}

fn rows(all: &[Figures], seeds: usize, cap: usize, told: &mut dyn FnMut(Row)) {
    let over = |pick: fn(&Figures) -> &Vec<f64>| mean(&all.iter().map(|f| mean(pick(f))).collect::<Vec<_>>());
    let (ours, uniform, brake_off) = (over(|f| &f.ours), over(|f| &f.uniform), over(|f| &f.brake_off));
    let note = format!("geometric means over {} faults, seeds 1 to {seeds}, cap {cap}: {ours:.1} against", all.len());
    let row = |what: &str, figure, unit, must, aim, better, note| Row {
        what: what.into(),
        figure,
        unit,
        must,
        aim,
        better,
        note,
    };
    told(row(
        "drives to the first catch, against plain uniform driving: times fewer",
        uniform / ours,
        "x",
        25.0,
        100.0,
        Better::High,
        format!("{note} {uniform:.1}"),
    ));
    told(row(
        "the same against the plain generator with the brake mostly off",
        brake_off / ours,
        "x",
        4.0,
        10.0,
        Better::High,
        format!("{note} {brake_off:.1}"),
    ));
    let worst = all.iter().map(|f| (mean(&f.ours) / mean(&f.brake_off), f.name)).max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((figure, name)) = worst {
        told(row(
            "the fault at which that generator is best, drives of ours for one of its",
            figure,
            "x",
            2.0,
            1.0,
            Better::Low,
            name.into(),
        ));
    }
    let slowest = all.iter().map(|f| (median(&f.ours), f.name)).max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((figure, name)) = slowest {
        told(row(
            "drives for the slowest seeded fault, median of the seeds",
            figure,
            "drives",
            1000.0,
            300.0,
            Better::Low,
            name.to_string(),
        ));
    }
}

/// The geometric mean.
pub fn mean(of: &[f64]) -> f64 {
    (of.iter().map(|drives| drives.ln()).sum::<f64>() / of.len() as f64).exp()
}

/// The middle one.
pub fn median(of: &[f64]) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

fn one_fault(card: &'static FaultCard, seeds: usize, cap: usize) -> Figures {
    let spec = spec_for(&demo_spec().expect("it ships inside"), card);
    let source = Builtin { fault: Some(card.fault) };
    let rule = find(card.rule).expect("a rule of the table");
    let mut watch = Watch::new(&spec, &source, rule).expect("it is built in");
    let mut figures = Figures { name: card.name, ours: Vec::new(), uniform: Vec::new(), brake_off: Vec::new() };
    for seed in 1..=seeds as u64 {
        let wanted = Asked { seed: Some(seed), ..Asked::default() };
        let plan = Plan::new(&spec, &spec.runs["commit"], Vec::new(), &wanted).expect("nothing unknown is asked for");
        let ours = (0..plan.len().min(cap)).find(|&index| {
            let driven = one(&mut watch.rig, &plan, index);
            watch.catches(&driven, &|| plan.drive(index))
        });
        figures.ours.push(ours.map_or(cap, |index| index + 1) as f64);
        if asked("PLAIN", 1) == 0 {
            figures.uniform.push(cap as f64);
            figures.brake_off.push(cap as f64);
            continue;
        }
        let mut plainly = |strategy: BoxedStrategy<Drive>| {
            let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[seed as u8; 32]);
            let mut runner = TestRunner::new_with_rng(Config::default(), rng);
            let caught = (0..cap).find(|&number| {
                let plain = strategy.new_tree(&mut runner).expect("nothing is rejected").current();
                let driven = drive(&mut watch.rig, &plain, &Checks::of_random(number));
                watch.catches(&driven, &|| plain.clone())
            });
            caught.map_or(cap, |number| number + 1) as f64
        };
        figures.uniform.push(plainly(plain::uniform().boxed()));
        figures.brake_off.push(plainly(plain::brake_mostly_off().boxed()));
    }
    figures
}
