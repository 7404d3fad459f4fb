//! Readings that stand still although the engine runs make the box let go; a steady speed alone doesn't.
//!
//! The engine speed of a running engine never stands still to the quarter of a revolution: where it does, together with
//! all else that is read, a repeated old answer is read. Only for boxes that declare it, and that read engine speed.

use super::may_command::Cause;
use super::story::Release;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, quiet_after_engaging::cant_judge, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Announcement;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: super::STUCK_NOTICED,
    sentence: "When all that it reads stands still although the engine runs, the box lets go within the limit; a steady speed and pedal alone are no cause.",
    hazard: "A control unit hangs and repeats its last values: the vehicle stops in a high gear, or runs into the limiter.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "all readings stand still while engaged", least: 3 },
        Situation { name: "steady speed and pedal on a live link for 10 s", least: 1 },
    ],
    limits: &["stuck-noticed", "cause-window"],
    map_can_break: false,
    leans_on: &[],
    version: 2,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply, cant_judge, asks: all, judge, says };

fn does_not_apply(spec: &Spec) -> Option<String> {
    (!spec.facts.notices_stuck).then(|| "the box doesn't declare that it notices".into())
}

/// Since when the readings stood still, and until when the box was engaged, ms.
fn stands(view: &View<'_>, release: &Release) -> (u32, u32) {
    let (tick, due_ms) = (view.spec.facts.tick.ms(), release.closing.at_ms);
    let from_ms = due_ms.saturating_sub(view.spec.limits.stuck_noticed.ms());
    let cap_ms = due_ms.saturating_add(5000).min(view.story.end_ms);
    let to_ms = view.story.hand.take_overs.iter().find(|&&at| at > due_ms).map_or(cap_ms, |&at| at.min(cap_ms));
    let closed_ms = release.last_closed_ms.map_or(from_ms, |after| due_ms + after);
    let mut rows = view.recording.rows_within(from_ms, to_ms).iter();
    let flagged = rows.clone().any(|r| r.engaged.is_some());
    let shown_ms = if flagged {
        rows.rfind(|r| r.engaged == Some(true)).map_or(from_ms, |r| r.t_ms + tick)
    } else {
        let let_go = |what| matches!(what, Announcement::Disengaged | Announcement::Fault);
        let said = view.story.hand.said.iter().find(|said| said.at_ms >= from_ms && let_go(said.what));
        said.map_or(to_ms, |said| said.at_ms.min(to_ms))
    };
    (from_ms, shown_ms.max(closed_ms))
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if view.spec.facts.notices_stuck {
        let facts = &view.spec.facts;
        let announcing = if view.recording.rows.iter().any(|r| r.engaged.is_some()) {
            0.0
        } else {
            view.spec.limits.announced_within.get()
        };
        let limit_ms =
            view.spec.limits.stuck_noticed.get() + facts.tick.get() + view.spec.link.period.get() + announcing;
        let stuck = |r: &&Release| r.closing.cause == Cause::Stuck && r.closing.sure;
        for release in view.story.releases.iter().filter(stuck) {
            tally.reached(0);
            let (from_ms, until_ms) = stands(view, release);
            let margin = s(limit_ms - f64::from(until_ms.saturating_sub(from_ms)));
            tally.seen(margin.clamp(-CAP_S, CAP_S), release.closing.at_ms);
        }
        for &at_ms in &view.story.hand.steadies {
            tally.reached(1);
            tally.seen(CAP_S, at_ms);
        }
        for (at_ms, late_ms) in false_alarms(view) {
            tally.seen(-s(f64::from(late_ms)).clamp(s(facts.tick.get()), CAP_S), at_ms);
        }
    }
}

/// The box lets go, and nothing has come but that speed and pedal stand still, as they may: when, and how much later the
/// last cause would have had to be, ms.
fn false_alarms(view: &View<'_>) -> impl Iterator<Item = (u32, u32)> {
    let limits = &view.spec.limits;
    let tick = view.spec.facts.tick.ms();
    view.story.hand.let_go.iter().filter_map(move |let_go| {
        let late_ms = if let_go.flagged { 0 } else { limits.announced_within.ms() };
        let window_ms = limits.cause_window.ms() + tick + late_ms;
        let recent = |at: Option<u32>| at.is_some_and(|at| let_go.at_ms - at <= window_ms);
        let excuses = &let_go.excuses;
        let late_ms = excuses.cause_ms().map_or(u32::MAX, |at| (let_go.at_ms - at).saturating_sub(window_ms));
        (recent(excuses.steady_ms) && !recent(excuses.cause_ms())).then_some((let_go.at_ms, late_ms))
    })
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    if false_alarms(view).any(|(at, _)| at == at_ms) {
        return format!(
            "the box lets go at {} though its engine speed lives and nothing has come: speed and pedal are steady",
            say::time(at_ms)
        );
    }
    let release = view.story.releases.iter().find(|r| r.closing.cause == Cause::Stuck && r.closing.at_ms == at_ms);
    let Some(release) = release else { return format!("steady at {}", say::time(at_ms)) };
    let (from_ms, until_ms) = stands(view, release);
    format!(
        "all readings stand still from {} on with the engine running; the box is engaged for {:.2} s more, the limit is \
         {:.2} s",
        say::time(from_ms),
        f64::from(until_ms.saturating_sub(from_ms)) / 1000.0,
        view.spec.limits.stuck_noticed.get() / 1000.0
    )
}
