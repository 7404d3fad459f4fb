//! What a drive teaches: each rule's smallest margin, the times at which something went on, and the cells it came to.

use crate::drive::{Drive, Happening};
use crate::recording::{Recording, Row};
use crate::rules::may_command::{Cause, State, Why};
use crate::rules::story::Story;
use crate::signal::{Direction, Lever};

/// Something at whose very tick something else may come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Moment {
    /// The box closes a contact.
    Closes,
    /// It opens it again.
    Opens,
    /// The gearbox begins to shift.
    ShiftBegins,
    /// It has shifted.
    ShiftEnds,
    /// The box shows itself engaged.
    Engages,
    /// The box starts afresh.
    Wakes,
    /// The lever comes into the gate.
    Gate,
    /// A line is crossed: the map asks for a shift.
    Asks,
    /// Something happens by the drive.
    Happens,
    /// An answer arrives with the box engaged.
    Answer,
}

/// Of each kind of moment no more are kept of one drive.
const MOST_OF_A_KIND: usize = 48;

/// What one drive taught.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lesson {
    /// The drive.
    pub drive: Drive,
    /// Rules by index, with the smaller of their margins and its time, ms.
    pub margins: Vec<(u8, f64, u32)>,
    /// Moments with their times, ms.
    pub moments: Vec<(Moment, u32)>,
    /// Cells of what there is to come to.
    pub cells: Vec<u32>,
}

impl Lesson {
    /// Of a drive and what it came to: rules' margins with their times, what happened, its recording, and when its
    /// events came.
    #[must_use]
    pub fn of(
        drive: &Drive,
        margins: impl Iterator<Item = (u8, f64, u32)>,
        story: &Story,
        recording: &Recording,
        fired: impl Iterator<Item = Option<u32>>,
    ) -> Self {
        let fired: Vec<(u32, Happening)> =
            fired.zip(&drive.events).filter_map(|(at, event)| Some((at?, event.what))).collect();
        let mut cells = Vec::new();
        driving(story, recording, &mut cells);
        commanding(story, &mut cells);
        happening(story, &fired, recording.tick_ms, &mut cells);
        cells.sort_unstable();
        cells.dedup();
        Self { drive: drive.clone(), margins: margins.collect(), moments: moments(story, recording, &fired), cells }
    }

    /// One put together by hand.
    #[cfg(test)]
    pub fn made(drive: Drive, margins: &[(u8, f64, u32)], moments: &[(Moment, u32)], cells: &[u32]) -> Self {
        Self { drive, margins: margins.to_vec(), moments: moments.to_vec(), cells: cells.to_vec() }
    }

    /// The times of a kind of moment, ms.
    pub fn times(&self, moment: Moment) -> impl Iterator<Item = u32> + '_ {
        self.moments.iter().filter(move |(kind, _)| *kind == moment).map(|(_, ms)| *ms)
    }
}

fn moments(story: &Story, recording: &Recording, fired: &[(u32, Happening)]) -> Vec<(Moment, u32)> {
    let mut all = Vec::new();
    let mut add = |moment, times: &mut dyn Iterator<Item = u32>| {
        let times: Vec<u32> = times.collect();
        // Where there are too many, evenly spread.
        let every = times.len().div_ceil(MOST_OF_A_KIND).max(1);
        all.extend(times.into_iter().step_by(every).map(|ms| (moment, ms)));
    };
    add(Moment::Closes, &mut story.commands.iter().map(|c| c.at_ms));
    add(Moment::Opens, &mut story.commands.iter().map(|c| c.open_ms));
    add(Moment::ShiftBegins, &mut story.shifts.iter().map(|s| s.from_ms));
    add(Moment::ShiftEnds, &mut story.shifts.iter().filter(|s| s.ended).map(|s| s.to_ms));
    add(Moment::Engages, &mut story.engagings.iter().map(|e| e.at_ms));
    let into = |pair: &[Row]| match pair {
        [before, now] if before.inputs.lever != Lever::Gate && now.inputs.lever == Lever::Gate => Some(now.t_ms),
        _ => None,
    };
    add(Moment::Wakes, &mut recording.rows.iter().filter(|row| row.restarted).map(|row| row.t_ms));
    add(Moment::Gate, &mut recording.rows.windows(2).filter_map(into));
    add(Moment::Asks, &mut story.wants.iter().map(|w| w.from_ms));
    add(Moment::Happens, &mut fired.iter().map(|(ms, _)| *ms));
    let mays = || story.spans.iter().filter(|span| span.state == State::May);
    let may = |ms: u32| mays().any(|span| (span.from_ms..span.to_ms).contains(&ms));
    // Odd, so that neither signal is left out.
    add(Moment::Answer, &mut recording.delivered.iter().step_by(17).map(|d| d.arrived_ms).filter(|ms| may(*ms)));
    all
}

