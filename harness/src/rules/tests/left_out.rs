//! What a rule says where it doesn't apply or can't be judged.

use super::made::spec;
use crate::rules::{MAP_AS_SPECIFIED, RULES, Rule, STUCK_NOTICED, find};
use crate::spec::Spec;
use crate::spec::facts::OnCause;
use crate::spec::vehicle::{EntryGear, GateMeans};

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

/// A box that reads no gear knows the one that the gate enters only where it is always the same.
#[test]
fn a_gear_that_no_box_can_know() {
    let fixed = spec("van.toml");
    let mut entered = fixed.clone();
    entered.vehicle.gearbox.gate.entry = EntryGear::Current;
    let mut read = entered.clone();
    read.facts.signals.gear = true;
    let leaning = [
        "hunting count",
        "dither immunity",
        "only on the line",
        "response deadline",
        "settles on map gear",
        "light-pedal minimum upshift speed",
        "coasting downshift",
        "kickdown",
        "busy-ness",
        "counted gear agrees",
    ];
    for name in leaning {
        let reason = rule(name).cant_judge;
        assert_eq!((reason(&fixed), reason(&read)), (None, None), "{name}");
        assert!(reason(&entered).is_some_and(|why| why.contains("reads no gear")), "{name}");
    }
    // Only one situation of these needs it.
    let partly = [("disengaging wins ties", 1), ("no command when it may not", 1), ("implausible speed holds", 2)];
    for (name, needs) in partly {
        for which in 0..rule(name).card.situations.len() {
            let asks = |spec| (rule(name).asks)(spec, which);
            assert_eq!((asks(&fixed), asks(&read), asks(&entered)), (true, true, which != needs), "{name}, {which}");
        }
    }
}

/// Below a limit the gearbox goes as it likes: what is counted agrees with what is read or with nothing.
#[test]
fn a_limit_that_is_counted_and_no_gear_that_is_read() {
    let reason = rule("counted gear agrees").cant_judge;
    let mut hatch = spec("hatch.toml");
    assert_eq!(reason(&hatch), None);
    let asks = |spec: &Spec| [0, 1, 2].map(|which| (rule("implausible speed holds").asks)(spec, which));
    assert_eq!(asks(&hatch), [true; 3]);
    hatch.facts.signals.gear = false;
    assert!(reason(&hatch).is_some_and(|why| why.contains("limit")));
    // Nor can it know in which gear it has come to a stop; and where the gate enters no fixed one, no refusal either.
    assert_eq!(asks(&hatch), [true, true, false]);
    let refused = rule("refused shift handled").cant_judge;
    (hatch.facts.signals.engine_speed, hatch.vehicle.gearbox.gate.entry) = (true, EntryGear::Fixed(2));
    assert_eq!(refused(&hatch), None);
    hatch.vehicle.gearbox.gate.entry = EntryGear::Current;
    assert!(refused(&hatch).is_some_and(|why| why.contains("reads no gear")));
    hatch.vehicle.gearbox.gate.means = GateMeans::HeldGear;
    assert_eq!(refused(&hatch), None);
}

/// Lost data, a range that isn't high and readings that stand still are faults that a box can find.
#[test]
fn a_box_that_only_pauses_lets_go_for_no_fault() {
    let asks = |lost_data: OnCause, range: bool, notices_stuck: bool| {
        let mut spec = spec("van.toml");
        (spec.facts.lost_data, spec.facts.signals.range, spec.facts.notices_stuck) = (lost_data, range, notices_stuck);
        [0, 1, 2].map(|which| (rule("every transition announced").asks)(&spec, which))
    };
    let pauses = OnCause::PausesMs(1000);
    assert_eq!(asks(pauses, false, false), [true, true, false]);
    for asked in [asks(OnCause::Disengages, false, false), asks(pauses, true, false), asks(pauses, false, true)] {
        assert_eq!(asked, [true; 3]);
    }
}
