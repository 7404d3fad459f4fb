//! What narrows the meaning of 'kept' by agreement: rules switched off and failures waived, each with its reason.

use super::error::nearest;
use super::reader::{Doc, Table, Value};
use super::values::text;
use crate::date::Date;
use crate::failing_cause::FailingCause;
use crate::hazards;
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::Range;
use toml::de::DeValue;

/// A failure that somebody looked at and let pass for a time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Waiver {
    /// Name of the rule; a critical one can't be waived.
    pub rule: String,
    /// The failing cause, as the failing moment shows it: who is at fault, and when.
    pub cause: String,
    /// Why it may pass.
    pub reason: String,
    /// Who decided, by role: "release manager".
    pub role: String,
    /// The last day on which it holds.
    pub expires: Date,
}

/// A rule that isn't judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Off {
    /// Name of the rule; a critical one can't be switched off.
    pub rule: String,
    /// Why.
    pub reason: String,
}

/// Which rules are judged.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct RuleChoice {
    /// Rules switched off.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub off: Vec<Off>,
}

impl RuleChoice {
    /// Why a rule is switched off, if it is.
    #[must_use]
    pub fn off(&self, rule: &str) -> Option<&str> {
        self.off.iter().find(|off| off.rule == rule).map(|off| off.reason.as_str())
    }

    /// All rules are judged.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.off.is_empty()
    }
}

/// Nobody keeps more waivers than this in mind.
const MOST: usize = 100;

/// Reads `[[waivers]]`.
pub fn waivers(t: &Table<'_>) -> Vec<Waiver> {
    let mut found: Vec<Waiver> = Vec::new();
    for part in tables(t, "waivers") {
        let read = waiver(&part);
        if let Some(read) = read {
            if found.iter().any(|earlier| earlier.rule == read.rule && earlier.cause == read.cause) {
                part.fail("cause", "this rule and cause are waived twice");
            }
            found.push(read);
        }
        part.done();
    }
    found
}

fn waiver(t: &Table<'_>) -> Option<Waiver> {
    let rule = rule(t, "waived");
    let cause = t.text("cause", true).and_then(|cause| match FailingCause::parse(cause) {
        // As a failing moment prints it, so that the two can be compared.
        Ok(cause) => Some(cause.to_string()),
        Err(why) => {
            t.fail("cause", &why);
            None
        }
    });
    let (reason, role) = (t.text("reason", true), t.text("role", true));
    let expires = t.find("expires", "Date", true).and_then(|value| day(t, value));
    Some(Waiver { rule: rule?, cause: cause?, reason: reason?.to_owned(), role: role?.to_owned(), expires: expires? })
}

fn day(t: &Table<'_>, value: &Value<'_>) -> Option<Date> {
    let read = match value.get_ref() {
        DeValue::String(text) => Date::parse(text),
        _ => Err("`expires` must be a day in quotes, for example \"2027-03-01\"".to_owned()),
    };
    read.map_err(|why| t.fail("expires", &why)).ok()
}

/// Reads `[rules]`.
pub fn choice(t: &Table<'_>) -> RuleChoice {
    let mut off: Vec<Off> = Vec::new();
    for part in tables(t, "off") {
        let (rule, reason) = (rule(&part, "switched off"), part.text("reason", true));
        if let (Some(rule), Some(reason)) = (rule, reason) {
            if off.iter().any(|earlier| earlier.rule == rule) {
                part.fail("rule", &format!("`{rule}` is switched off twice"));
            }
            off.push(Off { rule, reason: reason.to_owned() });
        }
        part.done();
    }
    RuleChoice { off }
}

fn tables<'d>(t: &Table<'d>, key: &'static str) -> Vec<Table<'d>> {
    let values = t.list(key, "table", MOST, false).unwrap_or_default();
    values.into_iter().filter_map(|value| t.inner(&format!("{key}[]"), value)).collect()
}

