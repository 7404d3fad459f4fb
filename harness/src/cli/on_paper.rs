//! What the map's checks say, as a screen; and the cured map as a file.

use super::exit::Failure;
use super::out;
use crate::desk::CHECKS;
use crate::desk::Cured;
use crate::desk::Desk;
use crate::desk::Finding;
use crate::desk::Severity;
use crate::evidence::WIDTH;
use crate::evidence::line;
use crate::evidence::wrap;
use crate::outcome::Exit;
use crate::spec;
use crate::spec::written::WrittenMap;
use crate::units::Percent;
use std::path::Path;

/// So many findings of each gravity are shown.
const MOST_FINDINGS: usize = 30;

/// One line a check; then, with the pedal positions of the map, what was found, then how much of it can be cured.
pub fn screen(desk: &Desk, pedal: &[Percent], cured: Option<&Cured>) -> String {
    let mut text = verdict(desk) + "\n\n";
    for row in &desk.rows {
        let head = format!("{:>2} {:<25}{:<12}", row.check.number, row.check.name, row.word());
        for (at, part) in wrap(&line(&row.worst), 0, WIDTH - 40).into_iter().enumerate() {
            let shown = if at == 0 { format!("{head}{part}") } else { format!("{:40}{part}", "") };
            text.push_str(shown.trim_end());
            text.push('\n');
        }
    }
    for severity in [Severity::Fails, Severity::Warns, Severity::Reported] {
        let found: Vec<&Finding> = desk.findings.iter().filter(|f| f.severity == severity).collect();
        if found.is_empty() {
            continue;
        }
        text.push_str(match severity {
            Severity::Fails => "\nFails:\n",
            Severity::Warns => "\nWarns:\n",
            Severity::Reported => "\nReported:\n",
        });
        for finding in found.iter().take(MOST_FINDINGS) {
            text.push_str(&shown(finding, pedal));
        }
        if found.len() > MOST_FINDINGS {
            text.push_str(&format!("  and {} more\n", found.len() - MOST_FINDINGS));
        }
    }
    if let Some(cured) = cured.filter(|_| desk.fails()) {
        text.push('\n');
        text.push_str(&all_cures(cured));
    }
    text
}

fn verdict(desk: &Desk) -> String {
    let count = |severity| desk.rows.iter().filter(|r| r.gravest == Some(severity)).count();
    let (fails, warns) = (count(Severity::Fails), count(Severity::Warns));
    match (fails, warns) {
        (0, 0) => "The map on paper: nothing fails.".to_owned(),
        (0, _) => format!("The map on paper: nothing fails, {warns} of {} checks warn.", CHECKS.len()),
        _ => format!("The map on paper: {fails} of {} checks fail, {warns} warn.", CHECKS.len()),
    }
}

/// A finding in three parts: where, what, and what would cure it.
fn shown(finding: &Finding, pedal: &[Percent]) -> String {
    let name = CHECKS.iter().find(|c| c.number == finding.check).map_or("", |c| c.name);
    let mut text = format!("  {} {name}", finding.check);
    if !finding.place.is_empty() {
        text.push_str(&format!(", {}", line(&finding.place)));
    }
    text.push('\n');
    let mut says = finding.says.clone();
    for (at, cure) in finding.cures.iter().enumerate() {
        says.push_str(if at == 0 { "; cure: " } else { " and " });
        says.push_str(&cure.speed.to_string());
        if (cure.from, cure.to, cure.position) != (finding.line.0, finding.line.1, finding.position) {
            let pedal = pedal.get(cure.position).map_or(0.0, |p| p.0);
            says.push_str(&format!(" for {}>{} at {pedal} %", cure.from, cure.to));
        }
    }
    for part in wrap(&line(&says), 4, WIDTH) {
        text.push_str(&part);
        text.push('\n');
    }
    text
}

fn all_cures(cured: &Cured) -> String {
    let changed = cured.speeds.len();
    let left: Vec<&str> =
        cured.desk.rows.iter().filter(|r| r.gravest == Some(Severity::Fails)).map(|r| r.check.name).collect();
    let says = if left.is_empty() {
        format!("All failures are cured by changing {changed} speeds; --write-map FILE writes the map with them.")
    } else {
        format!("Changing {changed} speeds cures what the map alone can cure; still failing: {}.", left.join(", "))
    };
    wrap(&says, 0, WIDTH).join("\n") + "\n"
}

/// Writes the cured map, once it has been read again and found to be the one that was checked.
pub fn write_map(path: &Path, written: &WrittenMap, cured: &Cured, file: &Path) -> Result<String, Failure> {
    let kind = |path: &Path| path.extension().map(std::ffi::OsStr::to_ascii_lowercase);
    if kind(file) != kind(Path::new(&written.file)) {
        let says = format!("{} must end as {} does: the map keeps its layout", file.display(), written.file);
        return Err(Failure::new(Exit::Usage, says));
    }
    let text = written.with(&cured.speeds);
    let again = spec::load_with_map(path, written, &text).map_err(|errors| {
        Failure::new(Exit::OurBug, format!("the cured map can't be read again, please report it: {errors}"))
    })?;
    if again.0.map != cured.spec.map {
        return Err(Failure::new(Exit::OurBug, "the cured map reads otherwise than it was checked, please report it"));
    }
    out::write(file, &text)?;
    Ok(format!("Cured map: {}, {} speeds changed\n", file.display(), cured.speeds.len()))
}
