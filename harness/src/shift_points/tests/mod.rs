mod tiny;

use super::*;
use crate::controller::Controller;
use crate::controller::in_process::InProcess;
use crate::controller::reference::Fault;
use crate::selftest::demo_spec;
use crate::signal::{Answer, Inputs, Output};
use crate::spec::facts::{Answers, OutOfFirst, TakeOver, TapWiring};
use crate::spec::link::Rounding;
use crate::spec::map::Line;
use crate::spec::pedal::PedalStops;
use crate::units::{Kmh, Ms};
use std::path::Path;
use tiny::Tiny;

fn shipped(name: &str) -> Spec {
    crate::spec::load(&Path::new(env!("CARGO_MANIFEST_DIR")).join("specs").join(name)).unwrap()
}

fn measured_at(spec: &Spec, source: &dyn Source, pedals: Pedals, jobs: usize) -> Measured {
    measure(spec, source, &Options { pedals, jobs }, &AtomicBool::new(false), &mut |_, _| {}).unwrap()
}

fn of_reference(spec: &Spec) -> Measured {
    measured_at(spec, &Builtin { fault: None }, Pedals::Usual, 2)
}

fn of_fault(fault: Fault) -> Measured {
    measured_at(&demo_spec().unwrap(), &Builtin { fault: Some(fault) }, Pedals::Usual, 2)
}

/// Read less line at the points of one line that break the rule, with their codes.
fn broken(measured: &Measured) -> Vec<(u8, u8, u8, f64)> {
    measured.broken().filter_map(|p| Some((p.at.from, p.at.to, p.at.code, p.difference_kmh()?))).collect()
}

fn crossing(from: u8, to: u8, code: u8) -> Crossing {
    Crossing { from, to, code, stops: PedalStops::WHOLE }
}

fn read_at(measured: &Measured, from: u8, to: u8, code: u8) -> f64 {
    let point = measured.points.iter().find(|p| p.at == crossing(from, to, code)).unwrap();
    let Found::Shifted(shifted) = &point.found else { panic!("{point:?}") };
    shifted.read_kmh
}

fn of_tiny(edit: impl Fn(&mut Tiny) + Sync) -> Measured {
    let source = InProcess("tiny".into(), |spec: &Spec| {
        let mut tiny = Tiny::new(spec);
        edit(&mut tiny);
        Box::new(tiny) as Box<dyn Controller>
    });
    measured_at(&demo_spec().unwrap(), &source, Pedals::Step(85), 2)
}

/// By hand: at the map's positions the map's numbers, all whole; at code 127 (49.804 %) 2>3 lies at
/// 51 + 5 · 0.9804 = 55.90, so 56, and 3>2 at 35 + 4 · 0.9804 = 38.92, so 38; at code 128 (50.196 %) 2>3 lies at
/// 56 + 4 · 0.0196 = 56.08, so 57, and 3>2 at 39 + 5 · 0.0196 = 39.10, so 39.
#[test]
fn the_reference_shifts_on_the_vans_lines() {
    let van = demo_spec().unwrap();
    let measured = of_reference(&van);
    assert_eq!(measured.exit(&van), Exit::Kept, "{}", table(&van, &measured));
    for (from, to, code, read) in [
        (2, 3, 0, 43.0),
        (3, 4, 0, 57.0),
        (6, 5, 0, 64.0),
        (5, 6, 255, 150.0),
        (3, 2, 255, 57.0),
        (2, 3, 127, 56.0),
        (2, 3, 128, 57.0),
        (3, 2, 127, 38.0),
        (3, 2, 128, 39.0),
    ] {
        assert_eq!(read_at(&measured, from, to, code), read, "{from}>{to} at {code}");
    }
    assert_eq!(measured.ceiling, Some(Ceiling::UpTo(40)));
    assert_eq!(measured.margin_kmh().map(f64::round), Some(0.0));
}

