//! Rolling out with a closed pedal, the box comes down on its lines, not far below them.
//!
//! A coasting downshift lies within the window below its line, and what the car loses while a box responds, and one
//! count. Where a least time let the box wait (dwell, the blind time after the step before), the window hangs from the
//! speed at which it could act again. A gentle stop, 1.5 m/s² or less, leaves time to have stepped down before the car
//! stands still.

use super::only_on_the_line::beyond_kmh;
use super::story::tape::response_ms;
use super::story::wants::{CLOSED_PCT, Want};
use super::tally::Tally;
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::signal::Direction;
use crate::spec::Spec;

const CARD: RuleCard = RuleCard {
    name: "coasting downshift",
    sentence: "With a closed pedal each down command comes within the window below its line, and before standstill in a gentle stop.",
    hazard: "Too high a gear at the end of a stop: it lugs and has no pull when the light turns green; too early a step drags the driven axle.",
    severity: Severity::Major,
    unit: "km/h",
    near: 1.0,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "coasting downshift due", least: 10 }],
    limits: &["coast-window", "response-updates", "standstill"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

/// The speed may be read one count lower.
const QUANTUM_KMH: f64 = 1.0;
/// A stop this gentle leaves time for every step, m/s².
const GENTLE_MPS2: f64 = 1.5;

/// The lowest speed at which the shift still comes in time, km/h.
fn least_kmh(spec: &Spec, want: &Want) -> f64 {
    let response_s = f64::from(response_ms(spec, spec.limits.response_updates)) / 1000.0;
    // After a gap in the data, or with the pedal let go late, it is due only from beyond the window on.
    let late = want.held || want.from_kmh + spec.limits.coast_window.0 <= want.line_kmh;
    let from = if late { want.from_kmh.min(want.line_kmh) } else { want.line_kmh };
    let lost = want.slowing_mps2 * 3.6 * response_s + QUANTUM_KMH;
    let least = from - spec.limits.coast_window.0 - lost;
    if want.slowing_mps2 <= GENTLE_MPS2 { least.max(spec.limits.standstill.0) } else { least }
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let spec = view.spec;
    let wants = view.story.wants.iter();
    for want in wants.filter(|w| w.direction == Direction::Down && w.closed) {
        if want.held && want.met && want.from_ms == want.to_ms {
            tally.excused();
            continue;
        }
        let margin = want.to_kmh - least_kmh(spec, want);
        // One that is neither met nor late yet has simply ended: the pedal came back, the driver took over.
        if want.met || margin < 0.0 {
            tally.reached(0);
            tally.seen(margin, if want.met { want.to_ms } else { want.from_ms });
        }
    }
    for command in view.story.commands.iter().filter(|c| c.direction == Direction::Down) {
        if command.pedal_seen.is_some_and(|p| p < CLOSED_PCT)
            && let Some(beyond) = beyond_kmh(view, command)
        {
            tally.seen(beyond, command.at_ms);
        }
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let due = view.story.wants.iter().find(|w| w.direction == Direction::Down && w.closed && w.from_ms == at_ms);
    match due {
        Some(want) if !want.met => format!(
            "coasting downshift {}>{} due from {:.0} km/h on (line at {:.0} km/h), not commanded down to {:.0} km/h; {:.1} km/h is the least",
            want.gear,
            want.gear.saturating_sub(1),
            want.from_kmh,
            want.line_kmh,
            want.to_kmh,
            least_kmh(view.spec, want)
        ),
        _ => {
            let window = view.spec.limits.coast_window.0;
            let command = view.story.commands.iter().find(|c| c.at_ms == at_ms);
            let line = command.and_then(|c| view.spec.map.down_kmh(c.gear_seen?, c.pedal_seen?));
            let line = line
                .map_or(String::new(), |kmh| format!("; the line is at {kmh:.0} km/h, the window {window:.0} km/h"));
            format!("{}{line}", say::command_at(view, basis, at_ms))
        }
    }
}
