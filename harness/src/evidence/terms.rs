//! What narrows 'kept' by agreement, as screen and page list it: four different things under four headings.

use super::visible::line;
use crate::outcome::Moment;
use crate::outcome::Outcome;
use crate::outcome::Report;
use crate::outcome::WaiverRow;
use crate::outcome::WaiverState;

/// A heading, and what stands under it.
pub struct Section<'a> {
    /// The heading.
    pub title: String,
    /// The entries; a waived failure comes with the moment that shows it.
    pub entries: Vec<(String, Option<&'a Moment>)>,
}

/// Waivers, rules switched off, rules removed by a fact, limits loosened; only those that there are.
pub fn sections(report: &Report) -> Vec<Section<'_>> {
    let terms = &report.terms;
    let since = terms.baseline.as_ref().map_or("the defaults".to_owned(), |name| format!("those of {}", line(name)));
    let new = |new: Option<bool>| if new == Some(true) { " (new since the baseline)" } else { "" };
    let waivers = |states: &[WaiverState]| {
        let rows = terms.waivers.iter().filter(|w| states.contains(&w.state));
        rows.map(|w| {
            let text = format!("{}, {}: {}", line(&w.rule), line(&w.cause), line(&w.says()));
            (text, report.moments.iter().find(|m| covers(w, m)))
        })
        .collect::<Vec<_>>()
    };
    let day = terms.as_of.map_or(String::new(), |day| format!(" on {day}"));
    let all = [
        (format!("Waived{day} (broken, and let pass for a time):"), waivers(&[WaiverState::Covers])),
        (format!("Waivers that cover nothing{day}:"), waivers(&[WaiverState::Ended, WaiverState::NotNeeded])),
        (
            "Switched off in the spec, not judged:".to_owned(),
            terms.off.iter().map(|o| (format!("{}{}: {}", line(&o.rule), new(o.new), line(&o.reason)), None)).collect(),
        ),
        (
            "Does not apply, by a declared fact or by the manoeuvres chosen:".to_owned(),
            report
                .rules
                .iter()
                .filter(|row| matches!(row.outcome, Outcome::DoesNotApply(_)))
                .map(|row| (format!("{}: {}", row.card.name, line(row.outcome.why())), None))
                .collect(),
        ),
        (
            format!("Limits looser than {since}:"),
            terms
                .loosened
                .iter()
                .map(|l| (format!("{}: from {} to {}", l.name, line(&l.from), line(&l.to)), None))
                .collect(),
        ),
    ];
    all.into_iter()
        .filter(|(_, entries)| !entries.is_empty())
        .map(|(title, entries)| Section { title, entries })
        .collect()
}

/// Whether a waiver covers a moment.
fn covers(waiver: &WaiverRow, moment: &Moment) -> bool {
    matches!(moment.outcome, Outcome::Waived(_)) && names(waiver, moment)
}

/// Whether a waiver names the rule and the failing cause of a moment.
fn names(waiver: &WaiverRow, moment: &Moment) -> bool {
    moment
        .broken
        .iter()
        .any(|b| b.card.name == waiver.rule && b.cause.is_some_and(|cause| cause.to_string() == waiver.cause))
}

/// The waiver of a failing moment that has run out, said.
pub fn ended(report: &Report, moment: &Moment) -> Option<String> {
    let waiver = report.terms.waivers.iter().find(|w| w.state == WaiverState::Ended && names(w, moment))?;
    Some(format!("its waiver {}", line(&waiver.says())))
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;
    use crate::date::Date;
    use crate::outcome::Loosened;
    use crate::outcome::OffRow;

    fn waiver(state: WaiverState) -> WaiverRow {
        WaiverRow {
            rule: "engagement speed ceiling".into(),
            cause: "build, engaging".into(),
            reason: "bench only".into(),
            role: "release manager".into(),
            expires: Date::parse("2026-11-30").unwrap(),
            state,
            new: None,
        }
    }

    #[test]
    fn the_four_stand_apart() {
        let mut report = example::broken();
        report.moments[0].outcome = Outcome::Waived("x".into());
        report.terms.as_of = Some(Date::parse("2026-11-25").unwrap());
        report.terms.waivers = vec![waiver(WaiverState::Covers), waiver(WaiverState::NotNeeded)];
        report.terms.off = vec![OffRow { rule: "busy-ness".into(), reason: "taxi".into(), new: Some(true) }];
        report.terms.loosened =
            vec![Loosened { name: "tap-release".into(), from: "100 ms".into(), to: "150 ms".into() }];
        let text: Vec<String> = sections(&report)
            .into_iter()
            .flat_map(|s| std::iter::once(s.title).chain(s.entries.into_iter().map(|(text, _)| text)))
            .collect();
        let wanted = [
            "Waived on 2026-11-25 (broken, and let pass for a time):",
            "engagement speed ceiling, build, engaging: until 2026-11-30; release manager: bench only",
            "Waivers that cover nothing on 2026-11-25:",
            "engagement speed ceiling, build, engaging: not needed in this run, until 2026-11-30; release manager: \
             bench only",
            "Switched off in the spec, not judged:",
            "busy-ness (new since the baseline): taxi",
            "Does not apply, by a declared fact or by the manoeuvres chosen:",
            "settles on the map's gear: no map",
            "Limits looser than the defaults:",
            "tap-release: from 100 ms to 150 ms",
        ];
        assert_eq!(text, wanted);
        assert!(sections(&report)[0].entries[0].1.is_some());
    }

    #[test]
    fn a_waiver_that_ended_is_named_at_its_moment() {
        let mut report = example::broken();
        assert_eq!(ended(&report, &report.moments[0]), None);
        report.terms.waivers = vec![waiver(WaiverState::Ended)];
        let says = "its waiver ended on 2026-11-30 and covers nothing; release manager: bench only";
        assert_eq!(ended(&report, &report.moments[0]).as_deref(), Some(says));
    }
}