/// The reference answers in the tick in which the answer is there: less than a tick after its arrival. Up to the nearest
/// count, the tolerance's first, it is never off.
#[test]
fn the_reference_answers_within_a_tick_and_at_the_first_count_that_is_due() {
    for name in ["van.toml", "hatch.toml", "hauler.toml"] {
        let spec = shipped(name);
        let measured = of_reference(&spec);
        assert_eq!(measured.points.len(), measured.planned);
        assert_eq!(measured.exit(&spec), Exit::Kept, "{}", table(&spec, &measured));
        for point in &measured.points {
            let Found::Shifted(shifted) = &point.found else { panic!("{point:?}") };
            let whole = if (point.line_kmh - point.line_kmh.round()).abs() < 1e-6 {
                point.line_kmh.round()
            } else if point.at.way() == Direction::Up {
                point.line_kmh.ceil()
            } else {
                point.line_kmh.floor()
            };
            assert_eq!(shifted.read_kmh, whole, "{name}: {point:?}");
            assert!(shifted.delay_ms.unwrap() < spec.facts.tick.ms(), "{name}: {point:?}");
            // Cut to the whole count, or rounded to it, and older by an answer and a tick on a ramp of 1 km/h/s at most.
            let ahead = shifted.true_kmh - shifted.read_kmh;
            let least = if spec.link.speed_rounding == Rounding::Floor { 0.0 } else { -0.5 };
            assert!((least - 0.2..least + 1.2).contains(&ahead), "{name}: {point:?}");
        }
    }
}

/// 25 mph is 40.2 km/h, so 40 is the highest count.
#[test]
fn the_ceiling_is_found_to_the_count() {
    assert_eq!(of_reference(&shipped("hatch.toml")).ceiling, Some(Ceiling::UpTo(40)));
    // 40 mph is 64.4 km/h.
    let fast = of_fault(Fault::CeilingInMph);
    assert_eq!(fast.ceiling, Some(Ceiling::UpTo(64)));
    let van = demo_spec().unwrap();
    assert_eq!((fast.broken().count(), fast.exit(&van)), (0, Exit::Broken));
    assert!(
        table(&van, &fast).contains("up to 64 km/h read, the ceiling is 40 km/h: engagement speed ceiling is broken")
    );
    assert_eq!((below_kmh(64, Rounding::Floor), below_kmh(64, Rounding::Nearest)), (65.0, 64.5));
}

/// The fault lowers 4>5 by 6 km/h below 15 % pedal: codes up to 38 (14.9 %).
#[test]
fn a_low_cell_shows_where_it_is_and_by_how_much() {
    let measured = of_fault(Fault::LowCell);
    assert_eq!(broken(&measured), [0, 12, 25, 26, 38].map(|code| (4, 5, code, -6.0)));
    assert!(measured.unfit.is_empty());
}

#[test]
fn a_line_that_is_off_by_two_breaks_the_rule_everywhere() {
    let measured = of_fault(Fault::LineOffByTwo);
    let wrong = broken(&measured);
    assert_eq!(wrong.len(), 28);
    assert!(wrong.iter().all(|&(from, to, _, off)| (from, to) == (4, 3) && off <= -2.0 && off > -3.0), "{wrong:?}");
    assert_eq!(measured.margin_kmh().map(f64::round), Some(-1.0));
}

/// Between 40 % (code 102) and 50 % (127.5) the lines of 10 % more: 2>3 is 5 km/h late, 3>2 some 5 km/h early.
#[test]
fn a_wrong_column_shows_between_its_two_positions() {
    let wrong = broken(&of_fault(Fault::WrongColumn));
    assert!(wrong.iter().all(|&(_, _, code, _)| (103..=127).contains(&code)), "{wrong:?}");
    assert!(wrong.iter().any(|&(from, to, _, off)| (from, to) == (2, 3) && off > 4.0), "{wrong:?}");
    assert!(wrong.iter().any(|&(from, to, _, off)| (from, to) == (3, 2) && off > 3.0), "{wrong:?}");
    assert!(wrong.iter().any(|&(from, to, _, off)| (from, to) == (5, 6) && off > 10.0), "{wrong:?}");
}

