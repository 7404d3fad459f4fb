//! The same as 'grip needed by a downshift', on roads as slippery as packed snow and ice: there it is critical.

use super::grip_needed;
use super::tally::Tally;
use super::{Rule, View, all, always};
use crate::outcome::{Basis, RuleCard, Severity, Situation, VehicleData};

const CARD: RuleCard = RuleCard {
    name: "grip needed on a slippery road",
    sentence: "On a road with a quarter of its grip or less, a downshift with the pedal released needs no more grip of the driven axle than stated.",
    hazard: "The torque step breaks the driven axle away: on snow or ice, in a bend, nobody catches that.",
    severity: Severity::Critical,
    unit: "% grip",
    near: 2.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[Situation { name: "downshift with the pedal released on a slippery road", least: 5 }],
    limits: &["grip-needed"],
    map_can_break: true,
    leans_on: &[VehicleData::Ratios, VehicleData::Engine, VehicleData::RoadLoad],
    version: 1,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says: grip_needed::says };

/// Up to this greatest friction coefficient a road is slippery, %: packed snow gives 20 to 25 (friction tables as
/// publicly quoted from Noon 1994).
const SLIPPERY_PCT: u8 = 25;

fn judge(view: &View<'_>, tally: &mut Tally) {
    if view.recording.grip_pct <= SLIPPERY_PCT && view.recording.grip_pct > 0 {
        grip_needed::judge(view, tally);
    }
}
