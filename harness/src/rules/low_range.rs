//! In low range, and on the way to it, the contacts are open, and for a while after it.
//!
//! Whether the box shows itself engaged in that while is its own affair: what it must not do is command. A command
//! without a take-over since, or with another condition missing, is charged where every such command is.

use super::may_command::{Cause, State};
use super::story::Command;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, releases, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "low range disengages",
    sentence: "When the range is not high, in between counts as low, contacts are open within the release time, and stay open until it has been high for long enough and the driver has taken over anew.",
    hazard: "The map is wrong by the low range's ratio: over-speed at the first downshift.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "range left high while engaged", least: 3 },
        Situation { name: "inside a shift", least: 1 },
        Situation { name: "inside an own pulse", least: 1 },
        Situation { name: "first command after the range is high again", least: 2 },
    ],
    limits: &["range-release", "range-high-for"],
    map_can_break: false,
    leans_on: &[],
    version: 4,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: no_range, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    releases::judge(view, tally, Cause::Range, limits.range_release.get(), view.spec.facts.tick.get());
    for (command, back_ms) in firsts(view) {
        tally.reached(3);
        let high_ms = f64::from(command.at_ms - back_ms) + view.spec.facts.tick.get();
        tally.seen(s(high_ms - limits.range_high_for.get()).min(CAP_S), command.at_ms);
    }
}

/// The first command that it may otherwise give after each time that the range was not high, and since when it was high
/// again, ms.
fn firsts<'a>(view: &View<'a>) -> impl Iterator<Item = (&'a Command, u32)> {
    let mut last_ms = None;
    let may = view.story.commands.iter().filter(|c| c.state == State::May);
    may.filter_map(move |command| {
        let back_ms = command.range_back_ms.filter(|&at| last_ms.replace(at) != Some(at))?;
        Some((command, back_ms))
    })
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    if let Some((command, back_ms)) = firsts(view).find(|(command, _)| command.at_ms == at_ms) {
        return format!(
            "{} {:.2} s after the range is high again; the limit is {:.2} s",
            say::command(command, basis),
            f64::from(at_ms - back_ms) / 1000.0,
            view.spec.limits.range_high_for.get() / 1000.0
        );
    }
    releases::says(view, Cause::Range, "the range leaves high", at_ms, view.spec.limits.range_release.get())
}

fn no_range(spec: &crate::spec::Spec) -> Option<String> {
    if spec.vehicle.gearbox.low_range.is_none() {
        return Some("the vehicle has no low range".into());
    }
    (!spec.facts.signals.range).then(|| "the range is not wired to the box".into())
}
