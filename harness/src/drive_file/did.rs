//! What the box did, change by change, so that a replay can play it back without the build.

use crate::drive_text::TIME;
use crate::signal::{Announcement, Contacts};
use std::fmt;

/// What the box puts out from this instant on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Did {
    /// When, ms since the start of the drive.
    pub t_ms: u32,
    /// The contacts.
    pub contacts: Contacts,
    /// Whether it holds itself engaged, where exposed.
    pub engaged: Option<bool>,
    /// The gear it thinks it is in, where exposed.
    pub counted_gear: Option<u8>,
    /// What it announces at this instant.
    pub announcement: Option<Announcement>,
    /// Why it gave no answer from here on.
    pub silence: Option<String>,
}

/// What stands before the reason of a silence, which may hold any text and so comes last.
const SILENT: &str = ", silent: ";

impl fmt::Display for Did {
    /// "1230 ms: up closed, engaged, gear 3".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let contacts = match (self.contacts.up, self.contacts.down) {
            (false, false) => "open",
            (true, false) => "up closed",
            (false, true) => "down closed",
            (true, true) => "both closed",
        };
        write!(f, "{} ms: {contacts}", self.t_ms)?;
        match self.engaged {
            Some(true) => f.write_str(", engaged")?,
            Some(false) => f.write_str(", not engaged")?,
            None => {}
        }
        if let Some(gear) = self.counted_gear {
            write!(f, ", gear {gear}")?;
        }
        if let Some(announcement) = self.announcement {
            write!(f, ", says {}", announcement_text(announcement))?;
        }
        self.silence.as_ref().map_or(Ok(()), |why| write!(f, "{SILENT}{why}"))
    }
}

fn announcement_text(announcement: Announcement) -> &'static str {
    match announcement {
        Announcement::Ready => "ready",
        Announcement::Engaged => "engaged",
        Announcement::Disengaged => "disengaged",
        Announcement::Fault => "fault",
    }
}

/// Reads one line of what the box did.
///
/// # Errors
/// A sentence that says what is wrong and what would be right.
pub fn parse_did(text: &str) -> Result<Did, String> {
    let (said, silence) = match text.split_once(SILENT) {
        Some((said, why)) => (said, Some(why.to_owned())),
        None => (text, None),
    };
    let (time, rest) = said.split_once(':').ok_or_else(|| {
        format!("\"{said}\" has no colon: write for example \"1230 ms: up closed, engaged, gear 3, says engaged\"")
    })?;
    let mut parts = rest.split(',').map(str::trim);
    let (up, down) = match parts.next() {
        Some("open") => (false, false),
        Some("up closed") => (true, false),
        Some("down closed") => (false, true),
        Some("both closed") => (true, true),
        other => {
            let other = other.unwrap_or("");
            return Err(format!(
                "\"{other}\" is no state of the contacts: write open, up closed, down closed or both closed"
            ));
        }
    };
    let mut did = Did {
        t_ms: TIME.read(time)?,
        contacts: Contacts { up, down },
        engaged: None,
        counted_gear: None,
        announcement: None,
        silence,
    };
    for part in parts {
        match part {
            "engaged" => did.engaged = Some(true),
            "not engaged" => did.engaged = Some(false),
            "says ready" => did.announcement = Some(Announcement::Ready),
            "says engaged" => did.announcement = Some(Announcement::Engaged),
            "says disengaged" => did.announcement = Some(Announcement::Disengaged),
            "says fault" => did.announcement = Some(Announcement::Fault),
            _ => {
                let gear = part.strip_prefix("gear ").and_then(|number| number.parse().ok());
                did.counted_gear = Some(gear.ok_or_else(|| {
                    format!(
                        "\"{part}\" is nothing a box puts out: write engaged, not engaged, gear 3, says ready, says \
                         engaged, says disengaged, says fault, or silent: and why"
                    )
                })?);
            }
        }
    }
    Ok(did)
}
