use super::*;
use crate::outcome::Basis;
use crate::outcome::Kinds;
use crate::outcome::Outcome;
use crate::outcome::Report;
use crate::outcome::RuleCard;
use crate::outcome::RuleOutcome;
use crate::outcome::Severity;
use crate::outcome::Terms;

const fn card(severity: Severity) -> RuleCard {
    RuleCard {
        name: "a rule",
        sentence: "It holds.",
        hazard: "It hurts.",
        severity,
        unit: "ms",
        near: 1.0,
        judged_on: &[Basis::Seen],
        situations: &[],
        limits: &[],
        map_can_break: false,
        leans_on: &[],
        version: 1,
    }
}

const CRITICAL: &RuleCard = &card(Severity::Critical);
const MAJOR: &RuleCard = &card(Severity::Major);
const MINOR: &RuleCard = &card(Severity::Minor);

fn report(rows: &[(&'static RuleCard, Outcome)]) -> Report {
    Report {
        spec: "s".into(),
        spec_digest: String::new(),
        vehicle: "v".into(),
        controller: "c".into(),
        run: "r".into(),
        seed: 0,
        drives: Kinds { manoeuvre: 1, ..Kinds::default() },
        simulated_ms: 1000,
        straying: Vec::new(),
        engagement_by_commands: false,
        rules: rows
            .iter()
            .map(|(card, outcome)| RuleOutcome {
                card,
                outcome: outcome.clone(),
                smallest: None,
                reached: Vec::new(),
                rarest: None,
                drives: 0,
                close: 0,
                excused: 0,
            })
            .collect(),
        moments: Vec::new(),
        terms: Terms::default(),
        unfit: None,
        versions: String::new(),
    }
}

/// The table of codes, by hand from its description: 70, 2, 3, 1, 74, 6, 5, 4, 0 in this order.
#[test]
fn outcomes_become_codes() {
    let not_reached = || Outcome::NotReached("x".into());
    let data = || Outcome::DependsOnData("x".into());
    let table: Vec<(Vec<(&'static RuleCard, Outcome)>, u8)> = vec![
        (vec![], 0),
        (vec![(CRITICAL, Outcome::Kept), (MAJOR, Outcome::Kept)], 0),
        (vec![(CRITICAL, Outcome::Broken)], 1),
        (vec![(MAJOR, Outcome::Broken)], 1),
        (vec![(MINOR, Outcome::Broken)], 0),
        (vec![(CRITICAL, Outcome::TooClose)], 5),
        (vec![(CRITICAL, data())], 5),
        (vec![(CRITICAL, Outcome::NotReproducible)], 5),
        (vec![(MINOR, Outcome::NotReproducible)], 0),
        (vec![(CRITICAL, not_reached())], 4),
        (vec![(CRITICAL, Outcome::SignalLimit)], 0),
        (vec![(CRITICAL, Outcome::CantJudge("x".into()))], 0),
        (vec![(CRITICAL, Outcome::DoesNotApply("x".into()))], 0),
        (vec![(MAJOR, Outcome::SwitchedOff("x".into()))], 0),
        (vec![(MAJOR, Outcome::Waived("x".into()))], 0),
        (vec![(MAJOR, Outcome::Waived("x".into())), (MAJOR, Outcome::Broken)], 1),
        (vec![(CRITICAL, Outcome::Consequence("x".into()))], 0),
        (vec![(CRITICAL, not_reached()), (MAJOR, Outcome::TooClose)], 5),
        (vec![(CRITICAL, not_reached()), (MAJOR, Outcome::TooClose), (MAJOR, Outcome::Broken)], 1),
        (vec![(MINOR, Outcome::Broken), (MAJOR, not_reached())], 4),
    ];
    for (rows, wanted) in table {
        assert_eq!(report(&rows).exit() as u8, wanted, "{rows:?}");
    }
    let mut nothing = report(&[(CRITICAL, Outcome::Kept)]);
    nothing.drives.manoeuvre = 0;
    assert_eq!(nothing.exit() as u8, 4);
    let mut unfit = report(&[(CRITICAL, Outcome::Broken)]);
    unfit.unfit = Some("x".into());
    assert_eq!(unfit.exit() as u8, 3);
}

#[test]
fn the_stronger_of_two_codes_wins() {
    let order = [70, 2, 3, 1, 74, 6, 5, 4, 0];
    let all = [
        Exit::OurBug,
        Exit::Usage,
        Exit::NotStarted,
        Exit::Broken,
        Exit::NotWritten,
        Exit::MergeIncomplete,
        Exit::Unclear,
        Exit::NotReached,
        Exit::Kept,
    ];
    assert_eq!(all.map(|e| e as u8), order);
    for (i, a) in all.into_iter().enumerate() {
        for (j, b) in all.into_iter().enumerate() {
            assert_eq!(a.and(b) as u8, order[i.min(j)]);
        }
    }
}

#[test]
fn an_interruption_overrides_the_code() {
    assert_eq!(code(Ended { exit: Exit::Broken, signal: Some(2) }), 130);
    assert_eq!(code(Ended { exit: Exit::Kept, signal: Some(15) }), 143);
    assert_eq!(code(Exit::Broken.into()), 1);
}
