//! `summary.md`: the report as a page for a forge's job summary, the worst first.

use super::cautions::BENCH;
use super::cautions::CAUTIONS;
use super::screen::found;
use super::screen::is_failing;
use super::screen::replay_command;
use super::terms;
use super::verdict;
use super::visible::line;
use super::words;
use crate::outcome::Moment;
use crate::outcome::Report;
use std::fmt::Write;

/// Forges drop a summary above 1 MiB, some without a word.
const MOST_BYTES: usize = 900 * 1024;
/// More failing moments than a person reads on one page.
const MOST_MOMENTS: usize = 50;

/// The page.
#[must_use]
pub fn summary(report: &Report, interrupted: bool) -> String {
    let mut out = format!("# {}\n\n", text(&verdict::sentence(report, interrupted)));
    let mut put = |line: String| {
        // Lines stay far below the gap between this limit and the forge's.
        if out.len() + line.len() < MOST_BYTES {
            out.push_str(&line);
            out.push('\n');
        }
    };
    put(format!(
        "Spec {}, vehicle {}, run {}, controller {}; {}.\n",
        text(&report.spec),
        text(&report.vehicle),
        text(&report.run),
        text(&report.controller),
        text(&report.versions)
    ));
    let failing: Vec<&Moment> = report.moments.iter().filter(|m| is_failing(m)).collect();
    for (at, moment) in failing.iter().enumerate().take(MOST_MOMENTS) {
        put(format!("## Failing moment {} of {}: {}\n", at + 1, failing.len(), moment.outcome.word()));
        put(moment_text(moment));
        if let Some(waiver) = terms::ended(report, moment) {
            put(format!("Waiver: {}.\n", text(&waiver)));
        }
    }
    if failing.len() > MOST_MOMENTS {
        put(format!("{} more failing moments stand in `results.json`.\n", failing.len() - MOST_MOMENTS));
    }
    let listed: Vec<&Moment> = report.moments.iter().filter(|m| !is_failing(m)).collect();
    if !listed.is_empty() {
        put("## Listed, not counted\n".to_owned());
    }
    for moment in listed.iter().take(MOST_MOMENTS) {
        let why = moment.outcome.why();
        let colon = if why.is_empty() { "" } else { ": " };
        put(format!("{}{colon}{}\n", moment.outcome.word(), text(why)));
        put(moment_text(moment));
    }
    if listed.len() > MOST_MOMENTS {
        put(format!("{} more stand in `results.json`.\n", listed.len() - MOST_MOMENTS));
    }
    for section in terms::sections(report) {
        put(format!("## {}\n", section.title.trim_end_matches(':')));
        for (entry, _) in section.entries {
            put(format!("- {}", text(&entry)));
        }
        put(String::new());
    }
    put("## Rules\n".to_owned());
    put("| rule | severity | outcome | smallest margin | judged on | reached (least) | drives | close | excused |"
        .to_owned());
    put("|---|---|---|--:|---|---|--:|--:|--:|".to_owned());
    for row in &report.rules {
        let (margin, judged_on) = row.smallest.as_ref().map_or_else(
            || ("-".to_owned(), "-"),
            |(basis, mark, _)| (format!("{} {}", words::margin(mark.margin), row.card.unit), basis.word()),
        );
        let reached: Vec<String> = row
            .card
            .situations
            .iter()
            .zip(&row.reached)
            .map(|(s, n)| format!("{}: {} ({})", s.name, words::count(u64::from(*n)), s.least))
            .collect();
        let why = if row.outcome.why().is_empty() { String::new() } else { format!(": {}", row.outcome.why()) };
        let severity = format!("{:?}", row.card.severity).to_lowercase();
        put(format!(
            "| {} | {severity} | {}{} | {margin} | {judged_on} | {} | {} | {} | {} |",
            text(row.card.name),
            row.outcome.word(),
            text(&why),
            text(&reached.join(", ")),
            row.drives,
            row.close,
            row.excused
        ));
    }
    if report.engagement_by_commands {
        put("\nEngagement judged by commands: the box shows no flag and announces nothing.".to_owned());
    }
    put("\n## What this says and what it doesn't\n".to_owned());
    if let Some(claim) = verdict::claim(report, interrupted) {
        put(format!("{claim}\n"));
    }
    put(format!("Left for bench and vehicle: {BENCH}.\n"));
    for caution in CAUTIONS {
        put(format!("- {caution}"));
    }
    out
}

