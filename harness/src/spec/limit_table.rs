//! The limits as a table: name, what it means, default, where the default comes from, and which way is looser.
//!
//! Names, sentences and sources are those of the fields of [`Limits`]; only the direction is written down here.

use super::limits::Limits;
use crate::units::{Kmh, Rpm};
use serde_json::{Map, Value};

/// Which way a limit gets looser: the same build keeps the rule more easily.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Looser {
    /// A higher number is looser.
    Higher,
    /// A lower number is looser.
    Lower,
}

use Looser::{Higher, Lower};

/// The direction of each limit.
const LOOSER: &[(&str, Looser)] = &[
    ("engagement-speed-ceiling", Higher),
    ("rpm-floor", Lower),
    ("redline-guard", Lower),
    ("conditions-held", Lower),
    ("engages-within", Higher),
    ("lever-bounce", Higher),
    ("tap-release", Higher),
    ("lever-release", Higher),
    ("range-release", Higher),
    ("range-high-for", Lower),
    ("data-lost", Higher),
    ("data-release", Higher),
    ("data-fresh", Higher),
    ("shift-settle", Lower),
    ("shift-blind", Lower),
    ("opposite-dwell", Lower),
    ("opposite-pedal", Lower),
    ("hunting-window", Lower),
    ("hunting-reversals", Higher),
    ("standstill", Lower),
    ("fall-limit", Higher),
    ("rise-limit", Higher),
    ("longest-pulse", Higher),
    ("shortest-pulse", Lower),
    ("quiet-after-engaging", Lower),
    ("entry-step", Lower),
    ("most-engagements", Higher),
    ("cause-window", Higher),
    ("contacts-open", Higher),
    ("boot-quiet", Lower),
    ("boot-ready", Higher),
    ("plausible-for", Lower),
    ("stuck-noticed", Higher),
    ("most-requests", Higher),
    ("sleeps-within", Higher),
    ("pulse-gap", Lower),
    ("cascade-steps", Higher),
    ("cascade-window", Lower),
    // What comes within a longer time is not refused, so that taking it again is asked about less often.
    ("shift-confirmed", Higher),
    ("refused-retries", Higher),
    ("wrong-shifts", Higher),
    ("count-settles", Higher),
    ("grip-needed", Higher),
    ("lugging-rpm", Lower),
    ("lugging-load", Higher),
    ("lugging-for", Higher),
    ("busy-shifts", Higher),
    ("dither-shifts", Higher),
    ("response-updates", Higher),
    ("settles-within", Higher),
    ("settles-step", Higher),
    ("light-pedal", Lower),
    ("coast-window", Higher),
    ("kickdown-pedal", Higher),
    ("kickdown-updates", Higher),
    ("kickdown-hold", Lower),
    ("announced-within", Higher),
    ("most-announcements", Higher),
    // Off where it isn't stated, which is looser than any number.
    ("downhill-rpm", Lower),
];

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitRow {
    /// Its name, as the spec writes it.
    pub name: &'static str,
    /// What it means.
    pub about: String,
    /// Its default with the unit; none where the maker states it.
    pub default: Option<String>,
    /// Where the default comes from.
    pub source: String,
    /// Which way is looser.
    pub looser: Looser,
}

/// A limit looser than another one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Its name.
    pub name: &'static str,
    /// The tighter value.
    pub from: String,
    /// The looser one.
    pub to: String,
}

/// All limits, in their order.
#[must_use]
pub fn rows() -> Vec<LimitRow> {
    let schema = schemars::schema_for!(Limits).to_value();
    let defaults = values(&Limits::stated(Kmh(0.0), Rpm(0.0)));
    LOOSER
        .iter()
        .map(|&(name, looser)| {
            let doc = schema["properties"][name]["description"].as_str().unwrap_or_default().replace('\n', " ");
            let (about, rest) = ["Default ", "No default", "Off unless"]
                .into_iter()
                .find_map(|mark| doc.find(mark))
                .map_or((doc.as_str(), ""), |at| doc.split_at(at));
            let has_default = rest.starts_with("Default ");
            let source = match rest.split_once(": ") {
                Some((_, source)) if has_default => source.trim_end_matches('.').to_owned(),
                _ if rest.starts_with("Off unless") => "off unless the maker states it".to_owned(),
                _ => "no default: the maker states it".to_owned(),
            };
            let default = if has_default { defaults.get(name).map(shown) } else { None };
            LimitRow { name, about: about.trim().to_owned(), default, source, looser }
        })
        .collect()
}

