//! What happened in a recording, told once for all rules: commands, engagements, disengage causes, shifts.
//!
//! One pass over the rows; the rules then look at these short lists. Memory is kept from drive to drive.

mod due;
mod excuses;
mod hand_over;
pub mod handed;
mod legality;
mod pass;
mod rest;
pub mod still;
pub mod tape;
mod tell;
pub mod wants;

pub use legality::{Forbids, Lug, Miscount, Pulse, Stretch};

use super::may_command::{Closing, State};
use crate::signal::Direction;
use crate::spec::Spec;

/// A contact closing.
#[derive(Debug, Clone, Copy)]
pub struct Command {
    /// When it closed, ms.
    pub at_ms: u32,
    /// When it opened again, ms; the end of the recording if it never did.
    pub open_ms: u32,
    /// Which contact.
    pub direction: Direction,
    /// Whether the box may command.
    pub state: State,
    /// Newest speed read, km/h.
    pub speed_seen: Option<f64>,
    /// Newest pedal read, %.
    pub pedal_seen: Option<f64>,
    /// Time since the older of the two arrived, ms.
    pub age_seen_ms: Option<u32>,
    /// Time since the older of the two was sampled, ms.
    pub age_true_ms: Option<u32>,
    /// The gear as the box could know it, before the command acts.
    pub gear_seen: Option<u8>,
    /// The gear in the newest gear signal read.
    pub gear_read: Option<u8>,
    /// The gear of the gearbox, or the one its running shift leads to.
    pub gear_true: u8,
    /// That gear came by itself, not by a tap.
    pub gear_by_itself: bool,
    /// Road speed, km/h.
    pub speed_true: f64,
    /// Acceleration, m/s².
    pub accel_mps2: f64,
    /// Total ratio is that of the low range.
    pub low_range: bool,
    /// Since when the range is high again, where it has not been since power-up, ms.
    pub range_back_ms: Option<u32>,
    /// A newer gear than the one before the last command has arrived since that command.
    pub gear_confirmed: bool,
    /// The gear that a gear signal or the engine speed told, and when it arrived, ms.
    pub gear_told: Option<(u8, u32)>,
}

impl Command {
    /// The gear that the box could know is the true one.
    #[must_use]
    pub fn gear_known(&self) -> bool {
        self.gear_seen == Some(self.gear_true)
    }

    /// The total ratio is that of the low range, as far as the box could know: its wire tells.
    #[must_use]
    pub fn low_seen(&self, spec: &Spec) -> bool {
        self.low_range && spec.facts.signals.range
    }

    /// The gear that it asks for, where the box could know the one before.
    #[must_use]
    pub fn asks_for(&self) -> Option<u8> {
        let gear = self.gear_seen?;
        Some(if self.direction == Direction::Up { gear + 1 } else { gear.saturating_sub(1) })
    }

    /// The next one leads the box back to the gear that this one left, as far as it could know. Where the gearbox has
    /// shifted by itself in between, it takes back nothing.
    #[must_use]
    pub fn taken_back_by(&self, next: &Self) -> bool {
        let Some((gear, from)) = self.gear_seen.zip(next.gear_seen) else { return false };
        match (self.direction, next.direction) {
            (Direction::Up, Direction::Down) => gear + 1 == from,
            (Direction::Down, Direction::Up) => from + 1 == gear,
            _ => false,
        }
    }

    /// The lower gear of the pair that it shifts between: that which the box decided by, where it could know one.
    #[must_use]
    pub fn lower_gear(&self) -> u8 {
        let gear = self.gear_seen.unwrap_or(self.gear_true);
        if self.direction == Direction::Up { gear } else { gear.saturating_sub(1) }
    }
}

/// An instant at which the box shows itself engaged.
#[derive(Debug, Clone, Copy)]
pub struct Engaging {
    /// When, ms.
    pub at_ms: u32,
    /// What shows it: true for the flag or the announcement, false for the first closure.
    pub declared: bool,
    /// Whether it may.
    pub state: State,
    /// Speed read, km/h; the lowest within the announcement's allowed delay where only that shows it.
    pub speed_seen: Option<f64>,
    /// Road speed, km/h.
    pub speed_true: f64,
    /// Acceleration, m/s².
    pub accel_mps2: f64,
    /// For how long all conditions had held, ms; 0 if they don't.
    pub held_ms: u32,
}

/// A stretch of time in one state of the monitor.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    /// From, ms.
    pub from_ms: u32,
    /// To, ms.
    pub to_ms: u32,
    /// The state.
    pub state: State,
    /// A shift was due by the map in it.
    pub shift_due: bool,
}

/// A disengage cause and the last time a contact was closed within the second after it.
#[derive(Debug, Clone, Copy)]
pub struct Release {
    /// The cause.
    pub closing: Closing,
    /// End of the last closed contact that began before the cause or within the reaction time, ms after the cause. The
    /// harness makes the pulse of a request, which no box can cut short: then the end of the last request.
    pub last_closed_ms: Option<u32>,
    /// First closure that began later than the reaction time, ms after the cause.
    pub started_ms: Option<u32>,
    /// A pulse of the box ran when the cause came.
    pub in_pulse: bool,
    /// A shift ran when the cause came.
    pub in_shift: bool,
}

