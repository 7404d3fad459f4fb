//! JUnit XML for CI: one case for the run, one for each rule; valid against the widespread junit-10 schema.
//!
//! Cases fail or err exactly when the run's exit code is not 0. The writing crate escapes markup but writes forbidden
//! characters and `]]>` as they are, so all text goes through our own filter first. What it can't write (properties)
//! stands in the run's `system-out`.

use super::cautions::CAUTIONS;
use super::screen::found;
use super::screen::replay_command;
use super::verdict;
use super::visible::cut;
use super::visible::line;
use super::visible::xml;
use super::words;
use crate::outcome::Outcome;
use crate::outcome::Report;
use crate::outcome::RuleOutcome;
use junit_report::Duration;
use junit_report::OffsetDateTime;
use junit_report::ReportBuilder;
use junit_report::TestCase;
use junit_report::TestCaseBuilder;
use junit_report::TestSuiteBuilder;
use std::collections::BTreeSet;
use std::io;

/// CI servers show a message in one line of a table.
const MOST_MESSAGE_CHARS: usize = 1000;
/// Servers cut or refuse longer text; the drive files hold the rest.
const MOST_BODY_BYTES: usize = 16 * 1024;

/// The file. `stamp_s` is the time written into it, seconds since 1970: set by the caller, never the clock.
///
/// # Errors
/// When the text can't be written, or the time is out of all bounds.
pub fn junit(report: &Report, interrupted: bool, stamp_s: i64) -> io::Result<String> {
    let stamp = OffsetDateTime::from_unix_timestamp(stamp_s)
        .ok()
        .filter(|t| (1..=9999).contains(&t.year()))
        .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, format!("{stamp_s} s is no time stamp")))?;
    let class = format!("sprag.{}", segment(&report.spec));
    let mut names = BTreeSet::new();
    let mut suite = TestSuiteBuilder::new(&class);
    suite.set_timestamp(stamp);
    suite.testsuite.package.clone_from(&class);
    suite.add_testcase(run_case(report, interrupted, &class));
    names.insert("the run".to_owned());
    for row in &report.rules {
        let name = unique(&mut names, &line(row.card.name));
        suite.add_testcase(rule_case(report, row, &class, &name));
    }
    suite.set_system_out(&cdata(&properties(report)));
    let mut bytes = Vec::new();
    ReportBuilder::new().add_testsuite(suite.build()).build().write_xml(&mut bytes).map_err(io::Error::other)?;
    bytes.push(b'\n');
    String::from_utf8(bytes).map_err(io::Error::other)
}

/// The whole run as a case: it carries the simulated time, and errs when nothing can be claimed at all.
fn run_case(report: &Report, interrupted: bool, class: &str) -> TestCase {
    // The schema allows three decimals and the crate prints a binary fraction in full: eighths of a second are exact.
    let eighths = i64::try_from(report.simulated_ms / 125).unwrap_or(0);
    let time = Duration::milliseconds(eighths.saturating_mul(125));
    let name = "the run";
    let mut case = if let Some(why) = &report.unfit {
        TestCaseBuilder::error(name, time, "rig unfit", &message(why))
    } else if interrupted {
        TestCaseBuilder::error(name, time, "interrupted", "the run was ended early: no outcome is one of the whole run")
    } else if report.drives.all() == 0 {
        TestCaseBuilder::error(name, time, "nothing ran", "no drive was driven")
    } else {
        TestCaseBuilder::success(name, time)
    };
    case.set_classname(class);
    case.set_system_out(&cdata(&verdict::sentence(report, interrupted)));
    case.build()
}

fn rule_case(report: &Report, row: &RuleOutcome, class: &str, name: &str) -> TestCase {
    let why = row.outcome.why();
    let word = row.outcome.word();
    let mut case = match &row.outcome {
        _ if report.unfit.is_some() => {
            TestCaseBuilder::error(name, Duration::ZERO, "rig unfit", "the rig is unfit: nothing is claimed")
        }
        Outcome::Kept => TestCaseBuilder::success(name, Duration::ZERO),
        Outcome::Broken if verdict::is_minor_break(row) => {
            TestCaseBuilder::skipped_with_cause(name, "broken, minor", &message(&broken_message(report, row)))
        }
        Outcome::Broken => TestCaseBuilder::failure(name, Duration::ZERO, word, &message(&broken_message(report, row))),
        Outcome::TooClose | Outcome::NotReproducible => {
            TestCaseBuilder::error(name, Duration::ZERO, word, &message(&broken_message(report, row)))
        }
        Outcome::DependsOnData(_) | Outcome::NotReached(_) => {
            TestCaseBuilder::error(name, Duration::ZERO, word, &message(&format!("{word}: {why}")))
        }
        Outcome::SignalLimit
        | Outcome::CantJudge(_)
        | Outcome::DoesNotApply(_)
        | Outcome::SwitchedOff(_)
        | Outcome::Waived(_)
        | Outcome::Consequence(_) => {
            let colon = if why.is_empty() { "" } else { ": " };
            TestCaseBuilder::skipped_with_cause(name, word, &message(&format!("{word}{colon}{why}")))
        }
    };
    let body = body(report, row);
    if !body.is_empty() {
        case.set_trace(&cdata(&body));
    }
    case.set_classname(class);
    case.set_system_out(&cdata(&details(row)));
    case.build()
}

