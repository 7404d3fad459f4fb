//! All that the reference remembers from tick to tick.

use super::senses::{NEVER, Senses};
use super::{MOST_KEPT, faulty, requests};
use crate::signal::Direction;

/// All that it remembers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct State {
    /// The box's clock at power-up.
    pub first_clock_ms: Option<u64>,
    pub senses: Senses,
    pub ready: bool,
    /// The lever is in the gate, bounce removed.
    pub in_gate: bool,
    /// Since when the lever reads the opposite.
    pub turning_ms: Option<i64>,
    /// When it last entered or left the gate.
    pub turned_ms: i64,
    pub button: bool,
    /// The take-over that may still lead to engaging.
    pub edge_ms: Option<i64>,
    /// Since when all conditions for engaging hold.
    pub held_since_ms: Option<i64>,
    pub engaged: bool,
    pub engaged_before: bool,
    /// When the range was last not high.
    pub range_low_ms: i64,
    /// The last engagements, the newest first.
    pub engagements_ms: [i64; MOST_KEPT],
    pub paused_until_ms: i64,
    /// Gear it counts with; 0 is unknown.
    pub counted: u8,
    /// When a command or the driver's tap last moved the gear.
    pub moved_ms: i64,
    /// Running pulse.
    pub pulse: Option<Direction>,
    /// Last command.
    pub last: Option<Direction>,
    pub last_ms: i64,
    pub last_up_ms: i64,
    pub last_down_ms: i64,
    pub pedal_at_up: f64,
    /// The gear counted before the last command.
    pub asked_from: u8,
    /// How often the last command has been given without the gear moving.
    pub tries: u8,
    /// The gear read in the tick before, 0 for none.
    pub gear_was: u8,
    /// Shifts in a row that went the other way than commanded.
    pub wrong: u8,
    /// The last command has been answered by a shift.
    pub answered: bool,
    /// Since when the gear read is below the range limit with an upshift due.
    pub due_since_ms: Option<i64>,
    /// When data were last lost, for one seeded fault.
    pub lost_ms: Option<i64>,
    /// Longer pulses, for another.
    pub longer_ms: i64,
    /// Speed answers so far and at the last command, for a third.
    pub speeds_counted: u32,
    pub speeds_at_command: u32,
    /// What some more remember.
    pub odd: faulty::Odd,
    /// The diagnostic requests.
    pub asking: requests::Asking,
}

impl State {
    /// As it wakes.
    pub const BLANK: Self = Self {
        first_clock_ms: None,
        senses: Senses::BLANK,
        ready: false,
        in_gate: false,
        turning_ms: None,
        turned_ms: 0,
        button: false,
        edge_ms: None,
        held_since_ms: None,
        engaged: false,
        engaged_before: false,
        range_low_ms: NEVER,
        engagements_ms: [NEVER; MOST_KEPT],
        paused_until_ms: NEVER,
        counted: 0,
        moved_ms: NEVER,
        pulse: None,
        last: None,
        last_ms: NEVER,
        last_up_ms: NEVER,
        last_down_ms: NEVER,
        pedal_at_up: 0.0,
        asked_from: 0,
        tries: 0,
        gear_was: 0,
        wrong: 0,
        answered: true,
        due_since_ms: None,
        lost_ms: None,
        longer_ms: 0,
        speeds_counted: 0,
        speeds_at_command: 0,
        odd: faulty::Odd::BLANK,
        asking: requests::Asking::BLANK,
    };
}
