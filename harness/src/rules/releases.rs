//! What the four rules on disengaging share: contacts are open within the release time, and no later closure within a
//! second after the cause. A box that asks for pulses has to have asked its last by then.

use super::View;
use super::may_command::{Cause, State, Why};
use super::story::{Command, RELEASE_WINDOW_MS, Release};
use super::tally::{CAP_S, Tally, s};
use crate::spec::facts::Answers;

/// Judges all engagements that a cause closed. Situations: 0 = any, 1 = in a shift, 2 = in a pulse.
pub fn judge(view: &View<'_>, tally: &mut Tally, cause: Cause, limit_ms: f64, tolerance_ms: f64) {
    for release in view.story.releases.iter().filter(|r| r.closing.cause == cause) {
        if release.closing.sure {
            tally.reached(0);
            if release.in_shift {
                tally.reached(1);
            }
            if release.in_pulse {
                tally.reached(2);
            }
        }
        let at_ms = release.closing.at_ms;
        tally.seen(margin(view, release, limit_ms + tolerance_ms), at_ms);
    }
}

/// Signed seconds to the limit: of the last closed contact, or of a command that began after the cause.
fn margin(view: &View<'_>, release: &Release, limit_ms: f64) -> f64 {
    let tick = view.spec.facts.tick.get();
    let open = match release.last_closed_ms {
        Some(closed) => limit_ms - f64::from(closed),
        // No contact was closed: the cause so much sooner, and it would have met the last pulse.
        None => limit_ms + f64::from(since_last_pulse_ms(view, release.closing.at_ms)),
    };
    match release.started_ms {
        // A command that begins after the cause is no reaction time: the longer after, the further beyond.
        Some(started) => s(open.min(-(f64::from(started)).max(tick))),
        None => s(open).min(CAP_S),
    }
}

/// When a command is over for the box, ms: when its contact opens, or when it has asked for a pulse of the harness.
fn over_ms(view: &View<'_>, command: &Command) -> u32 {
    match view.spec.facts.answers {
        Answers::Contacts => command.open_ms,
        Answers::Requests { .. } => command.at_ms + view.spec.facts.tick.ms(),
    }
}

fn since_last_pulse_ms(view: &View<'_>, at_ms: u32) -> u32 {
    let before = view.story.commands.iter().rev().map(|c| over_ms(view, c)).find(|&over_ms| over_ms <= at_ms);
    before.map_or(5000, |over_ms| at_ms - over_ms)
}

/// Claims (closures, flag, announcement) in a stretch that a cause closed, later than a second after it, are charged
/// to 'no command when it may not'; earlier ones here. Kept apart so that one closure is charged once.
#[must_use]
pub fn within_window(why: Why, at_ms: u32) -> bool {
    matches!(why, Why::After(_, since) if at_ms.saturating_sub(since) <= RELEASE_WINDOW_MS)
}

/// "1.23 s after the driver's tap at 4.56 s a contact closes".
#[must_use]
pub fn says(view: &View<'_>, cause: Cause, what: &str, at_ms: u32, limit_ms: f64) -> String {
    let release = view.story.releases.iter().find(|r| r.closing.cause == cause && r.closing.at_ms == at_ms);
    let at = super::say::time(at_ms);
    let Some(release) = release else { return format!("{what} at {at}") };
    let speed = view
        .recording
        .rows
        .iter()
        .find(|r| r.t_ms >= at_ms)
        .map_or(String::new(), |r| format!(", {:.0} km/h", r.truth.speed_kmh));
    match (release.started_ms, release.last_closed_ms) {
        (Some(started), _) => {
            let later = view.story.commands.iter().find(|c| c.at_ms == at_ms + started);
            let which = later.map_or("a contact closes".into(), |c| {
                format!("{} is commanded", super::say::command(c, crate::outcome::Basis::Seen))
            });
            format!("{what} at {at}{speed}; {:.2} s later {which}", f64::from(started) / 1000.0)
        }
        (None, Some(closed)) => format!(
            "{what} at {at}{speed}; a contact stays closed until {:.2} s after; the limit is {:.2} s",
            f64::from(closed) / 1000.0,
            limit_ms / 1000.0
        ),
        (None, None) => format!("{what} at {at}{speed}; contacts were open"),
    }
}

/// Whether a state is 'must not' for a reason that a predicate accepts.
#[must_use]
pub fn must_not(state: State, accept: impl Fn(Why) -> bool) -> bool {
    matches!(state, State::MustNot(why) if accept(why))
}
