//! Sentences that several rules share.

use super::View;
use super::may_command::Cause;
use super::story::Command;
use crate::outcome::Basis;
use crate::signal::{Announcement, Direction};

/// "upshift 3>4 at 51 km/h, pedal 12 %", with the gear and speed of the view.
#[must_use]
pub fn command(command: &Command, basis: Basis) -> String {
    let (name, step) = match command.direction {
        Direction::Up => ("upshift", 1i16),
        Direction::Down => ("downshift", -1),
    };
    let gear = match basis {
        Basis::Seen => command.gear_seen,
        Basis::True => Some(command.gear_true),
    };
    let gears = gear.map_or(String::new(), |g| format!(" {g}>{}", i16::from(g) + step));
    let speed = match (basis, command.speed_seen) {
        (Basis::Seen, Some(v)) => format!("{v:.0} km/h"),
        (Basis::Seen, None) => "no speed read".into(),
        (Basis::True, _) => format!("{:.1} km/h", command.speed_true),
    };
    let pedal = command.pedal_seen.map_or(String::new(), |p| format!(", pedal {p:.0} %"));
    format!("{name}{gears} at {speed}{pedal}")
}

/// The command that closed at a time, said; or just the time.
#[must_use]
pub fn command_at(view: &View<'_>, basis: Basis, at_ms: u32) -> String {
    view.story
        .commands
        .iter()
        .find(|c| c.at_ms == at_ms)
        .map_or_else(|| format!("at {}", time(at_ms)), |c| command(c, basis))
}

/// What ended an engagement: "the driver's tap".
#[must_use]
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Ignition => "the ignition went off",
        Cause::Data => "data were lost",
        Cause::Range => "the range left high",
        Cause::Lever => "the lever left the gate",
        Cause::Tap => "the driver's tap",
        Cause::Stuck => "all readings stood still",
    }
}

/// The word of an announcement.
#[must_use]
pub fn announcement(what: Announcement) -> &'static str {
    match what {
        Announcement::Ready => "ready",
        Announcement::Engaged => "engaged",
        Announcement::Disengaged => "disengaged",
        Announcement::Fault => "fault",
    }
}

/// "12.34 s".
#[must_use]
pub fn time(at_ms: u32) -> String {
    format!("{:.2} s", f64::from(at_ms) / 1000.0)
}