/// A shift of the gearbox.
#[derive(Debug, Clone, Copy)]
pub struct Shift {
    /// When it began, ms.
    pub from_ms: u32,
    /// When it ended, ms; the end of the recording if it never did.
    pub to_ms: u32,
    /// The gear left.
    pub from: u8,
    /// The gear entered.
    pub to: u8,
    /// Index of the command of the box that caused it.
    pub command: Option<usize>,
    /// Road speed at its end, km/h.
    pub speed_kmh: f64,
    /// Acceleration at its end, m/s².
    pub accel_mps2: f64,
    /// It ended within the recording.
    pub ended: bool,
}

impl Shift {
    /// Up or down.
    #[must_use]
    pub fn way(&self) -> Direction {
        if self.to > self.from { Direction::Up } else { Direction::Down }
    }
}

/// An obligation to engage.
#[derive(Debug, Clone, Copy)]
pub struct Due {
    /// When the box had to begin, ms: all conditions had held long enough.
    pub from_ms: u32,
    /// When it showed itself engaged, ms.
    pub engaged_ms: Option<u32>,
    /// Until when it was looked at, ms.
    pub until_ms: u32,
}

/// A speed read that can't have come about by driving: no timing of the link explains it.
#[derive(Debug, Clone, Copy)]
pub struct Leap {
    /// When it arrived, ms.
    pub at_ms: u32,
    /// It fell; else it rose.
    pub fell: bool,
    /// The last speed read that goes on from what was read before, km/h.
    pub settled_kmh: f64,
    /// The state of the monitor then.
    pub state: State,
}

/// A downshift plainly due after a hard stop that really was one.
#[derive(Debug, Clone, Copy)]
pub struct AfterStop {
    /// Since when it was due and nothing forbade it, ms.
    pub from_ms: u32,
    /// When it came, or until when it was looked at, ms.
    pub to_ms: u32,
}

/// How long after a cause contacts are looked at, ms: later closures are 'no command when it may not'.
pub const RELEASE_WINDOW_MS: u32 = 1000;

/// The story of one recording.
#[derive(Debug, Default)]
pub struct Story {
    /// Contacts closing, in time.
    pub commands: Vec<Command>,
    /// Engagements shown.
    pub engagings: Vec<Engaging>,
    /// The monitor's states.
    pub spans: Vec<Span>,
    /// Disengage causes.
    pub releases: Vec<Release>,
    /// Shifts.
    pub shifts: Vec<Shift>,
    /// Obligations to engage.
    pub dues: Vec<Due>,
    /// How often range, data, speed alone kept the box from engaging.
    pub only_missing: [u32; 3],
    /// Power-ups (with reset) with the lever in the gate and all else right for a while.
    pub edgeless: u32,
    /// Times that data were older than fresh and then came back before they were lost, while the box might command.
    pub stale_spells: u32,
    /// Speeds read that are implausible beyond doubt.
    pub leaps: Vec<Leap>,
    /// Downshifts plainly due after a hard stop without a leap.
    pub after_stops: Vec<AfterStop>,
    /// The box exposes a flag or announces.
    pub declares: bool,
    /// What the box shows of engaging and disengaging, and what speaks for it.
    pub hand: handed::HandOver,
    /// Length, ms.
    pub end_ms: u32,
    /// Stretches of steady driving after the run-in, (from, to) ms.
    pub steady: Vec<(u32, u32)>,
    /// A command was plainly due while the box may, and when (first such time), for a box that shows nothing.
    pub plainly_due: Vec<Due>,
    /// Contacts closed and opened, in the order of their closing.
    pub pulses: Vec<Pulse>,
    /// What forbids shifts, all along the recording.
    pub stretches: Vec<Stretch>,
    /// The box has told the gear it counts, at a time when it could know the gear.
    pub counts: bool,
    /// Times that the counted gear was off.
    pub miscounts: Vec<Miscount>,
    /// Gear changes after which the box was engaged and could know the gear when its count had to be right.
    pub settled_counts: u32,
    /// Lugging by what was read.
    pub lugs_seen: Vec<Lug>,
    /// Lugging in truth.
    pub lugs_true: Vec<Lug>,
    /// Times that a loaded engine came near lugging for a second.
    pub near_lugging: u32,
    /// Valid speeds read, in time.
    pub speeds: Vec<tape::Sample>,
    /// Valid pedals read, in time.
    pub pedals: Vec<tape::Sample>,
    /// Shifts that the map asked for, and commands that came before it had plainly done so.
    pub wants: Vec<wants::Want>,
    /// Times at which the pedal came down to light.
    pub lifts: Vec<wants::Lift>,
    /// Stretches of standing speed and pedal.
    pub settled: Vec<still::Settled>,
    /// Stretches of dithering speed and pedal.
    pub dithers: Vec<still::Dither>,
}

/// Run-in before steady driving counts, ms (our closed-loop experiments).
pub const RUN_IN_MS: u32 = 20_000;
