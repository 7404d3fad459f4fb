//! Minimal drives: how small they are, how few different ones come of many seeds, how near they are to the smallest that
//! there are, and how many drives the shrinking takes.
//!
//! `SEEDS` and `FAULTS` (the starts of their names, with commas) in the environment ask for another number of seeds and
//! for some faults only. A seed's drive is the first random one of that seed that the fault's rule catches within `CAP`
//! drives; seeds without such a drive take no part, and the note says how many did.
//!
//! By brute force all drives of one or two lines are driven that a small alphabet of round numbers makes.

use crate::row::{Better, Row};
use crate::search::{asked, median};
use sprag::campaign::moments;
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::sweep::{Checks, Driven, drive};
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::{FAULTS, FaultCard};
use sprag::drive::{Demand, Drive, Event, Happening, Start, Step, When, Which};
use sprag::make::{random_drive, usual_gear};
use sprag::outcome::Moment;
use sprag::rules::{MAP_AS_SPECIFIED, find};
use sprag::selftest::{Watch, demo_spec, spec_for};
use sprag::signal::{Direction, Lever, Range};
use sprag::spec::Spec;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What came of one fault.
struct Figures {
    name: &'static str,
    /// Of each seed that caught it: the minimal drive, its lines, the drives spent.
    seeds: Vec<(Vec<String>, usize, u32)>,
    /// Lines of the smallest drive that the alphabet makes, where it makes one.
    smallest: Option<usize>,
}

pub fn measure(told: &mut dyn FnMut(Row)) {
    let (seeds, cap) = (asked("SEEDS", 10), asked("CAP", 1000));
    let prefix = std::env::var("FAULTS").unwrap_or_default();
    let asked_for = |name: &str| prefix.split(',').any(|prefix| name.starts_with(prefix));
    let cards: Vec<&'static FaultCard> =
        FAULTS.iter().filter(|card| card.rule != MAP_AS_SPECIFIED && asked_for(card.name)).collect();
    let next = AtomicUsize::new(0);
    let all: Mutex<Vec<(usize, Figures)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while let Some(card) = cards.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let figures = one_fault(card, seeds, cap);
                    tell(&figures);
                    let at = cards.iter().position(|other| other.name == card.name).unwrap();
                    all.lock().unwrap().push((at, figures));
                }
            });
        }
    });
    let mut all = all.into_inner().unwrap();
    all.sort_by_key(|(at, _)| *at);
    let caught: Vec<Figures> = all.into_iter().map(|(_, f)| f).filter(|f| !f.seeds.is_empty()).collect();
    rows(&caught, seeds, told);
}

/// How often each minimal drive came.
fn distinct(figures: &Figures) -> BTreeMap<&[String], usize> {
    let mut times = BTreeMap::new();
    for (lines, ..) in &figures.seeds {
        *times.entry(lines.as_slice()).or_insert(0) += 1;
    }
    times
}

fn tell(figures: &Figures) {
    let drives = distinct(figures);
    let mut text = format!("{}: {} of {} seeds", figures.name, drives.len(), figures.seeds.len());
    for (lines, times) in drives {
        text.push_str(&format!("\n  {times} x  {}", lines.join(" | ")));
    }
    eprintln!("{text}");
}

fn rows(all: &[Figures], seeds: usize, told: &mut dyn FnMut(Row)) {
    let each: Vec<f64> = all.iter().flat_map(|f| f.seeds.iter().map(|(_, size, _)| *size as f64)).collect();
    let spent: Vec<f64> = all.iter().flat_map(|f| f.seeds.iter().map(|(.., spent)| f64::from(*spent))).collect();
    let different: Vec<f64> = all.iter().map(|f| distinct(f).len() as f64).collect();
    let largest = all.iter().flat_map(|f| f.seeds.iter().map(|(_, size, _)| (*size, f.name))).max();
    let Some((largest, whose)) = largest else { return };
    let many = all.iter().filter(|f| f.seeds.len() == seeds).count();
    let note =
        format!("{} drives: seeds 1 to {seeds}, {} faults, {many} of them caught by every seed", each.len(), all.len());
    let row = |what: &str, figure, unit, must, aim, note: String| Row {
        what: what.into(),
        figure,
        unit,
        must,
        aim,
        better: Better::Low,
        note,
    };
    told(row("minimal drive, median of steps + events", median(&each), "lines", 3.0, 2.0, note.clone()));
    told(row("the largest minimal drive, steps + events", largest as f64, "lines", 6.0, 4.0, whose.into()));
    let mean = different.iter().sum::<f64>() / different.len() as f64;
    told(row("distinct minimal drives per fault, median", median(&different), "", 3.0, 1.0, format!("mean {mean:.1}")));
    let ratios: Vec<f64> = all
        .iter()
        .filter_map(|f| {
            f.smallest.map(|smallest| f.seeds.iter().map(move |(_, size, _)| *size as f64 / smallest as f64))
        })
        .flatten()
        .collect();
    if !ratios.is_empty() {
        let possible = all.iter().filter(|f| f.smallest.is_some()).count();
        told(row(
            "length of the minimal drive against brute force, where the alphabet makes one, mean",
            ratios.iter().sum::<f64>() / ratios.len() as f64,
            "x",
            1.1,
            1.02,
            format!("lines; {possible} faults, {} drives", ratios.len()),
        ));
    }
    told(row("drives spent shrinking, median", median(&spent), "drives", 700.0, 200.0, note));
}

