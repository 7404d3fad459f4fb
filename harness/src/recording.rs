//! The recording: every tick of a run, seen, true and out. All that rules, evidence and replay look at.

use crate::signal::{Announcement, Answer, Contacts, Inputs, Lever, Range, Request, Signal};
use std::fmt;

/// One tick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Time since the start of the drive, ms.
    pub t_ms: u32,
    /// The box has supply and runs.
    pub powered: bool,
    /// The box started afresh in this tick: power-up or reset.
    pub restarted: bool,
    /// The box runs, nobody does anything, and all but clock, answers and motion stands as in the row before; false also
    /// where that isn't known.
    pub still: bool,
    /// What the box was wired to.
    pub inputs: Inputs,
    /// Index of the first answer that arrived for this tick.
    pub answers_from: u32,
    /// How many arrived.
    pub answers: u8,
    /// How long the driver's demand, the brake and the grade have stood unchanged, ms; 0 while the pedal moves evenly.
    pub steady_ms: u32,
    /// What the vehicle did, at the instant of the tick (before this tick's contacts act).
    pub truth: Truth,
    /// State of the contacts from this tick on.
    pub contacts: Contacts,
    /// What the box announced.
    pub announcement: Option<Announcement>,
    /// Whether the box holds itself engaged, where exposed.
    pub engaged: Option<bool>,
    /// The gear the box thinks it is in, where exposed.
    pub counted_gear: Option<u8>,
}

/// What the vehicle does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Road speed, km/h; backwards is negative.
    pub speed_kmh: f64,
    /// Acceleration over the tick before, m/s².
    pub accel_mps2: f64,
    /// Speed of the driven wheels, km/h.
    pub wheel_kmh: f64,
    /// Engine speed, r/min.
    pub engine_rpm: f64,
    /// The engine runs.
    pub engine_on: bool,
    /// Engine torque over full-load torque, 0 to 1.
    pub load: f64,
    /// Gear (1 = first); the old one until the shift has ended.
    pub gear: u8,
    /// The gear that a running shift leads to, else the gear.
    pub target_gear: u8,
    /// A shift runs.
    pub shifting: bool,
    /// The lever as the gearbox has it.
    pub lever: Lever,
    /// The transfer case as it is.
    pub range: Range,
    /// Pedal, %.
    pub pedal_pct: f64,
    /// Braking, m/s².
    pub brake_mps2: f64,
    /// Grade, %.
    pub grade_pct: f64,
    /// The driver's own tap up.
    pub driver_up: bool,
    /// The driver's own tap down.
    pub driver_down: bool,
}

/// An answer with what only the harness knows of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delivered {
    /// As the box got it, arrival on the box's clock.
    pub answer: Answer,
    /// When the value was sampled, ms since the start of the drive.
    pub sampled_ms: u32,
    /// When it arrived, ms since the start of the drive.
    pub arrived_ms: u32,
}

/// Why a controller gave no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Silence {
    /// It panicked.
    Panicked(String),
    /// No answer within the limit of wall time, ms.
    TooLate(u64),
    /// Its process ended.
    Ended(String),
    /// It closed its output.
    Closed,
    /// A line that is no answer, and why.
    Garbage(String),
    /// An answer for another tick: asked for, got.
    OtherTick(u64, String),
    /// As a drive file tells it.
    Told(String),
    /// More output than the limit.
    Flood(String),
}

impl fmt::Display for Silence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Panicked(what) => write!(f, "it panicked: {what}"),
            Self::TooLate(ms) => write!(f, "no answer within {ms} ms of wall time"),
            Self::Ended(how) => write!(f, "its process ended: {how}"),
            Self::Closed => write!(f, "it closed its output"),
            Self::Garbage(what) => write!(f, "its answer can't be read: {what}"),
            Self::OtherTick(asked, got) => write!(f, "asked at {asked} ms, it answered for {got}"),
            Self::Told(what) => f.write_str(what),
            Self::Flood(what) => write!(f, "it prints more than an answer: {what}"),
        }
    }
}

/// Every tick of a run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recording {
    /// The controller's tick, ms.
    pub tick_ms: u32,
    /// Grip of the road: greatest friction coefficient, %.
    pub grip_pct: u8,
    /// One row a tick.
    pub rows: Vec<Row>,
    /// The answers, in order of arrival.
    pub delivered: Vec<Delivered>,
    /// What the box asked for on the diagnostic port, and when (ms), where it says so.
    pub requests: Vec<(u32, Request)>,
    /// Why the run ended early, if it did: at the tick after the last row.
    pub silence: Option<Silence>,
}

impl Recording {
    /// The answers that arrived for a row.
    #[must_use]
    pub fn answers_of(&self, row: &Row) -> &[Delivered] {
        let from = row.answers_from as usize;
        self.delivered.get(from..from + usize::from(row.answers)).unwrap_or(&[])
    }

    /// The rows from one time to before another, ms.
    #[must_use]
    pub fn rows_within(&self, from_ms: u32, to_ms: u32) -> &[Row] {
        let at = |ms: u32| self.rows.partition_point(|row| row.t_ms < ms);
        self.rows.get(at(from_ms)..at(to_ms)).unwrap_or(&[])
    }

    /// The value in the last answer of a signal at or before a row index, for display.
    #[must_use]
    pub fn last_value(&self, row_at: usize, signal: Signal) -> Option<f64> {
        let row = self.rows.get(row_at)?;
        let end = row.answers_from as usize + usize::from(row.answers);
        self.delivered.get(..end)?.iter().rev().find_map(|d| match d.answer.content {
            crate::signal::Content::Value(value) if d.answer.signal == signal => Some(value),
            _ => None,
        })
    }

    /// Forgets everything but the memory it holds.
    pub fn clear(&mut self) {
        self.rows.clear();
        self.delivered.clear();
        self.requests.clear();
        self.silence = None;
    }
}