/// The limits that are looser than others: than those of an earlier spec, or than the defaults, where there are any.
#[must_use]
pub fn loosened(limits: &Limits, than: Option<&Limits>) -> Vec<Change> {
    // Against the defaults, the limits without one compare with themselves.
    let defaults = Limits::stated(limits.engagement_speed_ceiling, limits.rpm_floor);
    let (now, before) = (values(limits), values(than.unwrap_or(&defaults)));
    LOOSER
        .iter()
        .filter_map(|&(name, looser)| {
            let before = before.get(name)?;
            let to = match now.get(name) {
                None => "off".to_owned(),
                Some(now) => {
                    let (was, is) = (number(before)?, number(now)?);
                    let is_looser = match looser {
                        Higher => is > was,
                        Lower => is < was,
                    };
                    is_looser.then(|| shown(now))?
                }
            };
            Some(Change { name, from: shown(before), to })
        })
        .collect()
}

/// The limits by their names, in their canonical units.
fn values(limits: &Limits) -> Map<String, Value> {
    match serde_json::to_value(limits) {
        Ok(Value::Object(map)) => map,
        _ => Map::new(),
    }
}

fn shown(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn number(value: &Value) -> Option<f64> {
    match value {
        Value::String(text) => text.split(' ').next()?.parse().ok(),
        other => other.as_f64(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Ms;

    fn limits() -> Limits {
        Limits::stated(Kmh(40.0), Rpm(1500.0))
    }

    #[test]
    fn every_field_of_the_limits_has_a_row_and_every_row_a_field() {
        let schema = schemars::schema_for!(Limits).to_value();
        let mut fields: Vec<&str> = schema["properties"].as_object().unwrap().keys().map(String::as_str).collect();
        let mut rows: Vec<&str> = LOOSER.iter().map(|&(name, _)| name).collect();
        fields.sort_unstable();
        rows.sort_unstable();
        assert_eq!(fields, rows);
    }

    #[test]
    fn every_row_says_what_it_is_and_where_its_default_comes_from() {
        for row in rows() {
            let named = ["engagement-speed-ceiling", "rpm-floor", "downhill-rpm"].contains(&row.name);
            assert_eq!(row.default.is_none(), named, "{row:?}");
            assert!(row.about.ends_with('.') && row.about.len() > 20, "{row:?}");
            assert!(row.source.len() > 3 && !row.source.contains("Default"), "{row:?}");
        }
        let fresh = rows().into_iter().find(|row| row.name == "data-fresh").unwrap();
        assert_eq!(fresh.about, "Each command rests on data no older than this.");
        assert_eq!(fresh.default.as_deref(), Some("500 ms"));
        assert!(fresh.source.contains("ISO 15765-3"), "{}", fresh.source);
    }

    #[test]
    fn looser_is_told_from_tighter_in_both_directions() {
        assert_eq!(loosened(&limits(), None), []);
        let mut tighter = limits();
        (tighter.tap_release, tighter.shift_blind) = (Ms::new(50.0), Ms::new(2000.0));
        assert_eq!(loosened(&tighter, None), []);
        let mut looser = limits();
        (looser.tap_release, looser.shift_blind, looser.hunting_reversals) = (Ms::new(150.0), Ms::new(999.0), 3);
        let change = |name, from: &str, to: &str| Change { name, from: from.into(), to: to.into() };
        let wanted = [
            change("tap-release", "100 ms", "150 ms"),
            change("shift-blind", "1000 ms", "999 ms"),
            change("hunting-reversals", "1", "3"),
        ];
        assert_eq!(loosened(&looser, None), wanted);
    }

    #[test]
    fn against_a_baseline_stated_limits_and_dropped_ones_count_too() {
        let mut before = Limits::stated(Kmh(40.0), Rpm(1500.0));
        before.downhill_rpm = Some(Rpm(3500.0));
        let now = Limits::stated(Kmh(50.0), Rpm(1400.0));
        let names: Vec<_> = loosened(&now, Some(&before)).into_iter().map(|c| (c.name, c.to)).collect();
        let wanted = [("engagement-speed-ceiling", "50 km/h"), ("rpm-floor", "1400 rpm"), ("downhill-rpm", "off")];
        assert_eq!(names, wanted.map(|(name, to)| (name, to.to_owned())));
        assert_eq!(loosened(&before, Some(&now)), []);
    }

    /// By hand for one limit of each kind: does the direction in the table do what the sentence says?
    #[test]
    fn directions_follow_from_the_sentences() {
        let looser = |name: &str| LOOSER.iter().find(|(n, _)| *n == name).unwrap().1;
        // 'within this time': a later reaction is kept by a higher limit.
        for name in ["engages-within", "announced-within", "sleeps-within", "settles-within"] {
            assert_eq!(looser(name), Higher, "{name}");
        }
        // 'at most this many'.
        for (name, direction) in LOOSER.iter().filter(|(n, _)| n.starts_with("most-") || n.ends_with("-shifts")) {
            assert_eq!(*direction, Higher, "{name}");
        }
        // 'no sooner than', 'this far apart'.
        for name in ["opposite-dwell", "shift-blind", "pulse-gap", "boot-quiet", "kickdown-hold", "entry-step"] {
            assert_eq!(looser(name), Lower, "{name}");
        }
    }
}
