//! The one place for clocks and the environment. Nothing that is read here decides an outcome.

#![allow(clippy::disallowed_types, clippy::disallowed_methods, reason = "this is the place")]

use std::io::IsTerminal;

/// Runs from its making on.
#[derive(Debug, Clone, Copy)]
pub struct Stopwatch(std::time::Instant);

impl Stopwatch {
    /// Starts.
    pub fn start() -> Self {
        Self(std::time::Instant::now())
    }

    /// Wall time since the start, s.
    pub fn seconds(self) -> f64 {
        self.0.elapsed().as_secs_f64()
    }
}

/// Now, seconds since 1970.
pub fn now_s() -> i64 {
    std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0, |since| i64::try_from(since.as_secs()).unwrap_or(i64::MAX))
}

/// "2026-01-31T08:05:00Z".
pub fn utc(seconds: i64) -> String {
    junit_report::OffsetDateTime::from_unix_timestamp(seconds).map_or_else(
        |_| format!("{seconds} s since 1970"),
        |t| {
            let (date, time) = (t.date(), t.time());
            let (month, day) = (u8::from(date.month()), date.day());
            let (hour, minute, second) = (time.hour(), time.minute(), time.second());
            format!("{:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z", date.year())
        },
    )
}

/// The time stamp for files: `SOURCE_DATE_EPOCH`, else 0, so that equal runs give equal bytes.
pub fn stamp_s() -> Result<i64, String> {
    stamp_from(variable("SOURCE_DATE_EPOCH").as_deref())
}

fn stamp_from(text: Option<&str>) -> Result<i64, String> {
    // The end of the year 9999, the last that a time stamp of four digits can write.
    const LAST_S: i64 = 253_402_300_799;
    let Some(text) = text else { return Ok(0) };
    text.parse()
        .ok()
        .filter(|s| (0..=LAST_S).contains(s))
        .ok_or_else(|| format!("SOURCE_DATE_EPOCH is {text:?}: write whole seconds since 1970, for example 1700000000"))
}

/// Whether to colour stdout where the command line leaves it open.
pub fn wants_colour() -> bool {
    colour_from(variable("NO_COLOR").as_deref(), variable("CLICOLOR_FORCE").as_deref(), std::io::stdout().is_terminal())
}

fn colour_from(no_color: Option<&str>, force: Option<&str>, terminal: bool) -> bool {
    no_color.is_none() && (force.is_some_and(|value| value != "0") || terminal)
}

/// Whether stderr is a terminal that a person watches.
pub fn is_watched() -> bool {
    std::io::stderr().is_terminal() && variable("CI").is_none()
}

/// Hardware threads.
pub fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

/// The command line as typed.
pub fn command_line() -> Vec<String> {
    std::env::args_os().map(|word| word.to_string_lossy().into_owned()).collect()
}

/// A variable that is set and not empty.
fn variable(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_written_in_utc() {
        assert_eq!(utc(0), "1970-01-01T00:00:00Z");
        assert_eq!(utc(1_700_000_000), "2023-11-14T22:13:20Z");
        assert_eq!(utc(i64::MAX), "9223372036854775807 s since 1970");
    }

    #[test]
    fn the_stamp_is_a_whole_number_or_an_error_that_says_so() {
        assert_eq!(stamp_from(None), Ok(0));
        assert_eq!(stamp_from(Some("1700000000")), Ok(1_700_000_000));
        for wrong in ["yesterday", "-1", "1.5", "9999999999999"] {
            assert!(stamp_from(Some(wrong)).unwrap_err().contains("whole seconds since 1970"), "{wrong}");
        }
    }

    #[test]
    fn no_color_beats_force_and_force_beats_the_terminal() {
        assert!(!colour_from(Some("1"), Some("1"), true));
        assert!(colour_from(None, Some("1"), false));
        assert!(!colour_from(None, Some("0"), false));
        assert!(colour_from(None, None, true));
        assert!(!colour_from(None, None, false));
    }
}