fn moment_text(moment: &Moment) -> String {
    let mut out = String::new();
    for broken in &moment.broken {
        let _ = writeln!(
            out,
            "- {}: {} (margin {} {}, {}, at {})",
            text(broken.card.name),
            text(&broken.says),
            words::margin(broken.mark.margin),
            broken.card.unit,
            broken.basis.word(),
            words::seconds(broken.mark.at_ms)
        );
    }
    let _ = writeln!(out, "- {}", text(&moment.blame.says()));
    for broken in moment.broken.iter().filter(|b| b.blame != moment.blame) {
        let _ = writeln!(out, "- {}: {}", text(broken.card.name), text(&broken.blame.says()));
    }
    for broken in &moment.broken {
        if let Some(cause) = broken.cause {
            let _ = writeln!(out, "- failing cause of {}: {cause}", text(broken.card.name));
        }
    }
    let _ = writeln!(out, "- found {}\n", text(&found(moment)));
    // Indented text is a block of its own only after a paragraph; straight after a list it would belong to the list.
    let _ = writeln!(out, "The drive:\n");
    for step in &moment.lines {
        let _ = writeln!(out, "    {}", line(step));
    }
    if !moment.breaks_with.is_empty() {
        let _ = writeln!(out, "\nIt breaks, each number by itself, with\n");
        for span in &moment.breaks_with {
            let _ = writeln!(out, "- {}", text(span));
        }
    }
    let _ = writeln!(out, "\nIn this folder:\n\n    {}\n", replay_command(moment, None));
    out
}

/// Text from outside that may neither mark up the page nor end a cell.
fn text(raw: &str) -> String {
    let mut out = String::with_capacity(raw.len());
    for c in line(raw).chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '&' => out.push_str("&amp;"),
            '|' | '*' | '_' | '`' | '[' | ']' | '\\' | '#' | '~' => {
                out.push('\\');
                out.push(c);
            }
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;

    #[test]
    fn the_page_begins_with_the_verdict_and_the_failing_moment() {
        let wanted = "# BROKEN: 1 rule at 1 failing moment in 2,143 drives, 61.3 simulated hours (seed 1).

Spec van, vehicle invented van, run commit, controller builtin:reference; vehicle 1, rules 1, generators 1.

## Failing moment 1 of 1: broken

- engagement speed ceiling: The box engaged at 48 km/h; the ceiling is 40 km/h. (margin -8 km/h, seen, at 3.42 s)
";
        let page = summary(&example::broken(), false);
        assert!(page.starts_with(wanted), "{page}");
        assert!(page.contains("\n    sprag replay drives/ceiling-1.toml\n"));
        assert!(page.contains("| engagement speed ceiling | critical | broken | -8 km/h | seen | engaged: 40 (10), "));
    }

    #[test]
    fn a_name_from_outside_marks_nothing_up() {
        let mut report = example::kept();
        report.controller = "cmd:<img src=x> | `a` [b](c)\n# Nothing broken".into();
        let page = summary(&report, false);
        assert!(page.contains("cmd:&lt;img src=x> \\| \\`a\\` \\[b\\](c)\\\\u{a}\\# Nothing broken"), "{page}");
    }

    #[test]
    fn the_page_stays_below_what_forges_show() {
        let mut report = example::broken();
        report.moments[0].lines = vec!["y".repeat(50_000)];
        report.moments = vec![report.moments[0].clone(); 200];
        let page = summary(&report, false);
        assert!(page.len() < MOST_BYTES, "{}", page.len());
        assert!(page.contains("## Rules"));
    }
}
