//! A small run made by hand, for the tests of this folder.

use crate::failing_cause::Culprit;
use crate::failing_cause::FailingCause;
use crate::failing_cause::Instant;
use crate::outcome::Basis;
use crate::outcome::Blame;
use crate::outcome::BrokenRule;
use crate::outcome::Kinds;
use crate::outcome::Mark;
use crate::outcome::Moment;
use crate::outcome::Outcome;
use crate::outcome::Report;
use crate::outcome::RuleCard;
use crate::outcome::RuleOutcome;
use crate::outcome::Severity;
use crate::outcome::Situation;
use crate::outcome::Terms;

/// A rule card.
pub const CEILING: &RuleCard = &RuleCard {
    name: "engagement speed ceiling",
    sentence: "The box engages only at the ceiling or below.",
    hazard: "It takes over at motorway speed.",
    severity: Severity::Critical,
    unit: "km/h",
    near: 1.0,
    judged_on: &[Basis::Seen, Basis::True],
    situations: &[Situation { name: "engaged", least: 10 }, Situation { name: "edge above the ceiling", least: 3 }],
    limits: &["engagement-speed-ceiling"],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

/// Another.
pub const FLOOR: &RuleCard = &RuleCard {
    name: "rpm floor after an upshift",
    sentence: "An upshift lands at the floor or above.",
    hazard: "The engine bogs.",
    severity: Severity::Major,
    unit: "rpm",
    near: 25.0,
    judged_on: &[Basis::Seen],
    situations: &[Situation { name: "upshift", least: 20 }],
    limits: &["rpm-floor"],
    map_can_break: true,
    leans_on: &[],
    version: 2,
};

/// Another, minor.
pub const MINOR: &RuleCard = &RuleCard {
    name: "settles on the map's gear",
    sentence: "In steady driving the gear is the map's.",
    hazard: "Fuel and noise.",
    severity: Severity::Minor,
    unit: "gears",
    near: 1.0,
    judged_on: &[Basis::True],
    situations: &[Situation { name: "steady for 5 s", least: 5 }],
    limits: &[],
    map_can_break: false,
    leans_on: &[],
    version: 1,
};

fn row(card: &'static RuleCard, outcome: Outcome, margin: Option<(Basis, f64)>, reached: &[u32]) -> RuleOutcome {
    RuleOutcome {
        card,
        outcome,
        smallest: margin.map(|(basis, margin)| {
            (basis, Mark { margin, tolerance: 0.0, at_ms: 3420, unknowable: false }, "engage-7".into())
        }),
        reached: reached.to_vec(),
        rarest: reached.iter().min().copied(),
        drives: 12,
        close: 3,
        excused: 0,
    }
}

/// Two rules kept, one does not apply.
pub fn kept() -> Report {
    Report {
        spec: "van".into(),
        spec_digest: "00ff".into(),
        vehicle: "invented van".into(),
        controller: "builtin:reference".into(),
        run: "commit".into(),
        seed: 1,
        drives: Kinds { manoeuvre: 140, random: 2000, search: 0, orders: 0, saved: 3 },
        simulated_ms: 220_999_999,
        straying: Vec::new(),
        engagement_by_commands: false,
        rules: vec![
            row(CEILING, Outcome::Kept, Some((Basis::Seen, 0.4)), &[40, 12]),
            row(FLOOR, Outcome::Kept, Some((Basis::Seen, 42.0)), &[5120]),
            row(MINOR, Outcome::DoesNotApply("no map".into()), None, &[]),
        ],
        moments: Vec::new(),
        terms: Terms::default(),
        unfit: None,
        versions: "vehicle 1, rules 1, generators 1".into(),
    }
}

/// The ceiling broken at one moment.
pub fn broken() -> Report {
    let mut report = kept();
    report.rules[0] = row(CEILING, Outcome::Broken, Some((Basis::Seen, -8.0)), &[40, 12]);
    report.moments = vec![Moment {
        drive: "engage-7".into(),
        broken: vec![BrokenRule {
            card: CEILING,
            basis: Basis::Seen,
            mark: Mark { margin: -8.0, tolerance: 0.0, at_ms: 3420, unknowable: false },
            says: "The box engaged at 48 km/h; the ceiling is 40 km/h.".into(),
            blame: Blame::Build,
            cause: Some(FailingCause { culprit: Culprit::Build, instant: Instant::Engaging }),
        }],
        blame: Blame::Build,
        outcome: Outcome::Broken,
        file: "ceiling-1.toml".into(),
        lines: vec!["start at 48 km/h in 4th, lever in D".into(), "at 2 s the lever moves into the gate".into()],
        breaks_with: vec!["the speed at the start from 41 km/h to at least 108 km/h".into()],
        raw_size: (9, 5, 61_200),
        size: (1, 1, 4000),
        shrink_drives: 87,
        stopped_by_budget: false,
    }];
    report
}
