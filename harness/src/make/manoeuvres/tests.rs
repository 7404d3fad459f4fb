use super::*;
use crate::drive::{Condition, Happening, When};
use crate::drive_check::check;
use crate::drive_text::lines;
use crate::make::draft::{gear_for, held_grade_pct, tenths};
use crate::make::test_spec::van;
use crate::signal::{Direction, Lever};
use crate::spec::facts::TakeOver;
use crate::units::Kmh;
use std::collections::BTreeSet;
use std::mem::discriminant;

/// All that the run `commit` drives.
fn all(spec: &Spec) -> Vec<(&'static str, Drive)> {
    manoeuvres()
        .iter()
        .filter(|m| !m.long)
        .flat_map(|m| (m.drives)(spec).into_iter().map(move |drive| (m.name, drive)))
        .collect()
}

#[test]
fn every_drive_of_every_manoeuvre_is_within_bounds() {
    let mut slow_box = van();
    slow_box.limits.engagement_speed_ceiling = Kmh(8.0);
    slow_box.facts.signals.engine_speed = true;
    slow_box.facts.signals.gear = true;
    let mut button = van();
    button.facts.take_over = TakeOver::Button;
    let mut empty_map = van();
    empty_map.map.lines.clear();
    for spec in [van(), slow_box, button, empty_map] {
        for (name, drive) in all(&spec) {
            assert_eq!(check(&drive), Ok(()), "{name}\n{}", lines(&drive).join("\n"));
        }
    }
}

#[test]
fn each_manoeuvre_has_drives_and_a_name_of_its_own() {
    let names: BTreeSet<&str> = manoeuvres().iter().map(|m| m.name).collect();
    assert_eq!(names.len(), manoeuvres().len());
    for m in manoeuvres() {
        // The van's box has no button.
        assert_eq!((m.drives)(&van()).len() >= 4, m.name != "button", "{}", m.name);
        assert!(m.about.ends_with('.'), "{}", m.about);
    }
}

#[test]
fn all_manoeuvres_of_a_commit_take_one_to_fourteen_hours() {
    let length_ms: u64 = all(&van()).iter().map(|(_, drive)| u64::from(drive.length_ms())).sum();
    let hours = length_ms as f64 / 3.6e6;
    // The public speed cycles alone take two, the rich ones one and a half.
    assert!((1.0..14.0).contains(&hours), "{hours} h in {} drives", all(&van()).len());
}

#[test]
fn no_two_drives_are_the_same_and_they_are_the_same_each_time() {
    let drives = all(&van());
    let distinct: BTreeSet<&Drive> = drives.iter().map(|(_, drive)| drive).collect();
    assert_eq!(distinct.len(), drives.len());
    assert_eq!(drives, all(&van()));
}

#[test]
fn events_come_before_the_drive_ends() {
    for (name, drive) in all(&van()) {
        for event in &drive.events {
            if let When::At(ms) = event.when {
                assert!(ms < drive.length_ms(), "{name}: {event:?}\n{}", lines(&drive).join("\n"));
            }
        }
    }
}

#[test]
fn drives_meet_the_link_in_many_phases() {
    let phases: BTreeSet<u16> = all(&van()).iter().map(|(_, drive)| drive.start.poll_phase_ms).collect();
    assert!(phases.len() > 40 && phases.iter().all(|phase| phase % 2 == 1 && *phase < 100), "{phases:?}");
}

#[test]
fn every_happening_and_condition_is_met() {
    let drives = all(&van());
    let events = || drives.iter().flat_map(|(_, drive)| &drive.events);
    let mut kinds = Vec::new();
    for kind in events().map(|event| discriminant(&event.what)) {
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    // 22 kinds of happening; a box that takes over by the lever has no button.
    assert_eq!(kinds.len(), 21);
    for condition in [Condition::Closes(Direction::Down), Condition::Opens(Direction::Up), Condition::ShiftBegins] {
        assert!(events().any(|event| matches!(event.when, When::After(c, _) if c == condition)), "{condition:?}");
    }
}

#[test]
fn a_box_with_a_button_gets_it_pressed_after_each_hand_over() {
    let mut spec = van();
    spec.facts.take_over = TakeOver::Button;
    for (name, drive) in all(&spec) {
        let buttons = drive.events.iter().filter(|event| matches!(event.what, Happening::Button(300))).count();
        let gates = drive.events.iter().filter(|event| event.what == Happening::Lever(Lever::Gate)).count();
        // A bounce or a fault moves the lever alone; whoever hands over presses too.
        let plain = buttons <= gates && (buttons > 0 || drive.start.lever == Lever::Gate);
        assert!(plain || name == "button", "{name}");
    }
}

#[test]
fn the_ceiling_is_met_on_the_kilometre_and_beside_it() {
    let speeds: Vec<u16> = engage::creep(&van()).iter().map(|drive| drive.start.speed).collect();
    for speed in [390, 400, 410] {
        assert!(speeds.contains(&speed), "{speeds:?}");
    }
}

#[test]
fn the_gear_suits_the_speed() {
    // Up lines at a light pedal: 32, 51, 66 and 82 km/h.
    for (kmh, gear) in [(0.0, 1), (30.0, 2), (32.0, 3), (60.0, 4), (70.0, 5), (100.0, 6)] {
        assert_eq!(gear_for(&van(), kmh), gear, "{kmh} km/h");
    }
    assert_eq!((tenths(51.04), tenths(-1.0), tenths(999.0), tenths(f64::NAN)), (510, 0, 3000, 0));
}

/// By hand, the van in 4th at 80 km/h and half pedal: 28.27·80 = 2,262 rpm, full load 400 Nm, drag 42.6 Nm, share
/// 0.5·(1.4 − 0.2) = 0.6, so 223.0 Nm or 52.82 kW, 48.59 kW at the wheel, 2,187 N at 22.22 m/s; less 385 N of air; over
/// 25,497 N that is 7.07 %, less 1.2 % of rolling: 5.87 %.
#[test]
fn the_grade_that_a_pedal_holds_is_that_of_the_hand_calculation() {
    let grade_pct = held_grade_pct(&van(), 4, 80.0, 50.0);
    assert!((grade_pct - 5.87).abs() < 0.02, "{grade_pct}");
}
