//! The ticks around a failure as text, side by side: what the box read, what the vehicle did, what the box did.

use crate::recording::{Recording, Row};
use crate::signal::{Announcement, Lever, Range, Signal};

/// The heading of the table.
pub const HEAD: [&str; 2] = [
    "   time | box read                         | vehicle                                 | box did",
    "      s | km/h pedal%  age s lever   range | km/h  wheels  rpm  gear    load % pedal | contacts flag gear announces",
];

/// Ticks from `before_ms` before to `after_ms` after an instant: all that differ in anything but the vehicle's slow
/// numbers, and else one in ten. The failing tick carries a mark.
#[must_use]
pub fn table(recording: &Recording, at_ms: u32, before_ms: u32, after_ms: u32) -> Vec<String> {
    let mut lines: Vec<String> = HEAD.iter().map(|&line| line.to_owned()).collect();
    let from_ms = at_ms.saturating_sub(before_ms);
    let mut last: Option<&Row> = None;
    for (index, row) in recording.rows.iter().enumerate() {
        if row.t_ms < from_ms || row.t_ms > at_ms.saturating_add(after_ms) {
            continue;
        }
        let turn = last.is_none_or(|l| differs(l, row));
        if turn || row.t_ms == at_ms || (row.t_ms / recording.tick_ms.max(1)).is_multiple_of(10) {
            lines.push(line(recording, index, row, at_ms));
        }
        last = Some(row);
    }
    if let Some(silence) = &recording.silence {
        lines.push(format!(
            "{:>7.2} | no answer: {silence}",
            f64::from(recording.rows.last().map_or(0, |r| r.t_ms + recording.tick_ms)) / 1000.0
        ));
    }
    lines
}

fn differs(a: &Row, b: &Row) -> bool {
    a.contacts != b.contacts
        || a.engaged != b.engaged
        || a.counted_gear != b.counted_gear
        || b.announcement.is_some()
        || a.truth.gear != b.truth.gear
        || a.truth.shifting != b.truth.shifting
        || a.inputs.lever != b.inputs.lever
        || a.inputs.range != b.inputs.range
        || a.powered != b.powered
}

fn line(recording: &Recording, index: usize, row: &Row, at_ms: u32) -> String {
    let read = |signal| recording.last_value(index, signal);
    let number =
        |value: Option<f64>, width: usize| value.map_or(format!("{:>width$}", "-"), |v| format!("{v:>width$.0}"));
    let age = newest_age_s(recording, index).map_or("   -".to_owned(), |s| format!("{s:>4.2}"));
    let range = row.inputs.range.map_or("-", range_word);
    let truth = &row.truth;
    let gear = if truth.shifting { format!("{}>{}", truth.gear, truth.target_gear) } else { truth.gear.to_string() };
    let contacts = match (row.powered, row.contacts.up, row.contacts.down) {
        (false, ..) => "off",
        (true, true, true) => "both",
        (true, true, false) => "up",
        (true, false, true) => "down",
        (true, false, false) => "open",
    };
    let flag = row.engaged.map_or("-", |e| if e { "on" } else { "off" });
    let counted = row.counted_gear.map_or("-".to_owned(), |g| g.to_string());
    let tap = match (truth.driver_up, truth.driver_down) {
        (true, _) => " driver taps up",
        (_, true) => " driver taps down",
        _ => "",
    };
    let mark = if row.t_ms == at_ms { "  <-- here" } else { "" };
    format!(
        "{:>7.2} | {} {}  {age}  {:<6} {:<8} | {:>5.1} {:>6.1} {:>5.0}  {:<5} {:>5.0} {:>6.0}  | {:<8} {:<4} {:<4} {}{tap}{mark}",
        f64::from(row.t_ms) / 1000.0,
        number(read(Signal::Speed), 4),
        number(read(Signal::Pedal), 5),
        lever_word(row.inputs.lever),
        range,
        truth.speed_kmh,
        truth.wheel_kmh,
        truth.engine_rpm,
        gear,
        truth.load * 100.0,
        truth.pedal_pct,
        contacts,
        flag,
        counted,
        row.announcement.map_or("", announcement_word),
    )
    .trim_end()
    .to_owned()
}

/// Time since the older of the newest speed and the newest pedal arrived, s.
fn newest_age_s(recording: &Recording, index: usize) -> Option<f64> {
    let row = recording.rows.get(index)?;
    let end = row.answers_from as usize + usize::from(row.answers);
    let arrived =
        |signal| recording.delivered.get(..end)?.iter().rev().find(|d| d.answer.signal == signal).map(|d| d.arrived_ms);
    let older = arrived(Signal::Speed)?.min(arrived(Signal::Pedal)?);
    Some(f64::from(row.t_ms.saturating_sub(older)) / 1000.0)
}

fn lever_word(lever: Lever) -> &'static str {
    match lever {
        Lever::P => "P",
        Lever::R => "R",
        Lever::N => "N",
        Lever::D => "D",
        Lever::Gate => "gate",
    }
}

fn range_word(range: Range) -> &'static str {
    match range {
        Range::High => "high",
        Range::Transit => "between",
        Range::Low => "low",
    }
}

fn announcement_word(announcement: Announcement) -> &'static str {
    match announcement {
        Announcement::Ready => "ready",
        Announcement::Engaged => "engaged",
        Announcement::Disengaged => "disengaged",
        Announcement::Fault => "fault",
    }
}
