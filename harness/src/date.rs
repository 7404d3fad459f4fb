//! Calendar days, for waivers. No clock: the day to judge against is stated on the command line.

use schemars::JsonSchema;
use schemars::Schema;
use schemars::SchemaGenerator;
use schemars::json_schema;
use serde::Serialize;
use serde::Serializer;
use std::borrow::Cow;
use std::fmt;

/// A day of the calendar, written 2027-03-01 (ISO 8601).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

/// The years that a waiver can mean; a number outside is a slip of the pen.
const YEARS: std::ops::RangeInclusive<u16> = 1900..=2999;

impl Date {
    /// Reads a day.
    ///
    /// # Errors
    /// It isn't written so, or the calendar doesn't have it.
    pub fn parse(text: &str) -> Result<Self, String> {
        let digits = |part: &str, length: usize| {
            (part.len() == length && part.bytes().all(|b| b.is_ascii_digit())).then(|| part.parse::<u16>().ok())?
        };
        let mut parts = text.split('-');
        let (year, month, day) = (parts.next(), parts.next(), parts.next());
        let read = year.zip(month).zip(day).filter(|_| parts.next().is_none());
        let read = read.and_then(|((y, m), d)| Some((digits(y, 4)?, digits(m, 2)?, digits(d, 2)?)));
        let Some((year, month, day)) = read else {
            return Err(format!("a day is written year-month-day, for example 2027-03-01, not \"{text}\""));
        };
        if !YEARS.contains(&year) {
            return Err(format!("the year of {text} must be from {} to {}", YEARS.start(), YEARS.end()));
        }
        if !(1..=12).contains(&month) {
            return Err(format!("the calendar has no day {text}: months go from 01 to 12"));
        }
        let most = days_of_month(year, month);
        if !(1..=most).contains(&day) {
            return Err(format!("the calendar has no day {text}: that month has {most} days"));
        }
        // All three were bounded above.
        Ok(Self { year, month: u8::try_from(month).unwrap_or(1), day: u8::try_from(day).unwrap_or(1) })
    }
}

/// Gregorian: each fourth year is a leap year, but of the full centuries only each fourth.
fn days_of_month(year: u16, month: u16) -> u16 {
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl Serialize for Date {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl JsonSchema for Date {
    fn schema_name() -> Cow<'static, str> {
        "Date".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A day, for example \"2027-03-01\"",
            "type": "string",
            "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_of_the_calendar_are_read_and_written_back() {
        // 2000 is a leap year, 1900 and 2100 are none (Gregorian reform: of the centuries only each fourth).
        for text in ["2026-11-25", "2027-03-01", "2000-02-29", "2028-02-29", "2026-12-31", "1900-01-01", "2100-02-28"] {
            assert_eq!(Date::parse(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_the_calendar_does_not_have_is_refused() {
        for (text, part) in [
            ("2027-02-29", "that month has 28 days"),
            ("1900-02-29", "that month has 28 days"),
            ("2026-04-31", "that month has 30 days"),
            ("2026-13-01", "months go from 01 to 12"),
            ("2026-00-10", "months go from 01 to 12"),
            ("2026-01-00", "that month has 31 days"),
            ("0026-01-01", "the year"),
            ("1.3.2027", "year-month-day"),
            ("2027-3-1", "year-month-day"),
            ("2027-03-01-05", "year-month-day"),
            ("+027-03-01", "year-month-day"),
            ("", "year-month-day"),
            ("２０２７-03-01", "year-month-day"),
        ] {
            let why = Date::parse(text).unwrap_err();
            assert!(why.contains(part), "{text}: {why}");
        }
    }

    #[test]
    fn days_are_ordered_as_in_the_calendar() {
        let day = |text: &str| Date::parse(text).unwrap();
        assert!(day("2026-12-31") < day("2027-01-01"));
        assert!(day("2027-01-31") < day("2027-02-01"));
        assert!(day("2027-03-01") > day("2027-02-28"));
    }
}
