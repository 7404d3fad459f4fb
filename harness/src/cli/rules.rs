//! `sprag rules`: the rule table, or one rule in full.

use super::HELP_WIDTH;
use super::engine;
use super::exit::Ended;
use super::exit::Failure;
use super::out;
use crate::evidence;
use crate::evidence::margin;
use crate::evidence::wrap;
use crate::hazards;
use crate::outcome::Exit;
use crate::outcome::RuleCard;
use crate::outcome::Severity;
use crate::spec::limit_table;
use crate::spec::limit_table::LimitRow;
use crate::spec::nearest;
use serde_json::json;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Name of a rule, or the beginning of one
    name: Vec<String>,
    /// Print JSON for programs
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Ended, Failure> {
    let cards = engine::cards();
    let named = if args.name.is_empty() { None } else { Some(named(&cards, &args.name.join(" "))?) };
    let text = match (named, args.json) {
        (Some(card), true) => json(&[card])?,
        (None, true) => json(&cards)?,
        (Some(card), false) => full(card),
        (None, false) => table(&cards),
    };
    out::print(&text)?;
    Ok(Exit::Kept.into())
}

fn severity(card: &RuleCard) -> &'static str {
    match card.severity {
        Severity::Critical => "critical",
        Severity::Major => "major",
        Severity::Minor => "minor",
    }
}

fn judged_on(card: &RuleCard) -> String {
    card.judged_on.iter().map(|basis| basis.word()).collect::<Vec<_>>().join(" and ")
}

fn table(cards: &[&RuleCard]) -> String {
    let width = cards.iter().map(|c| c.name.chars().count()).max().unwrap_or(0).max(4);
    let mut text = format!("{:<width$}  {:<8}  {:<8}  judged on\n", "rule", "severity", "unit");
    for card in cards {
        text.push_str(&format!(
            "{:<width$}  {:<8}  {:<8}  {}\n",
            card.name,
            severity(card),
            card.unit,
            judged_on(card)
        ));
    }
    text
}

/// The rule with this name, or the only one that begins so.
fn named<'c>(cards: &[&'c RuleCard], name: &str) -> Result<&'c RuleCard, Failure> {
    if let Some(card) = cards.iter().find(|c| c.name == name) {
        return Ok(card);
    }
    let like: Vec<&&RuleCard> = cards.iter().filter(|c| c.name.starts_with(name)).collect();
    match like.as_slice() {
        [card] => Ok(card),
        [] => {
            let near = nearest(name, cards.iter().map(|c| c.name));
            let hint = near.map_or("'sprag rules' lists them".to_owned(), |near| format!("did you mean {near:?}?"));
            Err(Failure::new(Exit::Usage, format!("{name:?} is no rule: {hint}")))
        }
        several => {
            let names: Vec<&str> = several.iter().map(|c| c.name).collect();
            Err(Failure::new(Exit::Usage, format!("{name:?} may be any of: {}", names.join(", "))))
        }
    }
}

fn full(card: &RuleCard) -> String {
    let mut text = format!("{}\n", card.name);
    let mut put = |name: &str, value: &str| {
        for (at, line) in wrap(value, 0, HELP_WIDTH - 14).into_iter().enumerate() {
            text.push_str(&format!("  {:<12}{line}\n", if at == 0 { name } else { "" }));
        }
    };
    put("asks", card.sentence);
    put("why", card.hazard);
    for (at, hazard) in hazards::of_rule(card.name).into_iter().enumerate() {
        let title = if at == 0 { "hazards" } else { "" };
        put(title, &format!("{}. {}. {}.", hazard.name, hazard.situation, hazard.effect));
    }
    put("severity", covers(card.severity));
    put("margin in", &format!("{}; close: within {} {0} of the limit", card.unit, margin(2.0 * card.near)));
    put("judged on", &judged_on(card));
    let data: Vec<&str> = card.leans_on.iter().map(|data| data.word()).collect();
    put("leans on", &if data.is_empty() { "no vehicle data".to_owned() } else { data.join("; ") });
    for (at, limit) in limits(card).iter().enumerate() {
        let default = limit.default.as_ref().map_or(String::new(), |d| format!(" Default {d}:"));
        let title = if at == 0 { "limits" } else { "" };
        put(title, &format!("{}. {}{default} {}.", limit.name, limit.about, limit.source));
    }
    for (at, situation) in card.situations.iter().enumerate() {
        put(if at == 0 { "situations" } else { "" }, &format!("{}, at least {}", situation.name, situation.least));
    }
    if let Some(link) = hazards::link(card.name) {
        put("manoeuvres", &link.manoeuvres.join(", "));
    }
    for (at, fault) in engine::faults(card.name).into_iter().enumerate() {
        put(if at == 0 { "must catch" } else { "" }, &format!("{}: {}", fault.name, fault.about));
    }
    put("version", &card.version.to_string());
    text
}

