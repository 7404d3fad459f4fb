//! What each change leaves as it was, and what it may touch.

use super::*;
use crate::drive::Start;
use crate::make::test_spec::van;
use crate::search::lesson::Lesson;
use std::collections::BTreeSet;

const LENGTH_MS: u32 = 60_000;

/// Six steps of 10 s; the lever goes into the gate at 1 s.
fn parent() -> Drive {
    let step = |pedal| Step { ms: 10_000, demand: Demand::Pedal(pedal), brake: 0, grade: 0 };
    let gate = Event { when: When::At(1000), what: Happening::Lever(Lever::Gate) };
    Drive {
        start: Start { lever: Lever::D, ..Start::default() },
        steps: [100, 200, 300, 400, 500, 600].map(step).to_vec(),
        events: vec![gate],
    }
}

/// A box that engages at 1.23 s, closes a contact at 20 s for 120 ms, and comes nearest to breaking a rule at 35 s.
fn lesson() -> Lesson {
    let moments = [
        (Moment::Gate, 1000),
        (Moment::Engages, 1230),
        (Moment::Closes, 20_000),
        (Moment::Opens, 20_120),
        (Moment::Gate, 30_000),
        (Moment::Closes, 40_000),
    ];
    Lesson::made(parent(), &[(3, 0.5, 35_000)], &moments, &[])
}

fn archive() -> Archive {
    Archive::of(vec![lesson()])
}

fn changes(spec: &Spec, number: u32) -> Changes<'_> {
    Changes { spec, seed: 1, number, length_ms: LENGTH_MS, dice: Dice::new("change", 1, number) }
}

#[test]
fn a_child_is_a_drive_of_its_length_and_depends_on_its_number_alone() {
    let (spec, archive) = (van(), archive());
    for number in 0..300 {
        let all =
            |mut c: Changes<'_>| [c.insert(&archive), c.nudge(&archive), c.splice(&archive), c.leave_out(&archive)];
        let children = all(changes(&spec, number));
        for child in children.iter().flatten() {
            assert_eq!(check(child), Ok(()));
            assert!(child.length_ms() <= 2 * LENGTH_MS);
            assert!(child.events.iter().all(|e| !matches!(e.when, When::At(ms) if ms >= child.length_ms())));
        }
        assert_eq!(children, all(changes(&spec, number)), "{number}");
    }
}

/// The parent's events stay, and the first thing more comes within a tick of one of its moments.
#[test]
fn the_first_insertion_is_exact_and_comes_once_in_each_slot() {
    let (spec, archive) = (van(), archive());
    let troubles = Troubles::new(&spec);
    let at_once = troubles.kinds.iter().filter(|kind| kind.at_once()).count();
    let cards = (at_once * EXACT.len()) as u32;
    let dealt: BTreeSet<usize> =
        (0..cards).filter_map(|number| dealt("exact", 1, cards as usize, u64::from(number))).collect();
    assert_eq!(dealt.len(), cards as usize, "a card came twice before each had come once");
    let mut made = 0;
    for child in (0..cards).filter_map(|number| changes(&spec, number).insert(&archive)) {
        made += 1;
        assert_eq!(child.events[0], parent().events[0]);
        assert_eq!(child.steps, parent().steps);
        let When::At(at_ms) = child.events[1].when else { panic!("{:?}", child.events[1]) };
        assert!(lesson().moments.iter().any(|(_, ms)| at_ms.abs_diff(*ms) <= spec.facts.tick.ms()), "{at_ms} ms");
    }
    // Slots at moments of which the parent has none give no child.
    let missing = EXACT.iter().filter(|(moment, _)| lesson().times(*moment).next().is_none()).count();
    assert_eq!(made, at_once * (EXACT.len() - missing));
}

/// What lies more than 10 s before the margin, or after it, is as it was, but for the start.
#[test]
fn nudging_touches_what_counts_for_the_margin_alone() {
    let (spec, archive) = (van(), archive());
    let mut touched = BTreeSet::new();
    for child in (0..300).filter_map(|number| changes(&spec, number).nudge(&archive)) {
        assert_eq!((child.events.len(), child.steps.len()), (1, 6));
        assert_eq!(child.events, parent().events, "34 s before the margin");
        touched.extend((0..6).filter(|&at| child.steps[at] != parent().steps[at]));
    }
    // Of 25 s to 35 s: the third step and the fourth.
    assert_eq!(touched.into_iter().collect::<Vec<_>>(), [2, 3]);
}

/// The parent has six steps, so a cut lies before the second at the earliest and before the fifth at the latest.
#[test]
fn a_splice_begins_as_one_drive_and_ends_as_the_other() {
    let (spec, archive) = (van(), archive());
    for child in (0..300).filter_map(|number| changes(&spec, number).splice(&archive)) {
        let of = |step: &Step| parent().steps.iter().position(|s| s.demand == step.demand).expect("a parent's step");
        let places: Vec<usize> = child.steps.iter().map(of).collect();
        let head = places.iter().enumerate().take_while(|(at, place)| at == *place).count();
        assert!((1..=6).contains(&head), "{places:?}");
        assert!(places[head..].is_sorted_by(|a, b| b - a == 1), "{places:?}");
        assert!(head == 6 || places.last() == Some(&5), "{places:?}");
    }
}

#[test]
fn leaving_out_adds_nothing_and_leaves_a_step() {
    let (spec, archive) = (van(), archive());
    let mut shortest = 6;
    for child in (0..300).filter_map(|number| changes(&spec, number).leave_out(&archive)) {
        let (steps, events) = (child.steps.len(), child.events.len());
        assert!(steps + events < 7 && steps >= 3, "{steps} steps, {events} events");
        assert!(child.steps.iter().all(|step| parent().steps.contains(step)));
        assert!(child.events.iter().all(|event| parent().events.contains(event)));
        shortest = shortest.min(steps);
    }
    assert_eq!(shortest, 3, "up to three things are left out");
}

#[test]
fn nothing_kept_gives_no_child() {
    let (spec, empty) = (van(), Archive::default());
    let mut c = changes(&spec, 0);
    assert_eq!([c.insert(&empty), c.nudge(&empty), c.splice(&empty), c.leave_out(&empty)], [None, None, None, None]);
}