fn one_fault(card: &'static FaultCard, seeds: usize, cap: usize) -> Figures {
    let spec = spec_for(&demo_spec().expect("it ships inside"), card);
    let source = Builtin { fault: Some(card.fault) };
    let rule = find(card.rule).expect("a rule of the table");
    let mut watch = Watch::new(&spec, &source, rule).expect("it is built in");
    let run = &spec.runs["commit"];
    let mut figures = Figures { name: card.name, seeds: Vec::new(), smallest: None };
    for seed in 1..=seeds as u64 {
        let found = (0..cap).find_map(|number| {
            let found = random_drive(&spec, seed, number as u32, run.drive_length.ms());
            let driven = drive(&mut watch.rig, &found, &Checks::of_random(number));
            watch.catches(&driven, &|| found.clone()).then_some((found, driven))
        });
        let Some((found, driven)) = found else { continue };
        let asked = Asked { random: Some(0), orders: Some(0), ..Asked::default() };
        let plan = Plan::new(&spec, run, vec![(format!("seed {seed}"), found)], &asked).expect("nothing unknown");
        let driven: Vec<Driven> = vec![driven];
        let finding = moments::Finding::of_rule(&spec, &source, &plan, run, &driven, rule);
        let shrunk = moments::find(&finding, &mut |_, _| {}).expect("it is built in").moments;
        if let Some(Moment { lines, size: (steps, events, _), shrink_drives, .. }) = shrunk.into_iter().next() {
            figures.seeds.push((lines, steps + events, shrink_drives));
        }
    }
    if !figures.seeds.is_empty() {
        let fails = |brute: &Drive| {
            let driven = drive(&mut watch.rig, brute, &Checks::default());
            watch.catches(&driven, &|| brute.clone())
        };
        figures.smallest = smallest(&spec, fails);
    }
    figures
}

/// Of the drives of one and two lines from an alphabet of round numbers: the lines of the first that fails.
fn smallest(spec: &Spec, mut fails: impl FnMut(&Drive) -> bool) -> Option<usize> {
    let step = |ms, pedal| Step { ms, demand: Demand::Pedal(pedal), brake: 0, grade: 0 };
    let mut starts = Vec::new();
    for (speed, lever) in [0, 200, 400, 600, 800].into_iter().flat_map(|s| [Lever::D, Lever::Gate].map(|l| (s, l))) {
        starts.push(Start { speed, gear: usual_gear(spec, f64::from(speed) / 10.0), lever, ..Start::default() });
    }
    let drive = |start: &Start, steps: Vec<Step>, events: Vec<Event>| Drive { start: start.clone(), steps, events };
    let pedals = [0, 200, 500, 1000];
    let ones = starts.iter().flat_map(|s| pedals.map(|pedal| drive(s, vec![step(LONG_MS, pedal)], Vec::new())));
    if ones.into_iter().any(|brute| fails(&brute)) {
        return Some(1);
    }
    let with_event = starts.iter().flat_map(|start| {
        let of =
            move |what, pedal| drive(start, vec![step(LONG_MS, pedal)], vec![Event { when: When::At(1000), what }]);
        HAPPENINGS.iter().flat_map(move |&what| pedals.map(|pedal| of(what, pedal)))
    });
    let with_step = starts.iter().flat_map(|start| {
        let of = move |ms, before, then| drive(start, vec![step(ms, before), step(LONG_MS, then)], Vec::new());
        let twos = move |ms| pedals.into_iter().flat_map(move |a| pedals.map(|b| of(ms, a, b)));
        [5000, 20_000].into_iter().flat_map(twos)
    });
    with_event.chain(with_step).any(|brute| fails(&brute)).then_some(2)
}

/// How long a drive of the alphabet lasts, ms.
const LONG_MS: u32 = 40_000;
/// What happens in it, at 1 s.
const HAPPENINGS: [Happening; 16] = [
    Happening::Lever(Lever::Gate),
    Happening::Lever(Lever::N),
    Happening::Lever(Lever::R),
    Happening::Lever(Lever::D),
    Happening::Tap(Direction::Up, 100),
    Happening::Tap(Direction::Down, 100),
    Happening::Button(500),
    Happening::Range(Range::Low),
    Happening::Ignition(false),
    Happening::Engine(false),
    Happening::Reset,
    Happening::Refuse(1),
    Happening::WheelLock(1000),
    Happening::Lost(Which::All, 2000),
    Happening::Negative(Which::All, 2000),
    Happening::Frozen(Which::All, 2000),
];
