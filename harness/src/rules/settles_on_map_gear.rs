//! With speed and pedal at rest, the gear becomes one that the map allows.
//!
//! Between the lines of a pair two gears are allowed. At rest: speed within 1 km/h, pedal within one count, at least
//! 1 km/h from every line. The clock starts anew with each command. In truth a shift takes its time, which is the
//! tolerance there; under a range limit the gearbox stays below the limit as it likes, so only what was seen counts.
//! Where the maker states up to which engine speed the box keeps the gear that brakes, a closed pedal allows a lower one.
//! Rests with the engine at its limiter for over a second are counted, and told with what is broken: they wear the engine
//! whatever the map allows.

use super::story::still::Settled;
use super::tally::{CAP_S, Tally, s};
use super::{Rule, View, all, always, gear, say};
use crate::outcome::{Basis, RuleCard, Severity, Situation};
use crate::recording::Row;
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;
use crate::vehicle::limits_at;

/// Time at the limiter that is worth telling, ms (common practice, no source).
const AT_LIMITER_MS: u32 = 1000;

const CARD: RuleCard = RuleCard {
    name: "settles on map gear",
    sentence: "With steady speed and pedal away from all lines, the gear is one that the map allows within the stated time.",
    hazard: "The box rests in a wrong gear: a screaming or a lugging engine, and no answer when the driver pulls out.",
    severity: Severity::Major,
    unit: "s",
    near: 0.1,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[
        Situation { name: "speed and pedal at rest", least: 10 },
        Situation { name: "at rest in a gear that the map doesn't allow", least: 1 },
        Situation { name: "at rest with the engine at its limiter for over a second", least: 0 },
    ],
    limits: &["settles-within", "settles-step"],
    map_can_break: false,
    leans_on: &[],
    version: 4,
};

pub(super) const RULE: Rule =
    Rule { card: &CARD, does_not_apply: always, cant_judge: gear::cant_be_known, asks: all, judge, says };

fn limit_ms(spec: &Spec, steps: u8) -> f64 {
    let limits = &spec.limits;
    limits.settles_within.get() + limits.settles_step.get() * f64::from(steps.saturating_sub(1)) + spec.facts.tick.get()
}

fn judge(view: &View<'_>, tally: &mut Tally) {
    let spec = view.spec;
    let held = spec.vehicle.gearbox.gate.means == GateMeans::HeldGear;
    let left = |(outside_ms, steps): (u32, u8)| s(limit_ms(spec, steps) - f64::from(outside_ms)).clamp(-CAP_S, CAP_S);
    let long_ms = spec.limits.settles_within.ms();
    for stretch in &view.story.settled {
        let long = stretch.to_ms - stretch.from_ms >= long_ms;
        if long {
            tally.reached(0);
        }
        if stretch.outside.0 > 0 {
            tally.reached(1);
        }
        if at_limiter_ms(view, stretch) > AT_LIMITER_MS {
            tally.reached(2);
        }
        if long || stretch.outside.0 > 0 {
            tally.seen(left(stretch.outside), stretch.from_ms);
        }
        if held && long {
            let tolerance = s(spec.limits.shift_blind.get());
            tally.truth_if_known(left(stretch.outside_true), tolerance, stretch.from_ms, stretch.known);
        }
    }
}

/// How long the engine ran at its limiter while speed and pedal stood still, ms.
fn at_limiter_ms(view: &View<'_>, stretch: &Settled) -> u32 {
    let redline_rpm = view.spec.vehicle.engine.redline.get();
    let limited = |row: &&Row| limits_at(redline_rpm, row.truth.engine_rpm);
    let rows = view.recording.rows_within(stretch.from_ms, stretch.to_ms);
    rows.iter().filter(limited).map(|_| view.recording.tick_ms).sum()
}

fn says(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    let Some(stretch) = view.story.settled.iter().find(|x| x.from_ms == at_ms) else {
        return format!("at {}", say::time(at_ms));
    };
    let Settled { from_ms, .. } = *stretch;
    let (outside_ms, steps) = if basis == Basis::Seen { stretch.outside } else { stretch.outside_true };
    let row = view.recording.rows.iter().find(|r| r.t_ms == from_ms);
    let place = row.map_or(String::new(), |r| {
        format!(" at {:.0} km/h, pedal {:.0} %, in gear {}", r.truth.speed_kmh, r.truth.pedal_pct, r.truth.gear)
    });
    let limited_ms = at_limiter_ms(view, stretch);
    let limiter = if limited_ms > AT_LIMITER_MS {
        format!(", the engine at its limiter for {:.1} s", f64::from(limited_ms) / 1000.0)
    } else {
        String::new()
    };
    format!(
        "speed and pedal steady from {} on{place}, {steps} {} off those that the map allows for {:.2} s{limiter}; the limit is {:.2} s",
        say::time(from_ms),
        if steps == 1 { "gear" } else { "gears" },
        f64::from(outside_ms) / 1000.0,
        limit_ms(view.spec, steps) / 1000.0
    )
}
