//! Kickdown brings the downshift, and keeps it.
//!
//! Due: the pedal read at the limit or above twice (one update more than the limit from the first), the pair at least
//! one count below the down line, and a landing well below the redline, with nothing that lets the box wait. Further steps are the same obligation again, one at a time.
//! After a kickdown downshift no upshift for the hold, unless the driver has come off the pedal by the share that
//! excuses an early opposite command, or the engine has come up to the redline less the guard. A box that reads speed
//! and pedal can't see the brake; that it keeps still on implausible speed has a rule of its own.

use super::response_deadline::told;
use super::rpm_floor::landing_rpm;
use super::story::Command;
use super::story::tape::response_ms;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;

const CARD: RuleCard = RuleCard {
    name: "kickdown",
    sentence: "A pedal on the floor brings the downshift within the stated number of updates, where the map asks for it, and no upshift for the hold.",
    hazard: "No pull while overtaking, or a gear that is lost again at once.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "kickdown due", least: 5 },
        Situation { name: "upshift after a kickdown within 10 s", least: 1 },
    ],
    limits: &["kickdown-pedal", "kickdown-updates", "kickdown-hold", "opposite-pedal", "redline-guard"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// A kickdown downshift and the upshift that follows it, if nothing excuses that.
fn taken_back<'a>(view: &View<'a>) -> impl Iterator<Item = (&'a Command, &'a Command)> {
    let limits = &view.spec.limits;
    let red = view.spec.vehicle.engine.redline.get() - limits.redline_guard.0;
    view.story.commands.windows(2).filter_map(move |pair| {
        let [down, up] = pair else { return None };
        let kicked = down.pedal_seen.is_some_and(|p| p >= limits.kickdown_pedal.0);
        if down.direction != Direction::Down || up.direction != Direction::Up || !kicked {
            return None;
        }
        let lifted = down.pedal_seen.zip(up.pedal_seen).is_some_and(|(a, b)| a - b >= limits.opposite_pedal.0);
        let rpm = up.gear_seen.zip(up.speed_seen).map(|(g, v)| landing_rpm(view.spec, g, v, up.low_seen(view.spec)));
        (!lifted && rpm.is_none_or(|rpm| rpm < red)).then_some((down, up))
    })
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let limits = &view.spec.limits;
    let limit_ms = response_ms(view.spec, limits.kickdown_updates.saturating_add(1));
    for want in view.story.wants.iter().filter(|w| w.kick) {
        if want.held {
            tally.excused();
        }
        if want.held && want.met && want.from_ms == want.to_ms {
            continue;
        }
        if let Some(left) = want.left_ms(limit_ms) {
            tally.reached(0);
            tally.seen(s(left).clamp(-CAP_S, CAP_S), want.from_ms);
        }
    }
    for (down, up) in taken_back(view) {
        let apart = f64::from(up.at_ms - down.at_ms);
        if apart <= 10_000.0 {
            tally.reached(1);
        }
        tally.seen(s(apart + view.spec.facts.tick.get() - limits.kickdown_hold.get()).min(CAP_S), up.at_ms);
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let limits = &view.spec.limits;
    if let Some((down, up)) = taken_back(view).find(|(_, up)| up.at_ms == at_ms) {
        return format!(
            "{}, {:.2} s after the kickdown {}; the hold is {:.1} s",
            say::command(up, basis),
            f64::from(up.at_ms - down.at_ms) / 1000.0,
            say::command(down, basis),
            limits.kickdown_hold.get() / 1000.0
        );
    }
    let want = view.story.wants.iter().find(|w| w.kick && w.from_ms == at_ms);
    let what = want.map_or_else(|| format!("at {}", say::time(at_ms)), told);
    let limit = f64::from(response_ms(view.spec, limits.kickdown_updates.saturating_add(1))) / 1000.0;
    format!("kickdown {what}; the limit is {limit:.2} s")
}
