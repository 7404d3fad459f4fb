//! Every rule on recordings made by hand: one that breaks it, one that just keeps it, one that never comes to it. All
//! margins are worked out here from the rule's own words and the van's numbers, never copied from a run.

mod box_kinds;
mod button;
mod commands;
mod conformance;
mod data;
mod engaging;
mod hand_over;
mod known_gear;
mod legality;
mod made;
mod may_command;
mod out_of_first;
mod port;
mod releasing;
mod stability;
mod whole;

use super::RULES;
use made::Made;

/// In D, with nothing done, no rule is reached but the one that asks for answers.
#[test]
fn a_drive_in_which_nothing_happens_reaches_nothing() {
    let mut made = Made::van();
    made.run(5000);
    for rule in RULES.iter().filter(|rule| rule.card.name != "answers each tick") {
        let measure = made.measure(rule.card.name);
        assert_eq!(measure.reached, [0; 6], "{}", rule.card.name);
        assert!(measure.seen.is_none() && measure.truth.is_none(), "{}: {measure:?}", rule.card.name);
    }
}
