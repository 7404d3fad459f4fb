//! The manoeuvres of causes that fall together come to what they are made for, on every shipped vehicle.

use crate::runs::{measure, run, spec};

#[test]
fn on_each_vehicle_causes_meet_engaging_shifts_pulses_and_one_another() {
    let ties = || sprag::make::manoeuvres().iter().filter(|m| m.name.starts_with("tie-"));
    assert_eq!(ties().count(), 2);
    let rule = "disengaging wins ties";
    let card = sprag::rules::RULES[sprag::rules::find(rule).unwrap()].card;
    for name in ["van", "hatch", "hauler"] {
        let spec = spec(name);
        let mut reached = vec![0; card.situations.len()];
        for drive in ties().flat_map(|m| (m.drives)(&spec)) {
            let measure = measure(&spec, &run(&spec, "reference", &drive), rule);
            reached.iter_mut().zip(measure.reached).for_each(|(sum, more)| *sum += more);
        }
        for (situation, reached) in card.situations.iter().zip(reached) {
            assert!(reached >= situation.least, "{name}: {} {reached} times", situation.name);
        }
    }
}
