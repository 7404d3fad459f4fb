//! The verdict in a sentence, and the claim that a run supports.

use super::words::count;
use super::words::counted;
use super::words::simulated;
use crate::outcome::Exit;
use crate::outcome::Outcome;
use crate::outcome::Report;
use crate::outcome::Severity;

/// The outcomes that are named beside 'kept', in this order.
const OPEN: [&str; 10] = [
    "too close",
    "depends on data",
    "not reproducible",
    "not reached",
    "can't judge",
    "waived",
    "signal limit",
    "consequence",
    "switched off",
    "does not apply",
];

/// Rules with this outcome word.
pub fn rules_with(report: &Report, word: &str) -> u64 {
    report.rules.iter().filter(|r| r.outcome.word() == word).count() as u64
}

/// A broken rule that only is reported.
pub fn is_minor_break(row: &crate::outcome::RuleOutcome) -> bool {
    row.outcome == Outcome::Broken && row.card.severity == Severity::Minor
}

/// The verdict in one sentence; that of an interrupted run is no verdict on the whole and says so.
#[must_use]
pub fn sentence(report: &Report, interrupted: bool) -> String {
    if interrupted {
        format!("INTERRUPTED before the end; until then: {}", of_drives(report))
    } else {
        of_drives(report)
    }
}

fn of_drives(report: &Report) -> String {
    if let Some(why) = &report.unfit {
        return format!("RIG UNFIT: {}. Nothing is claimed about the build.", why.trim_end_matches('.'));
    }
    if report.drives.all() == 0 {
        return "NOTHING RAN: no drive was driven, so nothing is claimed about the build.".to_owned();
    }
    let driven = format!(
        "in {}, {} (seed {})",
        counted(report.drives.all(), "drive"),
        simulated(report.simulated_ms),
        report.seed
    );
    let minor = report.rules.iter().filter(|r| is_minor_break(r)).count() as u64;
    let broken = rules_with(report, "broken") - minor;
    if broken > 0 {
        let moments = report.moments.iter().filter(|m| m.outcome == Outcome::Broken).count() as u64;
        let also =
            if minor > 0 { format!(" and {} (reported only)", counted(minor, "minor rule")) } else { String::new() };
        return format!(
            "BROKEN: {}{also} at {} {driven}.",
            counted(broken, "rule"),
            counted(moments, "failing moment")
        );
    }
    let asked = report.rules.len() as u64 - rules_with(report, "does not apply") - rules_with(report, "switched off");
    let kept = rules_with(report, "kept");
    let others: Vec<String> = OPEN
        .into_iter()
        .filter_map(|word| match rules_with(report, word) {
            0 => None,
            n => Some(format!("{} {word}", count(n))),
        })
        .chain((minor > 0).then(|| format!("{} broken but minor, reported only", count(minor))))
        .collect();
    let others = if others.is_empty() { String::new() } else { format!(" ({})", others.join(", ")) };
    let verdict = match report.exit() {
        Exit::Unclear => "UNCLEAR, nothing broken",
        Exit::NotReached => "NOT ALL REACHED, nothing broken",
        _ if minor > 0 => "Nothing broken that blocks a release",
        _ if rules_with(report, "waived") > 0 => "Nothing broken but what is waived",
        _ => "Nothing broken",
    };
    format!("{verdict}: {} of {} kept{others} {driven}.", count(kept), counted(asked, "rule"))
}

