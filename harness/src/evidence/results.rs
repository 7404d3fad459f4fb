//! `results.json`: the whole report for machines. Keys are sorted and numbers exact, so that equal runs give equal bytes.

use super::cautions::CAUTIONS;
use super::folder::drive_path;
use super::trace;
use super::verdict;
use crate::hazards;
use crate::outcome::Mark;
use crate::outcome::Moment;
use crate::outcome::Report;
use crate::outcome::RuleCard;
use crate::outcome::RuleOutcome;
use serde_json::Value;
use serde_json::json;

/// Name and version of this tool.
pub const TOOL: &str = concat!("sprag ", env!("CARGO_PKG_VERSION"));

/// The report as JSON.
#[must_use]
pub fn results(report: &Report, interrupted: bool) -> Value {
    json!({
        "format": 1,
        "tool": TOOL,
        "versions": report.versions,
        "verdict": verdict::sentence(report, interrupted),
        "claim": verdict::claim(report, interrupted),
        "interrupted": interrupted,
        "exit-code": report.exit() as u8,
        "spec": report.spec,
        "spec-sha256": report.spec_digest,
        "vehicle": report.vehicle,
        "controller": report.controller,
        "run": report.run,
        "seed": report.seed,
        "drives": {
            "manoeuvre": report.drives.manoeuvre,
            "random": report.drives.random,
            "search": report.drives.search,
            "event-order": report.drives.orders,
            "saved": report.drives.saved,
        },
        "simulated-ms": report.simulated_ms,
        "followed": report.straying.iter().map(|s| json!({
            "name": s.name,
            "strayed-most-kmh": (s.most_kmh * 10.0).round() / 10.0,
            "strayed-rms-kmh": (s.rms_kmh * 100.0).round() / 100.0,
        })).collect::<Vec<_>>(),
        "engagement-by-commands": report.engagement_by_commands,
        "unfit": report.unfit,
        "rules": report.rules.iter().map(rule).collect::<Vec<_>>(),
        "moments": report.moments.iter().map(moment).collect::<Vec<_>>(),
        "terms": {
            "as-of": report.terms.as_of,
            "baseline": report.terms.baseline,
            "waivers": report.terms.waivers,
            "switched-off": report.terms.off,
            "limits-loosened": report.terms.loosened,
        },
        "hazards": trace::hazards_json(report),
        "cautions": CAUTIONS,
    })
}

/// A rule card as JSON.
#[must_use]
pub fn card(card: &RuleCard) -> Value {
    json!({
        "name": card.name,
        "version": card.version,
        "severity": card.severity,
        "sentence": card.sentence,
        "hazard": card.hazard,
        "unit": card.unit,
        "close-within": number(2.0 * card.near),
        "judged-on": card.judged_on,
        "limits": card.limits,
        "leans-on": card.leans_on,
        "hazards": hazards::of_rule(card.name).iter().map(|h| h.name).collect::<Vec<_>>(),
        "manoeuvres": hazards::link(card.name).map_or(&[][..], |link| link.manoeuvres),
    })
}

fn rule(row: &RuleOutcome) -> Value {
    let situations: Vec<Value> = row
        .card
        .situations
        .iter()
        .enumerate()
        .map(|(at, s)| json!({"situation": s.name, "least": s.least, "reached": row.reached.get(at)}))
        .collect();
    json!({
        "rule": card(row.card),
        "outcome": row.outcome.word(),
        "why": row.outcome.why(),
        "smallest": row.smallest.as_ref().map(|(basis, at, drive)| json!({
            "judged-on": basis,
            "mark": mark(at),
            "drive": drive,
        })),
        "situations": situations,
        "drives": row.drives,
        "close": row.close,
        "excused": row.excused,
    })
}

fn moment(moment: &Moment) -> Value {
    let size = |(steps, events, ms): (usize, usize, u32)| json!({"steps": steps, "events": events, "length-ms": ms});
    let broken: Vec<Value> = moment
        .broken
        .iter()
        .map(|b| {
            json!({
                "rule": b.card.name,
                "judged-on": b.basis,
                "mark": mark(&b.mark),
                "says": b.says,
                "blame": b.blame,
                "cause": b.cause.map(|cause| cause.to_string()),
            })
        })
        .collect();
    json!({
        "drive": moment.drive,
        "broken": broken,
        "blame": moment.blame,
        "blame-says": moment.blame.says(),
        "outcome": moment.outcome.word(),
        "why": moment.outcome.why(),
        "file": drive_path(&moment.file),
        "lines": moment.lines,
        "breaks-with": moment.breaks_with,
        "as-found": size(moment.raw_size),
        "shrunk": size(moment.size),
        "shrink-drives": moment.shrink_drives,
        "stopped-by-budget": moment.stopped_by_budget,
    })
}

fn mark(mark: &Mark) -> Value {
    json!({"margin": number(mark.margin), "tolerance": number(mark.tolerance), "at-ms": mark.at_ms})
}

/// JSON knows no infinity: such a number is written as a word, never lost.
fn number(value: f64) -> Value {
    serde_json::Number::from_f64(value).map_or_else(|| Value::String(super::words::margin(value)), Value::Number)
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;

    #[test]
    fn a_margin_reads_back_to_the_bit() {
        let mut report = example::broken();
        let exact = -8.000_000_000_000_002;
        report.rules[0].smallest.as_mut().unwrap().1.margin = exact;
        let text = results(&report, false).to_string();
        let back: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(back["rules"][0]["smallest"]["mark"]["margin"].as_f64(), Some(exact));
        assert_eq!(back["exit-code"], 1);
        assert_eq!(back["moments"][0]["file"], "drives/ceiling-1.toml");
        assert_eq!(back["rules"][0]["situations"][1]["least"], 3);
    }

    #[test]
    fn a_margin_without_a_number_is_not_lost() {
        let mut report = example::broken();
        report.rules[0].smallest.as_mut().unwrap().1.margin = f64::NEG_INFINITY;
        assert_eq!(results(&report, false)["rules"][0]["smallest"]["mark"]["margin"], "-infinite");
    }
}
