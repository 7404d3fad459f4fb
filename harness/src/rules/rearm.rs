//! A box that has disengaged engages again on a new take-over only, and not without end. Where it declares so, the lever's
//! coming back into the gate is one for a box with a button.
//!
//! Which rule has what: engagements *shown* (flag, announcement) without a new take-over are charged here, contacts that
//! close then to the cause's own rule or to 'no command when it may not'. A lever excursion shorter than the bounce
//! limit is none; one a little longer may count or not, so a box is blamed for neither.

use super::may_command::{Cause, ENGAGEMENTS_MS, State, Why};
use super::quiet_after_engaging::cant_judge;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, always, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::spec::Spec;
use crate::spec::facts::{OnCause, TakeOver};

const CARD: RuleCard = RuleCard {
    name: "re-arm needs lever cycle",
    sentence: "After disengaging the box engages again only once the driver has armed it again as declared, and so often at most in 10 s.",
    hazard: "The box takes back what the driver or a fault has ended; a worn lever switch makes it engage in a storm.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen],
    situations: &[
        Situation { name: "1 s in the gate after the driver's tap", least: 3 },
        Situation { name: "after the range left high", least: 2 },
        Situation { name: "after lost data", least: 2 },
        Situation { name: "engaged again after a new take-over", least: 3 },
        Situation { name: "as many engagements within 12 s as are allowed in 10 s", least: 1 },
    ],
    limits: &["most-engagements", "lever-bounce"],
    map_can_break: false,
    leans_on: &[],
    version: 3,
};

pub(super) const RULE: Rule = Rule { card: &CARD, does_not_apply: always, cant_judge, asks, judge, says };

fn asks(spec: &Spec, situation: usize) -> bool {
    match situation {
        0 => spec.facts.driver_tap == OnCause::Disengages,
        1 => spec.facts.signals.range && spec.vehicle.gearbox.low_range.is_some(),
        2 => spec.facts.lost_data == OnCause::Disengages,
        _ => true,
    }
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let (story, limits, tick) = (view.story, &view.spec.limits, view.spec.facts.tick.get());
    for span in &story.spans {
        let State::MustNot(Why::After(cause, _)) = span.state else { continue };
        let length_ms = span.to_ms - span.from_ms;
        let situation = match cause {
            Cause::Tap => 0,
            Cause::Range => 1,
            Cause::Data | Cause::Stuck => 2,
            Cause::Ignition | Cause::Lever => continue,
        };
        if length_ms >= 1000 {
            tally.reached(situation);
            tally.seen(s(f64::from(length_ms)).min(CAP_S), span.from_ms);
        }
    }
    for again in &story.hand.again {
        if again.no_take_over {
            let away_ms = f64::from(story.hand.to_take_over_ms(again.at_ms, again.after.1)).max(tick);
            tally.seen(-s(away_ms), again.at_ms);
        } else {
            tally.reached(3);
            let least_ms = match view.spec.facts.take_over {
                TakeOver::Lever => limits.lever_bounce.get(),
                TakeOver::Button => 0.0,
            };
            if again.after.0 != Cause::Lever {
                tally.seen(s(f64::from(again.out_ms) + tick - least_ms).min(CAP_S), again.at_ms);
            }
        }
    }
    let most = usize::from(limits.most_engagements);
    let shown: Vec<u32> = story.engagings.iter().filter(|e| e.declared).map(|e| e.at_ms).collect();
    for (first, last) in shown.iter().zip(shown.iter().skip(most.saturating_sub(1))) {
        if last - first <= ENGAGEMENTS_MS + 2000 {
            tally.reached(4);
        }
    }
    // A box that starts afresh has forgotten how often it engaged.
    let one_run = |&(first, beyond): &(&u32, &u32)| story.hand.power_up_before_ms(*beyond) <= *first;
    for (first, beyond) in shown.iter().zip(shown.iter().skip(most)).filter(one_run) {
        let took_ms = f64::from(beyond - first);
        tally.seen(s(took_ms + tick - f64::from(ENGAGEMENTS_MS)).min(CAP_S), *beyond);
    }
}

fn says(view: &View<'_>, _: Basis, at_ms: u32) -> String {
    let again = view.story.hand.again.iter().find(|a| a.at_ms == at_ms);
    let at = say::time(at_ms);
    match again {
        Some(again) if again.no_take_over => {
            let since_s = f64::from(at_ms.saturating_sub(again.after.1)) / 1000.0;
            let what = say::cause(again.after.0);
            format!("the box engages again at {at}, {since_s:.2} s after {what}, with no take-over since")
        }
        Some(again) if again.out_ms < view.spec.limits.lever_bounce.ms() => {
            format!("the box engages again at {at} after a lever excursion of {} ms", again.out_ms)
        }
        _ => format!("the box engages at {at}; that is more than {} times in 10 s", view.spec.limits.most_engagements),
    }
}
