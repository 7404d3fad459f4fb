//! Reads single values: texts, quantities, and numbers with their origin.

use super::known::{Known, Origin};
use super::reader::{Doc, Log, MOST_ERRORS, Table, Value};
use crate::units::{Ms, Percent, Quantity};
use std::ops::RangeInclusive;
use toml::de::DeValue;

/// A value's kind, for messages.
#[must_use]
pub fn kind_of(value: &Value<'_>) -> &'static str {
    match value.get_ref() {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A short text without control characters.
pub fn text<'d>(doc: Doc<'d>, key: &str, value: &'d Value<'d>) -> Option<&'d str> {
    let found = value.get_ref().as_str();
    match found {
        Some(text) if !text.trim().is_empty() && text.len() <= 200 && !text.chars().any(char::is_control) => found,
        _ => {
            doc.fail(value.span(), &format!("`{key}` must be a text of 1 to 200 characters on one line"));
            None
        }
    }
}

/// A quantity within a range given in its canonical unit.
pub fn quantity<T: Quantity>(doc: Doc<'_>, key: &str, value: &Value<'_>, range: RangeInclusive<f64>) -> Option<T> {
    let read = match value.get_ref() {
        DeValue::String(text) => T::parse(text),
        DeValue::Integer(_) | DeValue::Float(_) => number::<T>(key, value),
        _ => Err(format!("`{key}` must be a {} such as \"{}\", not {}", T::WHAT, T::EXAMPLE, kind_of(value))),
    };
    let checked = read.and_then(|read| {
        let mut number = read.canonical();
        if T::WHAT == Ms::WHAT {
            // "0.07 s" times 1000 is 70.00000000000001.
            if (number - number.round()).abs() > 1e-6 {
                return Err(format!("`{key}` must be whole milliseconds, not {read}"));
            }
            number = number.round();
        }
        if range.contains(&number) {
            // Minus zero would print a sign.
            return Ok(T::from_canonical(number + 0.0));
        }
        let (least, most) = (T::from_canonical(*range.start()), T::from_canonical(*range.end()));
        let must = if range.start() == range.end() { format!("{least}") } else { format!("from {least} to {most}") };
        Err(format!("`{key}` must be {must}, not {read}"))
    });
    checked.map_err(|message| doc.fail(value.span(), &message)).ok()
}

/// A TOML number: only where the quantity has no unit.
fn number<T: Quantity>(key: &str, value: &Value<'_>) -> Result<T, String> {
    let names: Vec<&str> = T::UNITS.iter().map(|&(name, _)| name).filter(|n| !n.is_empty()).collect();
    if !names.is_empty() {
        let (units, example) = (names.join(", "), T::EXAMPLE);
        return Err(format!("`{key}` has no unit: write a text with the unit ({units}), for example \"{example}\""));
    }
    let read = match value.get_ref() {
        DeValue::Integer(n) if n.radix() == 10 => n.as_str().parse::<f64>().ok(),
        DeValue::Float(n) => n.as_str().parse::<f64>().ok(),
        _ => None,
    };
    let read = read.filter(|n| n.is_finite());
    read.map(T::from_canonical).ok_or_else(|| format!("`{key}` must be a plain number, for example {}", T::EXAMPLE))
}

/// A number alone, or with its origin and spread.
pub fn known<T: Quantity>(doc: Doc<'_>, key: &str, value: &Value<'_>, range: RangeInclusive<f64>) -> Option<Known<T>> {
    let DeValue::Table(table) = value.get_ref() else {
        return quantity::<T>(doc, key, value, range).map(|v| Known::stated(v.canonical()));
    };
    let origins = [
        ("measured", Origin::Measured),
        ("stated", Origin::Stated),
        ("probed", Origin::Probed),
        ("assumed", Origin::Assumed),
    ];
    // Every known number has these keys: the trace need not repeat them, so they are noted in a log of their own.
    let quiet = Log::default();
    let part = Table::new(Doc { log: &quiet, ..doc }, key, table, value.span());
    let found = part.find("value", "", true).and_then(|v| quantity::<T>(part.doc, key, v, range));
    let origin = part.pick("origin", &origins, Some(Origin::Stated));
    let spread = part.or("spread", 0.0..=50.0, Percent(0.0));
    part.done();
    let mut errors = doc.log.errors.borrow_mut();
    let room = MOST_ERRORS.saturating_sub(errors.len());
    errors.extend(quiet.errors.into_inner().into_iter().take(room));
    Some(Known { value: found?, origin: origin?, spread })
}