/// At the map's positions the swing that flips a pair is the gap of its lines: 43 − 27 at a released pedal.
#[test]
fn the_swing_that_flips_a_pair_is_its_gap() {
    let measured = of_reference(&demo_spec().unwrap());
    let at = |from: u8, code: u8| {
        let swing = measured.swings.iter().find(|s| s.at == crossing(from, from + 1, code)).unwrap();
        (swing.high, swing.flips)
    };
    assert_eq!(at(2, 0), (43, Some(16)));
    assert_eq!(at(5, 0), (84, Some(20)));
    assert_eq!(at(2, 255), (68, Some(11)));
    // One line 1 km/h below the other.
    let narrow = of_fault(Fault::GapCollapsed);
    assert!(narrow.swings.iter().any(|s| s.flips == Some(1)));
}

/// A known delay, from the arrival on: it shows as itself, up to the tick at which the box can act.
#[test]
fn a_fixed_delay_is_measured_to_a_tick() {
    for delay_ms in [0, 130, 250] {
        let measured = of_tiny(|tiny| tiny.delay_ms = delay_ms);
        let delays: Vec<u64> = measured
            .points
            .iter()
            .filter_map(|p| match &p.found {
                Found::Shifted(s) => s.delay_ms.map(u64::from),
                _ => None,
            })
            .collect();
        assert_eq!(delays.len(), 8 * 4);
        assert!(delays.iter().all(|d| (delay_ms..delay_ms + 10).contains(d)), "{delay_ms}: {delays:?}");
        assert_eq!(measured.broken().count(), 0);
    }
}

/// A first-order lag of 300 ms reaches a count only after the next one is read.
#[test]
fn a_box_that_smooths_its_speed_or_shows_nothing_is_not_blamed() {
    let van = demo_spec().unwrap();
    let smooth = of_tiny(|tiny| tiny.constant_ms = 300.0);
    assert_eq!(smooth.exit(&van), Exit::Kept, "{}", table(&van, &smooth));
    assert!(
        smooth.points.iter().any(|p| p.difference_kmh().is_some_and(|d| d >= 1.0)),
        "one count late at whole lines"
    );
    let quiet = of_tiny(|tiny| tiny.shows = false);
    assert_eq!(quiet.exit(&van), Exit::Kept, "{}", table(&van, &quiet));
    assert_eq!(quiet.ceiling, Some(Ceiling::UpTo(40)));
}

#[test]
fn a_box_that_never_engages_is_told_in_a_sentence() {
    let van = demo_spec().unwrap();
    let dead = of_fault(Fault::DoesNothing);
    assert_eq!((dead.exit(&van), dead.points.len()), (Exit::NotReached, 0));
    let screen = table(&van, &dead);
    assert!(screen.contains("The box does not even engage at 24 km/h read; the ceiling is 40 km/h."), "{screen}");
    assert!(screen.contains("224 of 224 points were not measured"), "{screen}");
}

/// Engaged by its own word, and never a contact: the lines of the lowest gear are broken, the others not reached.
#[test]
fn an_engaged_box_without_commands_breaks_the_rule() {
    let van = demo_spec().unwrap();
    let mute = of_tiny(|tiny| tiny.mute = true);
    assert_eq!(mute.exit(&van), Exit::Broken);
    for point in &mute.points {
        match (&point.found, point.at.from, point.at.to) {
            (Found::NoCommand(to), 2, 3) => assert!(*to >= point.line_kmh + 6.0, "{point:?}"),
            (Found::NotReached(why), 3.., _) => assert!(why.contains("could not be held in gear"), "{why}"),
            _ => panic!("{point:?}"),
        }
    }
}

