//! Every rule on recordings made by hand: one that breaks it, one that just keeps it, one that never comes to it. All
//! margins are worked out here from the rule's own words and the van's numbers, never copied from a run.

mod alarms;
mod announcing;
mod answers_refused;
mod at_rest;
mod at_the_ends;
mod between_answers;
mod both_drives;
mod box_kinds;
mod button;
mod causes_to_let_go;
mod changes;
mod close_calls;
mod commands;
mod conformance;
mod data;
mod due_down;
mod engaging;
mod foot_off;
mod frozen;
mod gear_told;
mod hand_over;
mod hands_back;
mod kicks;
mod known_gear;
mod landings;
mod leaps;
mod left_out;
mod legal_shifts;
mod legality;
mod letting_go;
mod loads;
mod lugging;
mod made;
mod map_rests;
mod map_wants;
mod may_command;
mod may_open;
mod must_engage;
mod out_of_first;
mod pausing;
mod per_minute;
mod plainly_due;
mod port;
mod quiet_starts;
mod refusals;
mod releasing;
mod requests;
mod rests;
mod retold;
mod sentences;
mod shared_wire;
mod since_power_up;
mod spans;
mod stability;
mod standing_still;
mod standstill;
mod steps_down;
mod ties;
mod which_gear;
mod whole;
mod whose_shift;
mod words;
mod wrong_way;

use super::{Again, RULES, again, needs_build};
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

/// By the rules' own words: five compare drives of one build or start it with other maps, and what a box asked for stands
/// in no drive file. The rest a recording tells.
#[test]
fn which_rules_a_recording_alone_cannot_tell() {
    let by_name = [
        ("order and duplicate immunity", Again::WithoutExtras),
        ("bad map refused", Again::DamagedMaps),
        ("clock-wrap invariance", Again::OtherClocks),
        ("idle-hour invariance", Again::IdleFirst),
        ("determinism", Again::Same),
    ];
    for (at, rule) in RULES.iter().enumerate() {
        let name = rule.card.name;
        let expected = by_name.iter().find(|(n, _)| *n == name).map(|(_, how)| *how);
        assert_eq!(again(at), expected, "{name}");
        assert_eq!(needs_build(at), expected.is_some() || name == "read-only link and sleep", "{name}");
    }
    assert_eq!(again(RULES.len()), None);
}

/// By what `van.toml` says, its box doesn't notice frozen readings, doesn't say what it asks for, states no engine speed for
/// descents, and follows a map of its own.
#[test]
fn what_the_van_leaves_out_and_nothing_else_does_not_apply() {
    let spec = made::spec("van.toml");
    let mut left_out: Vec<&str> = Vec::new();
    for rule in RULES {
        if let Some(why) = (rule.does_not_apply)(&spec) {
            assert!(why.contains(' '), "{}: {why:?} is no reason", rule.card.name);
            left_out.push(rule.card.name);
        }
    }
    let expected = ["stuck signals noticed", "read-only link and sleep", "keeps the gear downhill", "bad map refused"];
    assert!(expected.iter().all(|name| left_out.contains(name)) && left_out.len() == 4, "{left_out:?}");
}