/// A cell: what kind it is, and three small numbers.
fn cell(kind: u32, a: u32, b: u32, c: u32) -> u32 {
    (kind << 24) | (a.min(255) << 16) | (b.min(255) << 8) | c.min(255)
}

/// Gear pair, pedal band, speed band: where shifts were commanded, and where speed and pedal stood still.
fn driving(story: &Story, recording: &Recording, cells: &mut Vec<u32>) {
    let band = |value: f64, width: f64| (value.max(0.0) / width) as u32;
    for command in &story.commands {
        let pair = u32::from(command.lower_gear()) * 2 + u32::from(command.direction == Direction::Up);
        cells.push(cell(1, pair, band(command.pedal_seen.unwrap_or(0.0), 12.5), band(command.speed_true, 10.0)));
    }
    let still = story.settled.iter().map(|s| (2, s.from_ms)).chain(story.dithers.iter().map(|d| (3, d.from_ms)));
    for (kind, from_ms) in still {
        let at = recording.rows.partition_point(|row| row.t_ms < from_ms);
        if let Some(row) = recording.rows.get(at) {
            let truth = &row.truth;
            cells.push(cell(kind, truth.gear.into(), band(truth.pedal_pct, 12.5), band(truth.speed_kmh, 5.0)));
        }
    }
}

/// States of the may-command monitor, with why it must not, and causes that ended an engagement in pulse or shift.
fn commanding(story: &Story, cells: &mut Vec<u32>) {
    let mut before = 0;
    for span in &story.spans {
        let state = match span.state {
            State::May => 1,
            State::Unsettled => 2,
            State::MustNot(Why::Off) => 3,
            State::MustNot(Why::NoEdge) => 4,
            State::MustNot(Why::Ceiling) => 5,
            State::MustNot(Why::NotAllRight) => 6,
            State::MustNot(Why::After(cause, _)) => 7 + number(cause),
        };
        cells.push(cell(4, before, state, u32::from(span.shift_due)));
        before = state;
    }
    for release in &story.releases {
        let during = u32::from(release.in_pulse) + 2 * u32::from(release.in_shift);
        cells.push(cell(5, number(release.closing.cause), during, u32::from(release.closing.sure)));
    }
}

fn number(cause: Cause) -> u32 {
    match cause {
        Cause::Ignition => 0,
        Cause::Data => 1,
        Cause::Range => 2,
        Cause::Lever => 3,
        Cause::Tap => 4,
        Cause::Stuck => 5,
    }
}

/// Each kind of happening in each phase of a shift, and with what it shares a tick.
fn happening(story: &Story, fired: &[(u32, Happening)], tick_ms: u32, cells: &mut Vec<u32>) {
    for &(ms, what) in fired {
        let near = |other: u32| other.abs_diff(ms) <= tick_ms;
        let tie = [
            story.commands.iter().any(|c| near(c.at_ms)),
            story.commands.iter().any(|c| near(c.open_ms)),
            story.shifts.iter().any(|s| near(s.from_ms)),
            story.shifts.iter().any(|s| near(s.to_ms)),
            story.engagings.iter().any(|e| near(e.at_ms)),
            fired.iter().filter(|(other, _)| near(*other)).count() > 1,
        ];
        let ties = tie.iter().fold(0, |sum, one| sum * 2 + u32::from(*one));
        let may = story.spans.iter().any(|s| s.state == State::May && (s.from_ms..s.to_ms).contains(&ms));
        let pulse = story.commands.iter().any(|c| (c.at_ms..c.open_ms).contains(&ms));
        let shift = story.shifts.iter().any(|s| (s.from_ms..s.to_ms).contains(&ms));
        let phase = [may, pulse, shift].iter().fold(0, |sum, one| sum * 2 + u32::from(*one));
        cells.push(cell(6, what.kind().into(), phase, ties));
    }
}
