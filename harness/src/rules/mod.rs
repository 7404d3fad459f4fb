//! The rules: one table, one file per rule. Rules see recordings only.

pub mod alarm;
pub mod gear;
pub mod instants;
pub mod may_command;
pub mod say;
pub mod story;
pub mod tally;

pub mod clock_wrap;
pub mod fed;
pub mod idle_hour;
pub mod order_immunity;

mod answers_each_tick;
mod bad_map;
mod busy_ness;
mod cascade_limit;
mod coasting_downshift;
mod contacts_open_at_rest;
mod counted_gear;
mod determinism;
mod disengaging_wins_ties;
mod dither_immunity;
mod downhill;
mod driver_tap_wins;
mod engage_on_lever_movement;
mod engagement_speed_ceiling;
mod engages_only_when_all_is_right;
mod engages_when_it_should;
mod every_transition_announced;
mod fresh_data;
mod gear_range_ends;
mod grip_needed;
mod grip_on_ice;
mod hunting_count;
mod implausible_speed;
mod invalid_answer;
mod kickdown;
mod leaving_the_gate;
mod light_pedal;
mod lost_data;
mod low_range;
mod map_as_specified;
mod never_commands_first;
mod no_command_when_it_may_not;
mod no_false_announcement;
mod no_lugging;
mod not_while_shifting;
mod one_step_per_tap;
mod only_on_the_line;
mod opposite_shift_dwell;
mod over_rev;
mod own_tap;
mod power_up_quiet;
mod quiet_after_engaging;
mod read_only_link;
mod rearm;
mod refused_shift;
mod releases;
mod response_deadline;
mod rpm_floor;
mod settles_on_map_gear;
mod stuck_noticed;
#[cfg(test)]
mod tests;
mod when_stopped;
mod wrong_direction;

use crate::failing_cause::Instant;
use crate::outcome::{Basis, Measure, RuleCard};
use crate::recording::Recording;
use crate::spec::Spec;
pub use bad_map::refused as bad_map_refused;
pub use determinism::compare as compare_twice;
pub use grip_needed::needed_pct as grip_needed_pct;
use instants::{Instants, Marks};
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
    implausible_speed::RULE,
    invalid_answer::RULE,
    order_immunity::RULE,
    stuck_noticed::RULE,
    read_only_link::RULE,
    rpm_floor::RULE,
    over_rev::RULE,
    never_commands_first::RULE,
    gear_range_ends::RULE,
    one_step_per_tap::RULE,
    not_while_shifting::RULE,
    cascade_limit::RULE,
    refused_shift::RULE,
    wrong_direction::RULE,
    counted_gear::RULE,
    when_stopped::RULE,
    grip_needed::RULE,
    grip_on_ice::RULE,
    no_lugging::RULE,
    opposite_shift_dwell::RULE,
    hunting_count::RULE,
    busy_ness::RULE,
    dither_immunity::RULE,
    only_on_the_line::RULE,
    response_deadline::RULE,
    settles_on_map_gear::RULE,
    light_pedal::RULE,
    coasting_downshift::RULE,
    kickdown::RULE,
    downhill::RULE,
    map_as_specified::RULE,
    answers_each_tick::RULE,
    bad_map::RULE,
    clock_wrap::RULE,
    idle_hour::RULE,
    determinism::RULE,
];

/// Index of the rule that compares drives of one build; the campaign measures it, by driving again.
pub const DETERMINISM: usize = RULES.len() - 1;

/// Name of the rule that no drive can break: `shift_points` measures it on a bench.
pub const MAP_AS_SPECIFIED: &str = "map as specified";

/// Name of the rule on what a box asks for.
pub const READ_ONLY: &str = "read-only link and sleep";

/// Name of the rule on readings that stand still.
pub const STUCK_NOTICED: &str = "stuck signals noticed";

/// What the campaign does with the build beyond driving it, for the rules that no single recording can judge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Again {
    /// Drives the same again.
    Same,
    /// Feeds it the recording with extra answers taken out.
    WithoutExtras,
    /// Feeds it the recording with clocks that run over.
    OtherClocks,
    /// Feeds it the recording after an hour of idling.
    IdleFirst,
    /// Starts it with damaged maps.
    DamagedMaps,
}

/// What the campaign must do to measure a rule; `None` for one that a recording tells.
#[must_use]
pub fn again(rule: usize) -> Option<Again> {
    match RULES.get(rule)?.card.name {
        "determinism" => Some(Again::Same),
        "order and duplicate immunity" => Some(Again::WithoutExtras),
        "clock-wrap invariance" => Some(Again::OtherClocks),
        "idle-hour invariance" => Some(Again::IdleFirst),
        "bad map refused" => Some(Again::DamagedMaps),
        _ => None,
    }
}

/// A drive file alone can't show a rule broken: measuring it takes the build.
#[must_use]
pub fn needs_build(rule: usize) -> bool {
    // What the box asked for on the diagnostic port isn't in the file: it would outweigh all the rest.
    again(rule).is_some() || RULES.get(rule).is_some_and(|r| r.card.name == READ_ONLY)
}

/// Index of a rule by its name.
#[must_use]
pub fn find(name: &str) -> Option<usize> {
    RULES.iter().position(|r| r.card.name == name)
}

/// Judges recordings of one spec; keeps its memory from drive to drive.
#[derive(Debug, Default)]
pub struct Judge {
    story: Story,
    /// Of this rule (its index) only some marks count.
    pub some: Option<(usize, Marks)>,
}

impl Judge {
    /// The measures of all rules on a recording, in the table's order.
    pub fn judge(&mut self, spec: &Spec, recording: &Recording, measures: &mut Vec<Measure>) {
        self.story.tell(spec, recording);
        measures.clear();
        let view = View { spec, story: &self.story, recording };
        for (at, rule) in RULES.iter().enumerate() {
            let mut tally = Tally::new(rule.card);
            if let Some((_, marks)) = self.some.as_ref().filter(|(only, _)| *only == at) {
                tally.some = Some((Instants::of(&self.story, rule.card.name), marks.clone()));
            }
            (rule.judge)(&view, &mut tally);
            measures.push(tally.measure);
        }
    }

    /// What happened in the recording judged last.
    #[must_use]
    pub fn story(&self) -> &Story {
        &self.story
    }

    /// The kind of instant at a mark of a rule.
    #[must_use]
    pub fn instant(&mut self, spec: &Spec, recording: &Recording, rule: &Rule, at_ms: u32) -> Instant {
        self.story.tell(spec, recording);
        Instants::of(&self.story, rule.card.name).at(at_ms)
    }

    /// What happened at a mark of a rule.
    #[must_use]
    pub fn says(&mut self, spec: &Spec, recording: &Recording, rule: &Rule, basis: Basis, at_ms: u32) -> String {
        self.story.tell(spec, recording);
        (rule.says)(&View { spec, story: &self.story, recording }, basis, at_ms)
    }
}