/// A line 1>2 at 27.5 km/h, so 28, which the box commands: the gearbox goes down into first by itself.
#[test]
fn out_of_first_where_the_box_commands_it() {
    let mut spec = demo_spec().unwrap();
    (spec.facts.signals.gear, spec.facts.out_of_first) = (true, OutOfFirst::Commanded);
    let speeds = vec![Kmh(27.5); spec.map.pedal.len()];
    spec.map.lines.insert(0, Line { from: 1, to: 2, speeds });
    let measured = measured_at(&spec, &Builtin { fault: None }, Pedals::Step(85), 2);
    assert_eq!(measured.exit(&spec), Exit::Kept, "{}", table(&spec, &measured));
    for code in [0, 85, 170, 255] {
        assert_eq!(read_at(&measured, 1, 2, code), 28.0);
    }
}

#[test]
fn swapped_contacts_shift_the_other_way() {
    let swapped = of_tiny(|tiny| tiny.swapped = true);
    assert!(swapped.points.iter().any(|p| matches!(p.found, Found::OtherWay(_)) && p.broken()));
    assert_eq!(swapped.exit(&demo_spec().unwrap()), Exit::Broken);
}

#[test]
fn a_box_that_dies_ends_the_measurements() {
    let source = InProcess("dies".into(), |_: &Spec| Box::new(Dies) as Box<dyn Controller>);
    let van = demo_spec().unwrap();
    let dead = measured_at(&van, &source, Pedals::Usual, 2);
    assert_eq!(dead.exit(&van), Exit::Broken);
    assert!(table(&van, &dead).contains("The controller fell silent: it panicked: out of fuel"));
}

struct Dies;

impl Controller for Dies {
    fn reset(&mut self) {}

    fn step(&mut self, inputs: &Inputs, _: &[Answer]) -> Output {
        assert!(inputs.time_ms < 2000, "out of fuel");
        Output::OPEN
    }
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let van = demo_spec().unwrap();
    let on = |jobs| csv(&measured_at(&van, &Builtin { fault: Some(Fault::LowCell) }, Pedals::Step(51), jobs));
    assert_eq!(on(1), on(3));
}

#[test]
fn boxes_of_all_kinds_are_measured() {
    let kept = |edit: &dyn Fn(&mut Spec), what: &str| {
        let mut spec = demo_spec().unwrap();
        edit(&mut spec);
        let measured = measured_at(&spec, &Builtin { fault: None }, Pedals::Step(64), 2);
        assert_eq!(measured.exit(&spec), Exit::Kept, "{what}: {}", table(&spec, &measured));
    };
    for tick in [1.0, 7.0, 20.0] {
        kept(&|spec| spec.facts.tick = Ms::new(tick), "tick");
    }
    kept(&|spec| spec.facts.take_over = TakeOver::Button, "button");
    kept(&|spec| spec.facts.tap_wiring = TapWiring::Shared, "shared wires");
    kept(&|spec| spec.facts.answers = Answers::Requests { width: Ms::new(120.0), gap: Ms::new(100.0) }, "requests");
    kept(&|spec| spec.facts.signals.gear = true, "gear signal");
    kept(&|spec| spec.link.speed_rounding = Rounding::Nearest, "nearest");
    kept(&|spec| spec.link.period = Ms::new(400.0), "slow link");
    kept(&|spec| spec.limits.engagement_speed_ceiling = Kmh(12.0), "low ceiling");
}

/// By hand for the van: 10 % is 25.5 codes, 20 % is 51, 90 % is 229.5; the middle of 0 and 25 is 12.
#[test]
fn the_pedal_codes_are_those_that_matter() {
    let codes = codes(&demo_spec().unwrap(), Pedals::Usual);
    for code in [0, 12, 25, 26, 38, 51, 76, 77, 102, 127, 128, 153, 228, 229, 230, 231, 255] {
        assert!(codes.contains(&code), "{code} is not in {codes:?}");
    }
    assert_eq!(super::codes(&demo_spec().unwrap(), Pedals::Step(100)), [0, 100, 200, 255]);
    assert_eq!(super::codes(&demo_spec().unwrap(), Pedals::Step(1)).len(), 256);
}

