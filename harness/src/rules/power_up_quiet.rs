//! A box that starts knows nothing: no contact closes and nothing is shown as engaged before it can have looked, and
//! nothing from before grants engaging.
//!
//! Which rule has what of closures and engagements without a take-over since power-up: closed or closing as the box
//! starts: 'contacts open at rest'; before all conditions can have held long enough, so that it remembers or glitches:
//! here, with all that follows from it; later, with the lever in the gate: 'engage on lever movement only'.

use super::may_command::State;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};

const CARD: RuleCard = RuleCard {
    name: "power-up quiet",
    sentence: "From power-up to the first engagement that it may, the box closes no contact and doesn't show itself engaged; what was before counts for nothing.",
    hazard: "Each crank of a stop-start engine dips the supply: the box goes on in mid-drive with a gear it only remembers.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "started again after a reset or a dip", least: 5 },
        Situation { name: "was engaged before", least: 3 },
    ],
    limits: &["boot-quiet"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge: always, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (story, tick) = (view.story, view.spec.facts.tick.get());
    for &at_ms in &story.hand.unready {
        let away_ms = story.hand.to_take_over_ms(at_ms, story.hand.power_up_before_ms(at_ms));
        tally.seen(-s(f64::from(away_ms).max(tick)), at_ms);
    }
    for up in story.hand.power_ups.iter().filter(|p| p.at_ms > 0) {
        tally.reached(0);
        if up.was_engaged {
            tally.reached(1);
        }
        if up.claim_ms.is_none() {
            tally.seen(CAP_S, up.at_ms);
        }
    }
    let claims = story.engagings.iter().map(|e| (e.at_ms, e.state));
    for (at_ms, state) in claims.chain(story.commands.iter().map(|c| (c.at_ms, c.state))) {
        if !matches!(state, State::MustNot(_)) && !story.hand.at_start.contains(&at_ms) {
            let since_ms = f64::from(at_ms - story.hand.power_up_before_ms(at_ms));
            tally.seen(s(since_ms + tick - view.spec.limits.boot_quiet.get()).min(CAP_S), at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let up_ms = view.story.hand.power_up_before_ms(at_ms);
    let after = f64::from(at_ms - up_ms) / 1000.0;
    let command = view.story.commands.iter().any(|c| c.at_ms == at_ms);
    let what = if command { say::command_at(view, basis, at_ms) } else { "the box shows itself engaged".into() };
    let why = if view.story.hand.unready.contains(&at_ms) {
        "with no take-over since"
    } else {
        "sooner than it may engage at all"
    };
    format!("{what} {after:.2} s after the box has started at {}, {why}", say::time(up_ms))
}
