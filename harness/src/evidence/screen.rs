//! One screen of text: the verdict, the failing moments, the table, what stays open.

use super::cautions::BENCH;
use super::cautions::SHORT_CAUTION;
use super::folder::drive_path;
use super::terms;
use super::verdict;
use super::visible::line;
use super::words;
use crate::outcome::Basis;
use crate::outcome::Moment;
use crate::outcome::Outcome;
use crate::outcome::Report;
use crate::outcome::RuleOutcome;
use crate::outcome::Severity;

/// No line is longer than this many characters, but for commands that are to be copied.
pub const WIDTH: usize = 120;
/// So many failing moments are shown in full; the rest stand in the evidence folder.
const MOST_MOMENTS: usize = 5;
/// So many lines of one drive are shown.
const MOST_LINES: usize = 14;

/// How a screen is shown.
#[derive(Debug, Clone, Copy, Default)]
pub struct Look<'a> {
    /// Where the evidence stands, for the commands to copy.
    pub folder: Option<&'a str>,
    /// Colour helps; every word stands without it.
    pub colour: bool,
    /// The run was ended early.
    pub interrupted: bool,
}

/// Everything a person needs first.
#[must_use]
pub fn screen(report: &Report, look: &Look<'_>) -> String {
    let Look { folder, colour, interrupted } = *look;
    let mut out = String::new();
    let paint = |text: &str, outcome: Option<&Outcome>| match outcome {
        Some(outcome) if colour => format!("\u{1b}[{}m{text}\u{1b}[0m", ansi(outcome)),
        _ => text.to_owned(),
    };
    let head = match report.exit() {
        crate::outcome::Exit::Kept if !interrupted => Outcome::Kept,
        crate::outcome::Exit::Broken | crate::outcome::Exit::NotStarted => Outcome::Broken,
        _ => Outcome::TooClose,
    };
    for text in wrap(&line(&verdict::sentence(report, interrupted)), 0, WIDTH) {
        put(&mut out, &paint(&text, Some(&head)));
    }
    let tested = format!(
        "Spec {}, vehicle {}, run {}, controller {}.",
        line(&report.spec),
        line(&report.vehicle),
        line(&report.run),
        line(&report.controller)
    );
    put_all(&mut out, wrap(&tested, 0, WIDTH));

    let failing: Vec<&Moment> = report.moments.iter().filter(|m| is_failing(m)).collect();
    for (at, moment) in failing.iter().enumerate().take(MOST_MOMENTS) {
        put(&mut out, "");
        let title = format!("Failing moment {} of {}: {}", at + 1, failing.len(), moment.outcome.word());
        put(&mut out, &paint(&title, Some(&moment.outcome)));
        put_all(&mut out, moment_lines(moment, folder, terms::ended(report, moment)));
    }
    if failing.len() > MOST_MOMENTS {
        put(&mut out, "");
        put(&mut out, &format!("And {} more failing moments, in summary.md.", failing.len() - MOST_MOMENTS));
    }

    put(&mut out, "");
    for (text, outcome) in table(report) {
        put(
            &mut out,
            &paint(
                &text,
                outcome.filter(|o| !matches!(o, Outcome::Kept | Outcome::DoesNotApply(_) | Outcome::SwitchedOff(_))),
            ),
        );
    }
    if report.engagement_by_commands {
        put(&mut out, "Engagement judged by commands: the box shows no flag and announces nothing.");
    }
    if report.drives.random == 0 && !report.straying.is_empty() {
        put(&mut out, "");
        put(&mut out, "Followed (how far the driver strayed, at most and root mean square):");
        for s in &report.straying {
            put(&mut out, &format!("  {}: {:.1} km/h, {:.2} km/h", line(&s.name), s.most_kmh, s.rms_kmh));
        }
    }
    for (title, word) in LISTS {
        let rows: Vec<&RuleOutcome> = report.rules.iter().filter(|r| r.outcome.word() == word).collect();
        if rows.is_empty() {
            continue;
        }
        put(&mut out, "");
        put(&mut out, title);
        for row in rows {
            let why = row.outcome.why();
            let colon = if why.is_empty() { "" } else { ": " };
            put_all(&mut out, wrap(&format!("{}{colon}{}", row.card.name, line(why)), 2, WIDTH));
            // The failing ones stand above; a residual risk is named here with one drive that shows it.
            let shows = |m: &&Moment| m.outcome.word() == word && !is_failing(m);
            let first = report
                .moments
                .iter()
                .filter(shows)
                .find_map(|m| m.broken.iter().find(|b| b.card.name == row.card.name).map(|broken| (m, broken)));
            if let Some((moment, broken)) = first {
                put_all(&mut out, wrap(&line(&broken.says), 4, WIDTH));
                put(&mut out, &format!("    {}", replay_command(moment, folder)));
            }
        }
    }
    for section in terms::sections(report) {
        put(&mut out, "");
        put(&mut out, &section.title);
        for (entry, moment) in section.entries {
            put_all(&mut out, wrap(&entry, 2, WIDTH));
            if let Some(moment) = moment {
                put(&mut out, &format!("    {}", replay_command(moment, folder)));
            }
        }
    }
    let minor: Vec<&str> = report.rules.iter().filter(|r| verdict::is_minor_break(r)).map(|r| r.card.name).collect();
    if !minor.is_empty() {
        put(&mut out, "");
        put_all(&mut out, wrap(&format!("Broken, but minor and so reported only: {}.", minor.join(", ")), 0, WIDTH));
    }
    put(&mut out, "");
    if let Some(claim) = verdict::claim(report, interrupted) {
        put_all(&mut out, wrap(&claim, 0, WIDTH));
    }
    put_all(&mut out, wrap(&format!("Left for bench and vehicle: {BENCH}. {SHORT_CAUTION}"), 0, WIDTH));
    out
}