/// A line on a count allows it and the next; one between counts the next whole one and the one after.
#[test]
fn the_tolerance_is_the_first_count_that_is_due_and_the_next() {
    let van = demo_spec().unwrap();
    let margin = |from, to, code, read: f64| {
        let shifted = Shifted {
            read_kmh: read,
            before_kmh: if to > from { read - 1.0 } else { read + 1.0 },
            true_kmh: read + 0.5,
            pedal_pct: 0.0,
            delay_ms: Some(5),
            before_ramp: false,
        };
        let margin = point(&van, crossing(from, to, code), Found::Shifted(shifted)).margin_kmh().unwrap();
        (margin * 10.0).round() / 10.0
    };
    // 2>3 at a released pedal: 43.
    assert_eq!([42.0, 43.0, 44.0, 45.0].map(|read| margin(2, 3, 0, read)), [-1.0, 0.0, 0.0, -1.0]);
    // 2>3 at code 127: 55.9.
    assert_eq!([55.0, 56.0, 57.0, 58.0].map(|read| margin(2, 3, 127, read)), [-0.9, 0.1, 0.0, -1.0]);
    // 3>2 at a released pedal: 27.
    assert_eq!([28.0, 27.0, 26.0, 25.0].map(|read| margin(3, 2, 0, read)), [-1.0, 0.0, 0.0, -1.0]);
    // 5>6 at 40 %: 106, and 107.1 at 41 %, where a box that holds whole percent may look: 108.
    assert_eq!([106.0, 108.0, 109.0].map(|read| margin(5, 6, 102, read)), [0.0, 0.0, -1.0]);
}

/// A higher floor keeps the box from shifting up on its line: that is no fault of the box.
#[test]
fn a_wait_for_the_landing_speed_is_excused() {
    let mut van = demo_spec().unwrap();
    let at = crossing(2, 3, 0);
    // Third gear turns 38.2 r/min per km/h: 2000 r/min are 52.3 km/h, 53 the first count, 54 the last.
    van.limits.rpm_floor = crate::units::Rpm(2000.0);
    let span = span(&van, &at).unwrap();
    assert_eq!((span.first_kmh.round(), span.last_kmh), (43.0, 54.0));
}

#[test]
fn a_map_without_room_is_told_as_such() {
    let mut van = demo_spec().unwrap();
    for line in van.map.lines.iter_mut().filter(|l| (l.from, l.to) == (3, 2)) {
        line.speeds = vec![Kmh(56.0); line.speeds.len()];
    }
    let why = span(&van, &crossing(3, 4, 0)).unwrap_err();
    assert_eq!(why, "the map leaves no room for gear 3: its lines lie 1.0 km/h apart");
}

#[test]
fn the_files_hold_every_point_and_no_foreign_markup() {
    let mut van = demo_spec().unwrap();
    van.name = "<v&n>".into();
    let measured = measured_at(&van, &Builtin { fault: Some(Fault::LowCell) }, Pedals::Step(255), 1);
    let text = csv(&measured);
    assert_eq!(text.lines().count(), 1 + 8 * 2);
    let low = text.lines().find(|l| l.starts_with("4,5,0,")).unwrap();
    assert!(low.starts_with("4,5,0,0.00,73.000,67,66,67."), "{low}");
    assert!(low.contains(",-6.000,") && low.ends_with(",\"shifted\""), "{low}");
    let picture = svg(&van, &measured);
    assert!(picture.contains("spec &lt;v&amp;n&gt;") && picture.ends_with("</svg>\n"));
    // A dot a point, and three in the legend.
    assert_eq!(picture.matches("<circle").count(), 8 * 2 + 3);
}
