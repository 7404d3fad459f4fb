//! When speed or pedal stops arriving the box lets go.

use super::may_command::Cause;
use super::story::tape::Sample;
use super::tally::Tally;
use super::{Rule, View, all, always, releases};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

// A box that wants fresh data begins no pulse that still runs when they are lost: that situation isn't asked for.
const CARD: RuleCard = RuleCard {
    name: "lost data disengages",
    sentence: "When the newest speed or pedal is older than the limit for lost data, contacts are open within the release time and stay open.",
    hazard: "Shifts on data that stopped arriving: the speed of a minute ago decides the gear of now.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "data lost while engaged", least: 3 },
        Situation { name: "inside a shift", least: 1 },
        Situation { name: "inside an own pulse", least: 0 },
        Situation { name: "the speed alone lost", least: 1 },
        Situation { name: "the pedal alone lost", least: 1 },
    ],
    limits: &["data-lost", "data-release"],
    map_can_break: false,
    leans_on: &[],
    version: 4,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    releases::judge(
        view,
        tally,
        Cause::Data,
        limits.data_release.get(),
        view.spec.facts.tick.get() + view.spec.link.period.get(),
    );
    let losses = view.story.releases.iter().map(|r| r.closing).filter(|c| c.cause == Cause::Data && c.sure);
    for closing in losses {
        let goes_on = |tape: &[Sample]| {
            let last =
                tape.partition_point(|sample| sample.at_ms <= closing.at_ms).checked_sub(1).and_then(|at| tape.get(at));
            last.is_some_and(|last| closing.at_ms - last.at_ms <= limits.data_fresh.ms())
        };
        match (goes_on(&view.story.speeds), goes_on(&view.story.pedals)) {
            (false, true) => tally.reached(3),
            (true, false) => tally.reached(4),
            _ => {}
        }
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    releases::says(view, Cause::Data, "the data are lost", at_ms, view.spec.limits.data_release.get())
}
