//! `sprag rules`: the rule table, or one rule in full.

use super::engine;
use super::exit::Ended;
use super::exit::Failure;
use super::out;
use crate::evidence::WIDTH;
use crate::evidence::margin;
use crate::evidence::wrap;
use crate::outcome::Exit;
use crate::outcome::RuleCard;
use crate::outcome::Severity;

/// Arguments.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Name of a rule, or the beginning of one
    name: Vec<String>,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Ended, Failure> {
    let cards = engine::cards();
    let text = if args.name.is_empty() { table(&cards) } else { one(&cards, &args.name.join(" "))? };
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
fn one(cards: &[&RuleCard], name: &str) -> Result<String, Failure> {
    if let Some(card) = cards.iter().find(|c| c.name == name) {
        return Ok(full(card));
    }
    let like: Vec<&&RuleCard> = cards.iter().filter(|c| c.name.starts_with(name)).collect();
    match like.as_slice() {
        [card] => Ok(full(card)),
        [] => Err(Failure::new(Exit::Usage, format!("{name:?} is no rule: 'sprag rules' lists them"))),
        several => {
            let names: Vec<&str> = several.iter().map(|c| c.name).collect();
            Err(Failure::new(Exit::Usage, format!("{name:?} may be any of: {}", names.join(", "))))
        }
    }
}

fn full(card: &RuleCard) -> String {
    let mut text = format!("{}\n", card.name);
    let mut put = |name: &str, value: &str| {
        for (at, line) in wrap(value, 0, WIDTH - 14).into_iter().enumerate() {
            text.push_str(&format!("  {:<12}{line}\n", if at == 0 { name } else { "" }));
        }
    };
    put("asks", card.sentence);
    put("hazard", card.hazard);
    put("severity", severity(card));
    put("margin in", card.unit);
    put("close", &format!("within {} {}", margin(2.0 * card.near), card.unit));
    put("judged on", &judged_on(card));
    if !card.limits.is_empty() {
        put("limits", &card.limits.join(", "));
    }
    for (at, situation) in card.situations.iter().enumerate() {
        put(if at == 0 { "situations" } else { "" }, &format!("{}, at least {}", situation.name, situation.least));
    }
    put("version", &card.version.to_string());
    text
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
        assert!(one(&cards, "pulse").unwrap().starts_with("pulse\n"));
        assert!(one(&cards, "one").unwrap().contains("  close       within 20 ms\n"));
        assert_eq!(one(&cards, "pul").unwrap_err().says, "\"pul\" may be any of: pulse, pulse gap");
        assert_eq!(one(&cards, "x").unwrap_err().exit, Exit::Usage);
    }
}
