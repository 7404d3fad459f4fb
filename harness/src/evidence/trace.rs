//! From each hazard to its rules, their manoeuvres and what became of them, and back.

use super::visible::line;
use crate::hazards;
use crate::hazards::HAZARDS;
use crate::outcome::Report;
use crate::outcome::RuleOutcome;
use serde_json::Value;
use serde_json::json;
use std::fmt::Write;

/// Why the ranks are no hazard analysis.
const RANK: &str = "The rank orders the work inside this harness and nothing else: the sum of draft classes of harm, \
    exposure and lack of control. Whoever owns a controller makes its hazard analysis for its vehicle.";

/// `traceability.md`: both ways, as tables.
pub fn page(report: &Report) -> String {
    let mut out = format!("# From hazards to outcomes and back\n\nSpec {}. {RANK}\n\n", cell(&report.spec));
    out.push_str("## Hazard, rule, manoeuvre, outcome\n\n");
    out.push_str(
        "| hazard | rank | situation | effect | rule | manoeuvres | outcome |\n|---|--:|---|---|---|---|---|\n",
    );
    for hazard in HAZARDS {
        for (at, (rule, row)) in rows(report, hazard.rules).into_iter().enumerate() {
            let first = |text: &str| if at == 0 { cell(text) } else { String::new() };
            let rank = if at == 0 { hazard.rank.to_string() } else { String::new() };
            let _ = writeln!(
                out,
                "| {} | {rank} | {} | {} | {} | {} | {} |",
                first(hazard.name),
                first(hazard.situation),
                first(hazard.effect),
                cell(rule),
                manoeuvres(rule),
                outcome(row)
            );
        }
    }
    out.push_str(
        "\n## Outcome, rule, hazard\n\n| rule | severity | outcome | manoeuvres | hazards |\n|---|---|---|---|---|\n",
    );
    for row in &report.rules {
        let name = row.card.name;
        let hazards: Vec<&str> = hazards::of_rule(name).iter().map(|h| h.name).collect();
        let severity = format!("{:?}", row.card.severity).to_lowercase();
        let _ = writeln!(
            out,
            "| {} | {severity} | {} | {} | {} |",
            cell(name),
            outcome(Some(row)),
            manoeuvres(name),
            cell(&hazards.join(", "))
        );
    }
    out
}

/// The hazards for `results.json`, each with its rules and what became of these.
pub fn hazards_json(report: &Report) -> Vec<Value> {
    let rule = |(rule, row): (&'static str, Option<&RuleOutcome>)| {
        json!({
            "rule": rule,
            "manoeuvres": hazards::link(rule).map_or(&[][..], |link| link.manoeuvres),
            "outcome": row.map(|row| row.outcome.word()),
        })
    };
    let hazard = |h: &hazards::Hazard| {
        json!({
            "hazard": h.name,
            "situation": h.situation,
            "effect": h.effect,
            "draft-rank": h.rank,
            "rules": rows(report, h.rules).into_iter().map(rule).collect::<Vec<_>>(),
        })
    };
    HAZARDS.iter().map(hazard).collect()
}

fn rows<'r>(report: &'r Report, rules: &[&'static str]) -> Vec<(&'static str, Option<&'r RuleOutcome>)> {
    rules.iter().map(|&rule| (rule, report.rules.iter().find(|row| row.card.name == rule))).collect()
}

fn manoeuvres(rule: &str) -> String {
    hazards::link(rule).map_or(String::new(), |link| link.manoeuvres.join(", "))
}

fn outcome(row: Option<&RuleOutcome>) -> &'static str {
    row.map_or("not judged by this version", |row| row.outcome.word())
}

/// Text that doesn't end a table's cell.
fn cell(text: &str) -> String {
    line(text).replace('|', "\\|")
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;

    #[test]
    fn an_outcome_is_found_from_its_hazard_and_the_hazard_from_its_rule() {
        let page = page(&example::broken());
        let lines: Vec<&str> = page.lines().collect();
        let down = "| | engagement speed ceiling | engage-and-creep | broken |".trim_start_matches('|');
        assert!(lines.iter().any(|l| l.ends_with(down)), "{page}");
        let up = "| engagement speed ceiling | critical | broken | engage-and-creep | values on the boundary, ";
        assert!(lines.iter().any(|l| l.starts_with(up)), "{page}");
    }

    #[test]
    fn the_file_for_machines_says_the_same() {
        let hazards = hazards_json(&example::broken());
        assert_eq!(hazards.len(), HAZARDS.len());
        let boundary = hazards.iter().find(|h| h["hazard"] == "values on the boundary").unwrap();
        assert_eq!(boundary["rules"][0]["rule"], "engagement speed ceiling");
        assert_eq!(boundary["rules"][0]["outcome"], "broken");
        assert_eq!(boundary["rules"][0]["manoeuvres"][0], "engage-and-creep");
    }
}
