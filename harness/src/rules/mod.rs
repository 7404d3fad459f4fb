//! The rules: one table, one file per rule. Rules see recordings only.

pub mod gear;
pub mod may_command;
pub mod say;
pub mod story;
pub mod tally;

mod answers_each_tick;
mod contacts_open_at_rest;
mod determinism;
mod disengaging_wins_ties;
mod driver_tap_wins;
mod engage_on_lever_movement;
mod engagement_speed_ceiling;
mod engages_only_when_all_is_right;
mod engages_when_it_should;
mod every_transition_announced;
mod fresh_data;
mod hunting_count;
mod leaving_the_gate;
mod lost_data;
mod low_range;
mod never_commands_first;
mod no_command_when_it_may_not;
mod no_false_announcement;
mod not_while_shifting;
mod opposite_shift_dwell;
mod over_rev;
mod own_tap;
mod power_up_quiet;
mod quiet_after_engaging;
mod rearm;
mod releases;
mod rpm_floor;
#[cfg(test)]
mod tests;

use crate::outcome::{Basis, Measure, RuleCard};
use crate::recording::Recording;
use crate::spec::Spec;
pub use determinism::compare as compare_twice;
use story::Story;
use tally::Tally;

/// What a rule looks at.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The spec.
    pub spec: &'a Spec,
    /// What happened.
    pub story: &'a Story,
    /// Every tick of it.
    pub recording: &'a Recording,
}

/// One rule.
#[derive(Clone, Copy)]
pub struct Rule {
    /// Its row in the table.
    pub card: &'static RuleCard,
    /// Why it doesn't apply to a box or vehicle, if so.
    pub does_not_apply: fn(&Spec) -> Option<String>,
    /// Why it can't be judged with the signals of a spec, if so.
    pub cant_judge: fn(&Spec) -> Option<String>,
    /// Whether a run with this spec is asked for one of its situations.
    pub asks: fn(&Spec, usize) -> bool,
    /// Its margins on a recording.
    pub judge: fn(&View<'_>, &mut Tally),
    /// What happened at a mark, as a practitioner would say it.
    pub says: fn(&View<'_>, Basis, u32) -> String,
}

fn all(_: &Spec, _: usize) -> bool {
    true
}

fn always(_: &Spec) -> Option<String> {
    None
}

/// All rules, in the order of every table.
pub const RULES: &[Rule] = &[
    engages_only_when_all_is_right::RULE,
    engagement_speed_ceiling::RULE,
    engage_on_lever_movement::RULE,
    engages_when_it_should::RULE,
    quiet_after_engaging::RULE,
    rearm::RULE,
    power_up_quiet::RULE,
    driver_tap_wins::RULE,
    leaving_the_gate::RULE,
    low_range::RULE,
    lost_data::RULE,
    own_tap::RULE,
    disengaging_wins_ties::RULE,
    no_command_when_it_may_not::RULE,
    contacts_open_at_rest::RULE,
    every_transition_announced::RULE,
    no_false_announcement::RULE,
    fresh_data::RULE,
    rpm_floor::RULE,
    over_rev::RULE,
    never_commands_first::RULE,
    not_while_shifting::RULE,
    opposite_shift_dwell::RULE,
    hunting_count::RULE,
    answers_each_tick::RULE,
    determinism::RULE,
];

/// Index of the rule that compares drives of one build; the campaign measures it, by driving again.
pub const DETERMINISM: usize = RULES.len() - 1;

/// Index of a rule by its name.
#[must_use]
pub fn find(name: &str) -> Option<usize> {
    RULES.iter().position(|r| r.card.name == name)
}

/// Judges recordings of one spec; keeps its memory from drive to drive.
#[derive(Debug, Default)]
pub struct Judge {
    story: Story,
}

impl Judge {
    /// The measures of all rules on a recording, in the table's order.
    pub fn judge(&mut self, spec: &Spec, recording: &Recording, measures: &mut Vec<Measure>) {
        self.story.tell(spec, recording);
        measures.clear();
        let view = View { spec, story: &self.story, recording };
        for rule in RULES {
            let mut tally = Tally::new(rule.card);
            (rule.judge)(&view, &mut tally);
            measures.push(tally.measure);
        }
    }

    /// What happened at a mark of a rule.
    #[must_use]
    pub fn says(&mut self, spec: &Spec, recording: &Recording, rule: &Rule, basis: Basis, at_ms: u32) -> String {
        self.story.tell(spec, recording);
        (rule.says)(&View { spec, story: &self.story, recording }, basis, at_ms)
    }
}
