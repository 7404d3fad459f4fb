//! A damaged map is refused. The campaign starts the box with damaged maps, one after the other, and calls `refused`.

use super::tally::Tally;
use super::{Rule, View, all, always};
use crate::outcome::{Basis, Measure, RuleCard, Severity, Situation};
use crate::spec::Spec;
use crate::spec::facts::MapFrom;

const CARD: RuleCard = RuleCard {
    name: "bad map refused",
    sentence: "Told a damaged map at its start, the box says no or stays disengaged: it engages on none of them and commands nothing.",
    hazard: "Power lost while the map was saved: a column is gone, and the box shifts by what is left.",
    severity: Severity::Critical,
    unit: "maps",
    near: 0.4,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "damaged map told", least: 15 }],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply, cant_judge: always, asks: all, judge, says: |_, _, _| SAYS.into() };

/// The damages that were taken stand in the lines of the failing moment.
const SAYS: &str = "it engaged on a damaged map";

fn does_not_apply(spec: &Spec) -> Option<String> {
    (spec.facts.map_from == MapFrom::Own).then(|| "the box follows a map of its own (`map-from`)".into())
}

fn judge(_: &View<'_>, _: &mut Tally) {}

/// The measure after so many damaged maps, of which the box took some; the time of the first engagement or command.
#[must_use]
pub fn refused(tried: u32, taken: u32, at_ms: u32) -> Measure {
    let mut tally = Tally::new(&CARD);
    (0..tried).for_each(|_| tally.reached(0));
    if tried > 0 {
        tally.seen(if taken == 0 { 1.0 } else { -f64::from(taken) }, at_ms);
    }
    tally.measure
}
