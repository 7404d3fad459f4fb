//! Why there are rules: hazards, the rules that detect each, and the manoeuvres that reach each rule.
//!
//! A hazard without a rule, a rule without a hazard and a rule that no manoeuvre reaches fail a test. The classes
//! behind `rank` are drafts that order the work inside this harness and nothing else: whoever owns a controller makes
//! its hazard analysis for its vehicle.

mod list;
mod reach;
#[cfg(test)]
mod tests;

pub use list::HAZARDS;
pub use reach::RULE_LINKS;

/// What can hurt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hazard {
    /// Its name.
    pub name: &'static str,
    /// When it comes.
    pub situation: &'static str,
    /// What follows.
    pub effect: &'static str,
    /// Sum of draft classes of harm (1 to 3), exposure (1 to 4) and lack of control (1 to 3): for ranking only.
    pub rank: u8,
    /// Names of the rules that detect it.
    pub rules: &'static [&'static str],
}

/// A rule and the manoeuvres that reach it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RuleLink {
    /// The rule's name.
    pub rule: &'static str,
    /// Its severity is critical: it can be neither waived nor switched off.
    pub critical: bool,
    /// Names of manoeuvres that reach it; a random drive may reach it too.
    pub manoeuvres: &'static [&'static str],
}

/// The link of a rule.
#[must_use]
pub fn link(rule: &str) -> Option<&'static RuleLink> {
    RULE_LINKS.iter().find(|link| link.rule == rule)
}

/// The hazards that a rule detects, the gravest first.
#[must_use]
pub fn of_rule(rule: &str) -> Vec<&'static Hazard> {
    let mut found: Vec<&Hazard> = HAZARDS.iter().filter(|h| h.rules.contains(&rule)).collect();
    found.sort_by_key(|h| std::cmp::Reverse(h.rank));
    found
}