/// What stays open, in the order in which it matters.
const LISTS: [(&str, &str); 7] = [
    ("Too close to call on what the vehicle did:", "too close"),
    ("Depends on data:", "depends on data"),
    ("Not reproducible (broken once, kept when driven again):", "not reproducible"),
    ("Not reached:", "not reached"),
    ("Can't judge:", "can't judge"),
    ("Signal limits (broken in truth, by the reference too, with no fault in what the box read):", "signal limit"),
    ("Consequences of another broken rule, not counted:", "consequence"),
];

/// Whether a moment counts against the build: signal limits and consequences are listed only.
pub fn is_failing(moment: &Moment) -> bool {
    matches!(moment.outcome, Outcome::Broken | Outcome::TooClose | Outcome::DependsOnData(_) | Outcome::NotReproducible)
}

/// What happened, whose fault, the drive, and the command that shows it again.
fn moment_lines(moment: &Moment, folder: Option<&str>, waiver: Option<String>) -> Vec<String> {
    let mut lines = Vec::new();
    let mut named = |name: &str, text: &str| {
        for (at, part) in wrap(text, 0, WIDTH - 12).into_iter().enumerate() {
            lines.push(format!("  {:<10}{part}", if at == 0 { name } else { "" }));
        }
    };
    for (at, broken) in moment.broken.iter().enumerate() {
        let view = match broken.basis {
            Basis::Seen => "on what the box read and did",
            Basis::True => "on what the vehicle did",
        };
        named("rule", &format!("{}: {}", broken.card.name, line(&broken.says)));
        let margin = format!(
            "margin {} {} {view}, at {} of this drive",
            words::margin(broken.mark.margin),
            broken.card.unit,
            words::seconds(broken.mark.at_ms)
        );
        named("", &margin);
        // Of several rules broken by one command each fault is named once.
        if at == 0 || broken.blame != moment.blame {
            named("fault", &line(&broken.blame.says()));
        }
        if let Some(cause) = broken.cause.filter(|_| broken.card.severity != Severity::Critical) {
            named("cause", &format!("{cause}, as a waiver would name it"));
        }
    }
    if let Some(waiver) = waiver {
        named("waiver", &waiver);
    }
    for (at, step) in moment.lines.iter().take(MOST_LINES).enumerate() {
        named(if at == 0 { "drive" } else { "" }, &line(step));
    }
    if moment.lines.len() > MOST_LINES {
        named("", &format!("and {} more lines, in the file", moment.lines.len() - MOST_LINES));
    }
    if !moment.breaks_with.is_empty() {
        named("breaks", &line(&format!("with {}", moment.breaks_with.join("; "))));
    }
    named("found", &found(moment));
    // A command is to be copied: never wrapped.
    lines.push(format!("  {:<10}{}", "replay", replay_command(moment, folder)));
    lines
}

/// From which drive, and how far it was shrunk.
pub fn found(moment: &Moment) -> String {
    let size = |(steps, events, ms): (usize, usize, u32)| {
        format!(
            "{}, {}, {}",
            words::counted(steps as u64, "step"),
            words::counted(events as u64, "event"),
            words::seconds(ms)
        )
    };
    let drive = line(&moment.drive);
    if moment.size == moment.raw_size {
        return format!("in drive {drive} ({})", size(moment.size));
    }
    format!(
        "in drive {drive} ({}), shrunk to {} with {}{}",
        size(moment.raw_size),
        size(moment.size),
        words::counted(u64::from(moment.shrink_drives), "drive"),
        if moment.stopped_by_budget { "; the budget ended it" } else { "" }
    )
}

