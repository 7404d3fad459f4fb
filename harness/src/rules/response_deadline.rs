//! What the map asks for is commanded soon.
//!
//! The clock starts when the pair read lies at least one count (1 km/h) beyond the line and nothing lets the box wait;
//! it starts anew when the pair comes back, so a box that waits until some updates agree is never late for a wish that
//! didn't last. A link that loses updates gives the box time until it has had as many as the limit allows. Kickdown has
//! a rule and a limit of its own. While least times run (dwell, blind time, quiet after engaging), data are old or
//! doubtful, a shift runs or was refused, or the box may not be engaged, the obligation is excused.

use super::story::tape::response_ms;
use super::story::wants::Want;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "response deadline",
    sentence: "A shift that the map plainly asks for is commanded within the stated number of updates, unless something lets the box wait.",
    hazard: "A late upshift runs the engine to its limit; a late downshift leaves the driver without the torque that the pedal asks for.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "upshift due", least: 20 }, Situation { name: "downshift due", least: 20 }],
    limits: &["response-updates"],
    map_can_break: false,
    leans_on: &[],
    version: 4,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limit_ms = response_ms(view.spec, view.spec.limits.response_updates);
    for want in view.story.wants.iter().filter(|w| !w.kick) {
        if want.held {
            tally.excused();
        }
        if want.held && want.met && want.from_ms == want.to_ms {
            continue;
        }
        if let Some(left) = want.left_ms(limit_ms) {
            tally.reached(usize::from(want.direction == Direction::Down));
            tally.seen(s(left).clamp(-CAP_S, CAP_S), want.from_ms);
        }
    }
}

/// "upshift 2>3 due from 12.30 s on at 45 km/h (line at 43.0 km/h)", and what became of it.
pub(super) fn told(want: &Want) -> String {
    let (name, to) = match want.direction {
        Direction::Up => ("upshift", want.gear + 1),
        Direction::Down => ("downshift", want.gear.saturating_sub(1)),
    };
    let took = f64::from(want.to_ms - want.from_ms) / 1000.0;
    let end = if want.met {
        format!("commanded {took:.2} s later")
    } else {
        format!("not commanded in the {took:.2} s for which it was due")
    };
    format!(
        "{name} {}>{to} due from {} on at {:.0} km/h (line at {:.1} km/h), {end}",
        want.gear,
        say::time(want.from_ms),
        want.from_kmh,
        want.line_kmh
    )
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let limit_ms = response_ms(view.spec, view.spec.limits.response_updates);
    let want = view.story.wants.iter().find(|w| w.from_ms == at_ms && !w.kick);
    let what = want.map_or_else(|| format!("at {}", say::time(at_ms)), told);
    format!("{what}; the limit is {:.2} s", f64::from(limit_ms) / 1000.0)
}
