//! A pulse is long enough to count and too short to count twice, and one follows the other after a gap.

use super::tally::{Tally, s};
use super::{Rule, View, all, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;
use crate::spec::facts::Answers;

const CARD: RuleCard = RuleCard {
    name: "one step per tap",
    sentence: "Each pulse is neither too short nor too long, both contacts stay open between pulses, and never are both closed; a pulse cut short by disengaging may be shorter.",
    hazard: "A pulse too short is lost, one too long may run down to the lowest gear: the counted gear is off, or the driven axle is braked hard.",
    severity: Severity::Critical,
    unit: "s",
    near: 0.01,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "pulse", least: 50 },
        Situation { name: "pulse with a disengage cause in it", least: 3 },
    ],
    limits: &["shortest-pulse", "longest-pulse", "pulse-gap"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply, cant_judge: always, asks: all, judge, says };

fn does_not_apply(spec: &Spec) -> Option<String> {
    matches!(spec.facts.answers, Answers::Requests { .. })
        .then(|| "the box requests shifts; the harness makes the pulses".to_owned())
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    if does_not_apply(view.spec).is_some() {
        return;
    }
    let limits = &view.spec.limits;
    let tick = view.spec.facts.tick.get();
    // When both contacts were open again after all pulses so far.
    let mut open_ms: Option<u32> = None;
    for pulse in &view.story.pulses {
        tally.reached(0);
        let width = f64::from(pulse.to_ms - pulse.from_ms);
        // How long it stays closed after a disengage cause is the affair of that cause's own rule.
        let own_end_ms = pulse.cut_ms.map_or(pulse.to_ms, |cut| cut.min(pulse.to_ms));
        let own = f64::from(own_end_ms - pulse.from_ms);
        tally.seen(s(limits.longest_pulse.get() + tick - own), pulse.from_ms);
        if pulse.cut_ms.is_some() {
            tally.reached(1);
        } else if pulse.ended {
            tally.seen(s(width + tick - limits.shortest_pulse.get()), pulse.from_ms);
        }
        if let Some(open_ms) = open_ms {
            // Below 0 while the pulse before is still closed.
            let gap = f64::from(pulse.from_ms) - f64::from(open_ms);
            tally.seen(s(gap + tick - limits.pulse_gap.get()).min(5.0), pulse.from_ms);
        }
        open_ms = open_ms.max(Some(pulse.to_ms));
    }
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let limits = &view.spec.limits;
    let pulses = &view.story.pulses;
    let Some(at) = pulses.iter().rposition(|p| p.from_ms == at_ms) else { return say::command_at(view, basis, at_ms) };
    let pulse = pulses[at];
    let before = pulses[..at].iter().map(|p| p.to_ms).max();
    let gap = match before {
        Some(open_ms) if open_ms > pulse.from_ms => ", while another one was closed".to_owned(),
        Some(open_ms) => format!(", {:.2} s after the one before", f64::from(pulse.from_ms - open_ms) / 1000.0),
        None => String::new(),
    };
    format!(
        "pulse of {} ms at {}{gap}; {:.0} to {:.0} ms and a gap of {:.0} ms are the limits",
        pulse.to_ms - pulse.from_ms,
        say::time(at_ms),
        limits.shortest_pulse.get(),
        limits.longest_pulse.get(),
        limits.pulse_gap.get()
    )
}