/// The name of a rule that is there and not critical.
fn rule(t: &Table<'_>, done_to_it: &str) -> Option<String> {
    let name = t.text("rule", true)?;
    match hazards::link(name) {
        Some(link) if link.critical => {
            t.fail("rule", &format!("`{name}` is critical: it can't be {done_to_it}"));
            None
        }
        Some(_) => Some(name.to_owned()),
        None => {
            unknown_rule(t.doc, t.span_of("rule"), name);
            None
        }
    }
}

/// The names of a run's `must-reach`.
pub fn rule_names(t: &Table<'_>, key: &'static str, values: Vec<&Value<'_>>) -> Vec<String> {
    let mut names = Vec::new();
    for value in values {
        let Some(name) = text(t.doc, key, value) else { continue };
        if hazards::link(name).is_none() {
            unknown_rule(t.doc, value.span(), name);
        }
        names.push(name.to_owned());
    }
    names
}

fn unknown_rule(doc: Doc<'_>, span: Range<usize>, name: &str) {
    let near = nearest(name, hazards::RULE_LINKS.iter().map(|link| link.rule));
    let hint = near.map_or("`sprag rules` lists them".to_owned(), |near| format!("did you mean \"{near}\"?"));
    doc.fail_hint(span, &format!("there is no rule \"{name}\""), Some(hint));
}

#[cfg(test)]
mod tests {
    use crate::spec::Spec;
    use crate::spec::tests::{SHORT, alone};

    const WAIVER: &str = "[[waivers]]\nrule = \"hunting count\"\ncause = \"map, gears 3-4\"\nreason = \"map 7 is due\"\n\
                          role = \"release manager\"\nexpires = \"2027-03-01\"\n";

    fn with(more: &str) -> Result<Spec, Vec<(usize, String, Option<String>)>> {
        alone(&format!("{SHORT}{more}")).map_err(|e| e.lines.into_iter().map(|e| (e.line, e.message, e.hint)).collect())
    }

    #[test]
    fn waivers_and_switched_off_rules_read_and_read_back() {
        let off = "[rules]\noff = [{ rule = \"busy-ness\", reason = \"taxi\" }]\n";
        let spec = with(&format!("{off}{WAIVER}")).unwrap();
        assert_eq!(spec.waivers[0].cause, "map, gears 3-4");
        assert_eq!(spec.waivers[0].expires.to_string(), "2027-03-01");
        assert_eq!((spec.rules.off("busy-ness"), spec.rules.off("hunting count")), (Some("taxi"), None));
        assert_eq!(alone(&spec.to_toml()).unwrap(), spec);
    }

    #[test]
    fn what_cannot_be_waived_is_named_at_its_place() {
        // The first line of what is added.
        let first = SHORT.lines().count() + 1;
        for (from, to, line, part) in [
            ("hunting count", "driver's tap wins", 1, "is critical: it can't be waived"),
            ("hunting count", "huntin count", 1, "there is no rule"),
            ("map, gears 3-4", "rig", 2, "who is at fault"),
            ("map, gears 3-4", "map, gears 3-5", 2, "no instant of a failing cause"),
            ("2027-03-01", "2027-02-29", 5, "that month has 28 days"),
            ("\"2027-03-01\"", "2027-03-01", 5, "a day in quotes"),
            ("role = \"release manager\"\n", "", 0, "`role` is missing"),
            ("role", "who", 4, "unknown key `who`"),
        ] {
            let errors = with(&WAIVER.replace(from, to)).unwrap_err();
            assert!(errors.iter().any(|(at, says, _)| *at == first + line && says.contains(part)), "{errors:?}");
        }
        let errors = with(&WAIVER.replace("hunting count", "huntin count")).unwrap_err();
        assert_eq!(errors[0].2.as_deref(), Some("did you mean \"hunting count\"?"));
        let errors = with(&format!("{WAIVER}{WAIVER}")).unwrap_err();
        assert!(errors.iter().any(|(_, says, _)| says.contains("waived twice")), "{errors:?}");
        let errors = with("[rules]\noff = [{ rule = \"determinism\", reason = \"r\" }]\n").unwrap_err();
        assert!(errors[0].1.contains("`determinism` is critical: it can't be switched off"), "{errors:?}");
    }
}
