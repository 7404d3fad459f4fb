//! The reference on the van with one fact, signal or number of it changed: right on each, so it breaks nothing.

use crate::runs;
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::rig::Rig;
use sprag::campaign::sweep::one;
use sprag::closed_loop::ClosedLoop;
use sprag::controller::hello::Hello;
use sprag::controller::in_process::{Builtin, guard};
use sprag::controller::reference::Reference;
use sprag::make::manoeuvres;
use sprag::rules::{Judge, RULES, find};
use sprag::spec::Spec;
use sprag::spec::facts::{Answers, OnCause, OutOfFirst, ReArm, TakeOver, TapWiring};
use sprag::spec::link::{Rounding, SpeedSource};
use sprag::spec::map::Line;
use sprag::spec::pedal::{PedalIdentifier, PedalStops};
use sprag::spec::vehicle::{EntryGear, GateMeans, TapInShift};
use sprag::units::{Kmh, Ms, Rpm};
use sprag::vehicle::STEP_MS;

/// What is changed, and how.
type Variant = (&'static str, fn(&mut Spec));

const VARIANTS: [Variant; 20] = [
    ("a tick of 1 ms", |spec| spec.facts.tick = Ms::new(1.0)),
    ("a tick of 20 ms", |spec| spec.facts.tick = Ms::new(20.0)),
    ("a slow link", |spec| spec.link.period = Ms::new(300.0)),
    ("speed of the driven axle, rounded", |spec| {
        (spec.link.speed_source, spec.link.speed_rounding) = (SpeedSource::DrivenAxle, Rounding::Nearest);
    }),
    ("speed of the output shaft", |spec| spec.link.speed_source = SpeedSource::OutputShaft),
    ("engine speed read", |spec| spec.facts.signals.engine_speed = true),
    ("gear read", |spec| spec.facts.signals.gear = true),
    ("all read and no wire for the range", |spec| {
        let signals = &mut spec.facts.signals;
        (signals.engine_speed, signals.gear, signals.range) = (true, true, false);
    }),
    ("shared wires and pauses", |spec| {
        spec.facts.tap_wiring = TapWiring::Shared;
        (spec.facts.driver_tap, spec.facts.lost_data) = (OnCause::PausesMs(2000), OnCause::PausesMs(1500));
    }),
    ("a button", |spec| spec.facts.take_over = TakeOver::Button),
    ("a button, and the lever back in the gate", |spec| {
        (spec.facts.take_over, spec.facts.re_arm) = (TakeOver::Button, ReArm::BackInGate);
    }),
    ("a pedal with stops of its own", |spec| {
        spec.link.pedal_identifier = PedalIdentifier::E;
        spec.link.pedal_stops = PedalStops { released: 20, floored: 215 };
    }),
    ("requests", |spec| spec.facts.answers = Answers::Requests { width: Ms::new(100.0), gap: Ms::new(150.0) }),
    ("no announcements", |spec| spec.facts.announces = false),
    ("taps queued in a shift", |spec| spec.vehicle.gearbox.gate.tap_in_shift = TapInShift::Queued),
    ("the gear that it is in on entry", |spec| {
        (spec.facts.signals.gear, spec.vehicle.gearbox.gate.entry) = (true, EntryGear::Current);
    }),
    ("one gear below on entry", |spec| {
        (spec.facts.signals.gear, spec.vehicle.gearbox.gate.entry) = (true, EntryGear::OneBelow);
    }),
    ("up out of first commanded", |spec| {
        (spec.facts.signals.gear, spec.facts.out_of_first) = (true, OutOfFirst::Commanded);
        let speeds = spec.map.pedal.iter().map(|pedal| Kmh(27.0 + 0.08 * pedal.0)).collect();
        spec.map.lines.insert(0, Line { from: 1, to: 2, speeds });
    }),
    ("the gear that brakes kept downhill", |spec| spec.limits.downhill_rpm = Some(Rpm(3500.0))),
    ("a gate that limits", |spec| {
        spec.facts.signals.gear = true;
        let gate = &mut spec.vehicle.gearbox.gate;
        (gate.means, gate.entry) = (GateMeans::RangeLimit, EntryGear::Current);
    }),
];

/// What is broken by what the box could know in the first drives of the plan, in words.
fn broken((name, change): &Variant) -> Vec<String> {
    let mut spec = runs::spec("van");
    change(&mut spec);
    let source = Builtin::named("reference").expect("it is built in");
    let asked = Asked { random: Some(150), first: Some(300), ..Asked::default() };
    let plan = Plan::new(&spec, &spec.runs["commit"], Vec::new(), &asked).expect("nothing unknown is asked for");
    let mut rig = Rig::new(&spec, &source, STEP_MS).expect("it is built in");
    let mut all = Vec::new();
    for at in 0..plan.len() {
        let driven = one(&mut rig, &plan, at);
        let broken = driven.measures.told().filter(|(_, m)| m.seen.is_some_and(|mark| mark.broken()));
        all.extend(broken.map(|(rule, _)| format!("{name}: {} in {}", RULES[rule].card.name, plan.name(at))));
    }
    all
}

#[test]
fn the_reference_is_right_on_each_variant_of_the_van() {
    let halves = std::thread::scope(|scope| {
        let (one, other) = VARIANTS.split_at(VARIANTS.len() / 2);
        [one, other]
            .map(|half| scope.spawn(move || half.iter().flat_map(broken).collect::<Vec<_>>()))
            .map(|half| half.join())
    });
    let all: Vec<String> = halves.into_iter().flat_map(|half| half.expect("it doesn't panic")).collect();
    assert!(all.is_empty(), "{}", all.join("\n"));
}

/// A pedal that reads 8 to 71 % of its byte: the box that goes by its stops keeps 'kickdown', one that takes the byte for
/// the travel never sees the floor.
#[test]
fn a_box_that_ignores_the_stops_of_the_pedal_never_kicks_down() {
    let whole = runs::spec("van");
    let mut spec = whole.clone();
    spec.link.pedal_stops = PedalStops { released: 20, floored: 180 };
    let ladder = manoeuvres().iter().find(|m| m.name == "kickdown-ladder").expect("it is a manoeuvre");
    let drives = (ladder.drives)(&spec);
    let kickdown = find("kickdown").expect("it is a rule");
    for (told, kept) in [(&spec, true), (&whole, false)] {
        let mut port = guard(Box::new(Reference::new(Hello::of(told), None)));
        let (mut looped, mut judge) = (ClosedLoop::new(&spec, STEP_MS), Judge::default());
        let (mut reached, mut broken) = (0, 0);
        for drive in &drives {
            looped.run(drive, port.as_mut());
            let mut measures = Vec::new();
            judge.judge(&spec, looped.recording(), &mut measures);
            let measure = &measures[kickdown];
            reached += u32::from(measure.reached[0] > 0);
            broken += u32::from(measure.seen.is_some_and(|mark| mark.broken()));
        }
        assert!(reached >= 5, "{reached} drives come to it");
        assert_eq!(broken == 0, kept, "{broken} of {reached} broken");
    }
}
