//! The measured points as a table for spreadsheets.

use super::{Found, Measured};
use std::fmt::Write;

const HEAD: &str = "from,to,pedal code,pedal %,line km/h,read km/h,read before km/h,true km/h,read less line km/h,\
answer ms,margin km/h,swing that flips km/h,what came of it\n";

/// One row a point; empty where there is nothing to say.
#[must_use]
pub fn csv(measured: &Measured) -> String {
    let mut text = HEAD.to_owned();
    for point in &measured.points {
        let shifted = match &point.found {
            Found::Shifted(shifted) => Some(shifted),
            _ => None,
        };
        let number = |value: Option<f64>, decimals: usize| value.map_or(String::new(), |v| plain(v, decimals));
        let swing = measured.swings.iter().find(|s| s.at == point.at).and_then(|s| s.flips);
        let came = match &point.found {
            Found::Shifted(shifted) if shifted.before_ramp => "shifted before the ramp".to_owned(),
            Found::Shifted(_) => "shifted".to_owned(),
            Found::NoCommand(to) => format!("no command up to {to:.0} km/h read"),
            Found::OtherWay(at) => format!("shifted the other way at {at:.0} km/h read"),
            Found::NotReached(why) => format!("not reached: {why}"),
            Found::Silent(why) => format!("no answer: {why}"),
        };
        let cells = [
            point.at.from.to_string(),
            point.at.to.to_string(),
            point.at.code.to_string(),
            plain(point.at.pedal_pct(), 2),
            plain(point.line_kmh, 3),
            number(shifted.map(|s| s.read_kmh), 0),
            number(shifted.map(|s| s.before_kmh), 0),
            number(shifted.map(|s| s.true_kmh), 2),
            number(point.difference_kmh(), 3),
            shifted.and_then(|s| s.delay_ms).map_or(String::new(), |ms| ms.to_string()),
            number(point.margin_kmh(), 3),
            swing.map_or(String::new(), |by| by.to_string()),
            quoted(&came),
        ];
        let _ = writeln!(text, "{}", cells.join(","));
    }
    text
}

/// A number without a negative zero.
fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A cell whose text may hold anything: a spreadsheet reads no formula, and one line stays one line.
fn quoted(text: &str) -> String {
    let one_line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    format!("\"{}\"", one_line.replace('"', "\"\""))
}