/// The severity, and what a waiver may cover.
fn covers(severity: Severity) -> &'static str {
    match severity {
        Severity::Critical => "critical: blocks a release, and can be neither waived nor switched off",
        Severity::Major => {
            "major: blocks a release unless waived, by rule and failing cause, with reason, role and last day"
        }
        Severity::Minor => "minor: reported, blocks nothing",
    }
}

/// The limits of a rule, as the table has them.
fn limits(card: &RuleCard) -> Vec<LimitRow> {
    let mut rows = limit_table::rows();
    rows.retain(|row| card.limits.contains(&row.name));
    rows
}

/// The cards for programs, with what the evidence writes of them and more.
fn json(cards: &[&RuleCard]) -> Result<String, Failure> {
    let one = |card: &&RuleCard| {
        let mut value = evidence::card(card);
        let limits: Vec<_> = limits(card)
            .into_iter()
            .map(|row| json!({"name": row.name, "about": row.about, "default": row.default, "source": row.source}))
            .collect();
        let faults: Vec<_> = engine::faults(card.name).into_iter().map(|fault| fault.name).collect();
        let situations: Vec<_> =
            card.situations.iter().map(|s| json!({"situation": s.name, "least": s.least})).collect();
        value["limits"] = json!(limits);
        value["seeded-faults"] = json!(faults);
        value["situations"] = json!(situations);
        value
    };
    let all: Vec<_> = cards.iter().map(one).collect();
    let text = serde_json::to_string_pretty(&all).map_err(|why| Failure::new(Exit::OurBug, why.to_string()))?;
    Ok(text + "\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::Basis;
    use crate::outcome::Situation;

    const fn card(name: &'static str) -> RuleCard {
        RuleCard {
            name,
            sentence: "A pulse is long enough.",
            hazard: "A tap is lost.",
            severity: Severity::Major,
            unit: "ms",
            near: 10.0,
            judged_on: &[Basis::Seen, Basis::True],
            situations: &[Situation { name: "a pulse", least: 20 }],
            limits: &["shortest-pulse"],
            map_can_break: false,
            leans_on: &[],
            version: 1,
        }
    }

    #[test]
    fn the_table_lines_up() {
        assert_eq!(
            table(&[&card("pulse width"), &card("one step per tap")]),
            "rule              severity  unit      judged on\n\
             pulse width       major     ms        seen and true\n\
             one step per tap  major     ms        seen and true\n"
        );
    }

    #[test]
    fn a_rule_is_found_by_its_name_or_its_beginning() {
        let (one_step, width, gap) = (card("one step per tap"), card("pulse"), card("pulse gap"));
        let cards = [&one_step, &width, &gap];
        assert_eq!(named(&cards, "pulse").unwrap().name, "pulse");
        assert_eq!(named(&cards, "one").unwrap().name, "one step per tap");
        assert_eq!(named(&cards, "pul").unwrap_err().says, "\"pul\" may be any of: pulse, pulse gap");
        assert_eq!(named(&cards, "x").unwrap_err().exit, Exit::Usage);
        let near = named(&cards, "puls gap").unwrap_err().says;
        assert_eq!(near, "\"puls gap\" is no rule: did you mean \"pulse gap\"?");
    }

    #[test]
    fn the_page_of_a_rule_says_all_that_there_is_to_it() {
        let page = full(&card("one step per tap"));
        for part in [
            "  asks        A pulse is long enough.\n",
            "  hazards     contact stuck or glitching. Reset, supply dip or crash inside a pulse.",
            "  severity    major: blocks a release unless waived, by rule and failing cause",
            "  margin in   ms; close: within 20 ms of the limit\n",
            "  judged on   seen and true\n",
            "  leans on    no vehicle data\n",
            "  limits      shortest-pulse. Shortest contact pulse. Default 60 ms: common practice, no source.\n",
            "  situations  a pulse, at least 20\n",
            "  manoeuvres  full-pedal, kickdown-ladder\n",
        ] {
            assert!(page.contains(part), "{part} is missing in\n{page}");
        }
    }

    #[test]
    fn every_page_fits_the_width_and_names_limits_that_there_are() {
        for card in engine::cards() {
            let page = full(card);
            assert!(page.lines().all(|line| line.chars().count() <= HELP_WIDTH), "{page}");
            assert_eq!(limits(card).len(), card.limits.len(), "{}: {:?}", card.name, card.limits);
            assert!(page.contains("  hazards     ") && page.contains("  manoeuvres  "), "{page}");
        }
        assert!(table(&engine::cards()).lines().all(|line| line.chars().count() <= HELP_WIDTH));
    }

    #[test]
    fn programs_get_every_rule() {
        let cards: serde_json::Value = serde_json::from_str(&json(&engine::cards()).unwrap()).unwrap();
        let floor = cards.as_array().unwrap().iter().find(|c| c["name"] == "rpm floor after upshift").unwrap();
        assert_eq!(floor["leans-on"], json!(["ratios"]));
        assert_eq!(floor["limits"][0]["name"], "rpm-floor");
        assert_eq!(floor["seeded-faults"], json!(["low-cell", "retries-unchecked"]));
        assert!(floor["hazards"].as_array().unwrap().contains(&json!("wheel spin")));
    }
}