/// What happened the first time, in one line.
fn broken_message(report: &Report, row: &RuleOutcome) -> String {
    let first = report.moments.iter().flat_map(|m| &m.broken).find(|b| b.card.name == row.card.name);
    let margin = row.smallest.as_ref().map_or(String::new(), |(basis, mark, drive)| {
        format!("smallest margin {} {} ({}, drive {drive})", words::margin(mark.margin), row.card.unit, basis.word())
    });
    match first {
        Some(broken) => format!("{} {margin}", broken.says),
        None => format!("{}: {margin}", row.outcome.word()),
    }
}

/// Each failing moment of the rule.
fn body(report: &Report, row: &RuleOutcome) -> String {
    let mut text = String::new();
    for moment in report.moments.iter().filter(|m| m.broken.iter().any(|b| b.card.name == row.card.name)) {
        // The command first: servers cut the end.
        text.push_str(&format!("in this folder: {}\n", replay_command(moment, None)));
        for broken in moment.broken.iter().filter(|b| b.card.name == row.card.name) {
            text.push_str(&format!(
                "{} (margin {} {}, {}, at {})\n",
                broken.says,
                words::margin(broken.mark.margin),
                broken.card.unit,
                broken.basis.word(),
                words::seconds(broken.mark.at_ms)
            ));
        }
        text.push_str(&format!("{}\nfound {}\n", moment.blame.says(), found(moment)));
        for step in &moment.lines {
            text.push_str(&format!("  {step}\n"));
        }
        text.push('\n');
    }
    text
}

/// What the rule asks, and how often it was asked.
fn details(row: &RuleOutcome) -> String {
    let mut text = format!(
        "outcome: {}\nrule: {}\nhazard: {}\nversion: {}\n",
        row.outcome.word(),
        row.card.sentence,
        row.card.hazard,
        row.card.version
    );
    if let Some((basis, mark, drive)) = &row.smallest {
        text.push_str(&format!(
            "smallest margin: {} {} ({}, at {} of drive {drive})\n",
            words::margin(mark.margin),
            row.card.unit,
            basis.word(),
            words::seconds(mark.at_ms)
        ));
    }
    for (situation, reached) in row.card.situations.iter().zip(&row.reached) {
        text.push_str(&format!("reached: {} {reached} (at least {})\n", situation.name, situation.least));
    }
    text.push_str(&format!("drives: {}\nclose: {}\nexcused: {}\n", row.drives, row.close, row.excused));
    text
}

fn properties(report: &Report) -> String {
    let mut text = format!(
        "spec: {}\nspec sha256: {}\nvehicle: {}\ncontroller: {}\nrun: {}\nseed: {}\nversions: {}\ntool: {}\n\
         drives: {} manoeuvre, {} random, {} search, {} event order, {} saved\nsimulated: {} ms\nexit code: {}\n",
        report.spec,
        report.spec_digest,
        report.vehicle,
        report.controller,
        report.run,
        report.seed,
        report.versions,
        super::results::TOOL,
        report.drives.manoeuvre,
        report.drives.random,
        report.drives.search,
        report.drives.orders,
        report.drives.saved,
        report.simulated_ms,
        report.exit() as u8
    );
    for caution in CAUTIONS {
        text.push_str(&format!("caution: {caution}\n"));
    }
    text
}

/// An attribute's text: one line, not too long.
fn message(text: &str) -> String {
    let text = line(text.trim());
    if text.chars().count() <= MOST_MESSAGE_CHARS {
        return text;
    }
    let kept: String = text.chars().take(MOST_MESSAGE_CHARS - 3).collect();
    format!("{kept}...")
}

/// Text for a CDATA section, which the crate opens and closes: `]]>` would close it early.
fn cdata(text: &str) -> String {
    cut(&xml(text), MOST_BODY_BYTES).replace("]]>", "]]]]><![CDATA[>")
}

/// A part of a class name: servers split it at dots.
fn segment(text: &str) -> String {
    line(text).replace('.', "_")
}

/// Some servers keep only the first of two cases of one name.
fn unique(names: &mut BTreeSet<String>, name: &str) -> String {
    let mut candidate = name.to_owned();
    let mut number = 2;
    while !names.insert(candidate.clone()) {
        candidate = format!("{name} ({number})");
        number += 1;
    }
    candidate
}

#[cfg(test)]
#[path = "junit_tests.rs"]
mod tests;