/// The one command that shows a moment again.
pub fn replay_command(moment: &Moment, folder: Option<&str>) -> String {
    let path = drive_path(&moment.file);
    let path = folder.map_or_else(|| path.clone(), |folder| format!("{}/{path}", folder.trim_end_matches('/')));
    format!("sprag replay {}", shell_word(&path))
}

/// The rule table; each line with the outcome that colours it.
fn table(report: &Report) -> Vec<(String, Option<&Outcome>)> {
    let mut rows =
        vec![(["rule", "outcome", "smallest margin", "judged on", "reached", "close"].map(String::from), None)];
    for row in &report.rules {
        let (margin, judged_on) = row.smallest.as_ref().map_or_else(
            || ("-".to_owned(), "-".to_owned()),
            |(basis, mark, _)| (format!("{} {}", words::margin(mark.margin), row.card.unit), basis.word().to_owned()),
        );
        let reached = row.rarest.map_or_else(|| "-".to_owned(), |n| words::count(u64::from(n)));
        let close = if row.reached.is_empty() { "-".to_owned() } else { words::count(u64::from(row.close)) };
        let outcome = row.outcome.word().to_owned();
        rows.push(([row.card.name.to_owned(), outcome, margin, judged_on, reached, close], Some(&row.outcome)));
    }
    let mut widths = [0; 6];
    for (cells, _) in &rows {
        for (width, cell) in widths.iter_mut().zip(cells) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut lines: Vec<(String, Option<&Outcome>)> = rows
        .into_iter()
        .map(|(cells, outcome)| {
            let mut text = String::new();
            for (at, (cell, width)) in cells.iter().zip(widths).enumerate() {
                let gap = if at == 0 { "" } else { "  " };
                // Words to the left, numbers to the right.
                text.push_str(&if matches!(at, 2 | 4 | 5) {
                    format!("{gap}{cell:>width$}")
                } else {
                    format!("{gap}{cell:<width$}")
                });
            }
            (text.trim_end().to_owned(), outcome)
        })
        .collect();
    lines.push(("reached: how often the rarest came of the situations that the run must come to".to_owned(), None));
    lines
}

fn ansi(outcome: &Outcome) -> &'static str {
    match outcome {
        Outcome::Kept => "32",
        Outcome::Broken => "31",
        Outcome::TooClose | Outcome::DependsOnData(_) | Outcome::NotReproducible | Outcome::NotReached(_) => "33",
        Outcome::SignalLimit | Outcome::CantJudge(_) | Outcome::Consequence(_) => "36",
        Outcome::Waived(_) => "33",
        Outcome::DoesNotApply(_) | Outcome::SwitchedOff(_) => "2",
    }
}

fn put(out: &mut String, text: &str) {
    out.push_str(text);
    out.push('\n');
}

fn put_all(out: &mut String, lines: Vec<String>) {
    for text in lines {
        put(out, &text);
    }
}

/// Breaks text at blanks; lines after the first are two further in. A word longer than a line is broken too.
#[must_use]
pub fn wrap(text: &str, indent: usize, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut current = " ".repeat(indent);
    let mut filled = indent;
    let mut fresh = true;
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        let mut rest: Vec<char> = word.chars().collect();
        let gap = usize::from(!fresh);
        if !fresh && filled + gap + rest.len() > width {
            lines.push(std::mem::replace(&mut current, " ".repeat(indent + 2)));
            filled = indent + 2;
            fresh = true;
        }
        if !fresh {
            current.push(' ');
            filled += 1;
        }
        while filled + rest.len() > width && width > filled {
            let tail = rest.split_off(width - filled);
            current.extend(rest);
            lines.push(std::mem::replace(&mut current, " ".repeat(indent + 2)));
            filled = indent + 2;
            rest = tail;
        }
        filled += rest.len();
        current.extend(rest);
        fresh = false;
    }
    if !fresh || lines.is_empty() {
        lines.push(current.trim_end().to_owned());
    }
    lines
}

/// A word as a shell takes it.
#[must_use]
pub fn shell_word(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "._/-+@%,:=".contains(c);
    if !text.is_empty() && text.chars().all(plain) {
        text.to_owned()
    } else {
        format!("'{}'", text.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
#[path = "screen_tests.rs"]
mod tests;