/// The claim that the run supports, where nothing is broken: what was found in how much, and what that number bounds.
#[must_use]
pub fn claim(report: &Report, interrupted: bool) -> Option<String> {
    let n = report.drives.all();
    if interrupted || n == 0 || report.unfit.is_some() || rules_with(report, "broken") > 0 {
        return None;
    }
    let listed = ["too close", "depends on data", "not reproducible", "waived", "signal limit", "consequence"];
    let beyond =
        if listed.iter().any(|word| rules_with(report, word) > 0) { " beyond what is listed above" } else { "" };
    let mut text = format!(
        "No violation found{beyond} in {}, {}, with these models, faults and seeds.",
        counted(n, "drive"),
        simulated(report.simulated_ms)
    );
    // No miss in N independent trials: the 95 % bound -ln(0.05)/N lies just below 3/N; it says nothing for N of 3 or less.
    if report.drives.random > 3 {
        let n = u64::from(report.drives.random);
        let hundredths = 30_000_u64.div_ceil(n);
        let none = if beyond.is_empty() { "none" } else { "no other" };
        text.push_str(&format!(
            " With {none} in {} random drives, at most 3/{} ({}.{:02} %) of such drives break a rule (95 % confidence).",
            count(n),
            count(n),
            hundredths / 100,
            hundredths % 100
        ));
    }
    Some(text)
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;

    #[test]
    fn the_sentence_says_what_became_of_the_run() {
        let mut report = example::kept();
        assert_eq!(
            sentence(&report, false),
            "Nothing broken: 2 of 2 rules kept (1 does not apply) in 2,143 drives, 61.3 simulated hours (seed 1)."
        );
        report.rules[1].outcome = Outcome::NotReached("low range never came".into());
        assert_eq!(
            sentence(&report, false),
            "NOT ALL REACHED, nothing broken: 1 of 2 rules kept (1 not reached, 1 does not apply) in 2,143 drives, \
             61.3 simulated hours (seed 1)."
        );
        report.unfit = Some("the reference engages at 48 km/h.".into());
        assert_eq!(
            sentence(&report, false),
            "RIG UNFIT: the reference engages at 48 km/h. Nothing is claimed about the build."
        );
    }

    #[test]
    fn a_broken_rule_comes_first_and_a_minor_one_alone_blocks_nothing() {
        let mut report = example::broken();
        assert_eq!(
            sentence(&report, false),
            "BROKEN: 1 rule at 1 failing moment in 2,143 drives, 61.3 simulated hours (seed 1)."
        );
        report.rules[0].card = example::MINOR;
        assert_eq!(
            sentence(&report, false),
            "Nothing broken that blocks a release: 1 of 2 rules kept (1 does not apply, 1 broken but minor, reported \
             only) in 2,143 drives, 61.3 simulated hours (seed 1)."
        );
    }

    #[test]
    fn only_a_run_without_a_broken_rule_claims_a_bound() {
        // 3/2000 = 0.15 %, by hand.
        assert_eq!(
            claim(&example::kept(), false).unwrap(),
            "No violation found in 2,143 drives, 61.3 simulated hours, with these models, faults and seeds. With none in \
             2,000 random drives, at most 3/2,000 (0.15 %) of such drives break a rule (95 % confidence)."
        );
        assert_eq!(claim(&example::broken(), false), None);
        let mut few = example::kept();
        few.drives.random = 3;
        assert!(!claim(&few, false).unwrap().contains('%'));
        few.drives.random = 0;
        few.drives.manoeuvre = 0;
        few.drives.saved = 0;
        assert_eq!(claim(&few, false), None);
    }

    #[test]
    fn what_is_waived_is_named_and_what_is_switched_off_was_not_asked() {
        let mut report = example::kept();
        report.rules[0].outcome = Outcome::SwitchedOff("x".into());
        report.rules[1].outcome = Outcome::Waived("x".into());
        assert_eq!(
            sentence(&report, false),
            "Nothing broken but what is waived: 0 of 1 rule kept (1 waived, 1 switched off, 1 does not apply) in 2,143 \
             drives, 61.3 simulated hours (seed 1)."
        );
        let claim = claim(&report, false).unwrap();
        assert!(claim.starts_with("No violation found beyond what is listed above in 2,143 drives"), "{claim}");
        assert!(claim.contains("With no other in 2,000 random drives"), "{claim}");
    }

    #[test]
    fn an_interrupted_run_claims_nothing_as_a_whole() {
        let report = example::kept();
        assert_eq!(
            sentence(&report, true),
            "INTERRUPTED before the end; until then: Nothing broken: 2 of 2 rules kept (1 does not apply) in 2,143 drives, \
             61.3 simulated hours (seed 1)."
        );
        assert_eq!(claim(&report, true), None);
    }
}
