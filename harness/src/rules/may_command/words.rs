//! What the monitor looks at, and what it says.

use crate::signal::{Lever, Range};

/// Why an engagement ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// Ignition off.
    Ignition,
    /// Data lost.
    Data,
    /// Range not high.
    Range,
    /// Lever out of the gate.
    Lever,
    /// The driver's tap.
    Tap,
    /// All that is read has stood still with the engine running, for a box that is to notice.
    Stuck,
}

/// Why the controller must not command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// It has no supply.
    Off,
    /// No take-over edge since power-up.
    NoEdge,
    /// All is right since the edge but the speed read, which was never at the ceiling or below.
    Ceiling,
    /// Some other condition has not held long enough since the edge.
    NotAllRight,
    /// Disengaged by this cause, at this time (ms).
    After(Cause, u32),
}

/// Whether the controller may command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// It must not.
    MustNot(Why),
    /// Both are accepted: a reaction time, a bounce, or an engagement that may not have begun.
    Unsettled,
    /// It may.
    May,
}

/// What the monitor looks at in one tick.
#[derive(Debug, Clone, Copy)]
pub struct Now {
    /// Time, ms.
    pub ms: u32,
    /// The box has supply; false also for the tick of a reset.
    pub powered: bool,
    /// Lever as wired.
    pub lever: Lever,
    /// Range as wired.
    pub range: Option<Range>,
    /// Ignition.
    pub ignition: bool,
    /// The engage button was pressed in this tick.
    pub button_pressed: bool,
    /// A driver's tap edge that the box could tell from its own pulse.
    pub tapped: bool,
    /// A driver's tap level that the box could tell from its own pulse.
    pub tap_held: bool,
    /// The driver taps on a wire that the box's own pulse is on: it may tell or not.
    pub tap_in_doubt: bool,
    /// Newest valid speed, km/h, and its arrival, ms.
    pub speed: Option<(f64, u32)>,
    /// Arrival of the newest valid pedal, ms.
    pub pedal: Option<u32>,
    /// The engine runs, where the box can read it.
    pub engine_on: Option<bool>,
    /// For how long all that is read has stood still although the engine runs and answers go on, ms.
    pub still_ms: u32,
    /// The box has shown in this tick that it holds itself engaged (flag, announcement or a contact).
    pub shows_engaged: bool,
}

/// A disengage cause that met an open engagement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Closing {
    /// Which.
    pub cause: Cause,
    /// When, ms.
    pub at_ms: u32,
    /// The engagement had surely begun, so the box must have let go.
    pub sure: bool,
    /// It only pauses the box.
    pub pauses: bool,
}
