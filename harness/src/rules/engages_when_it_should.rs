//! With all conditions held, the box engages in time. Without this rule a dead controller keeps everything.

use super::story::Due;
use super::tally::{Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "engages when it should",
    sentence: "With all conditions held right after a take-over, the box is engaged within the stated time.",
    hazard: "The driver relies on shifts that never come.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "due to engage", least: 3 }],
    limits: &["conditions-held", "engages-within"],
    map_can_break: false,
    leans_on: &[],
    version: 4,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

/// A box that shows nothing must have commanded this long after a shift was plainly due, ms (invented).
const PLAINLY_MS: f64 = 3000.0;

fn judge(view: &View<'_>, tally: &mut Tally) {
    let within = view.spec.limits.engages_within.get() + view.spec.facts.tick.get();
    let (dues, within) =
        if view.story.declares { (&view.story.dues, within) } else { (&view.story.plainly_due, PLAINLY_MS) };
    for due in dues {
        let end_ms = due.engaged_ms.unwrap_or(due.until_ms);
        let delay = f64::from(end_ms.saturating_sub(due.from_ms));
        if due.engaged_ms.is_some() || delay > within {
            tally.reached(0);
            tally.seen(s(within - delay), due.from_ms);
        }
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let find = |dues: &[Due]| dues.iter().find(|d| d.from_ms == at_ms).copied();
    let due = find(&view.story.dues).or_else(|| find(&view.story.plainly_due));
    let how = match due.and_then(|d| d.engaged_ms) {
        Some(engaged) => format!("it engages {:.2} s later", f64::from(engaged.saturating_sub(at_ms)) / 1000.0),
        None => "it doesn't engage".into(),
    };
    format!(
        "all is right for engaging from {} on, but {how}; the limit is {:.2} s",
        say::time(at_ms),
        view.spec.limits.engages_within.get() / 1000.0
    )
}
