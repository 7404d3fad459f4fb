//! Whatever a controller writes is an answer or a short sentence on why it is none; what is read, written out by the
//! protocol's words and read again is the same.

#![no_main]

use libfuzzer_sys::fuzz_target;
use sprag::controller::wire::{Kind, entries, excerpt, read_reset, read_tick, read_welcome};
use sprag::signal::{Action, Announcement, Direction, Output};

/// The tick that was asked for.
const ASKED_MS: u64 = 1230;

/// The answer as a controller would write it.
fn written(output: &Output) -> String {
    let mut line = format!("{{\"t\":{ASKED_MS}");
    line += &match output.action {
        Action::Contacts(contacts) => format!(",\"up\":{},\"down\":{}", contacts.up, contacts.down),
        Action::Request(Some(Direction::Up)) => ",\"request\":\"up\"".to_owned(),
        Action::Request(Some(Direction::Down)) => ",\"request\":\"down\"".to_owned(),
        Action::Request(None) => ",\"request\":null".to_owned(),
    };
    if let Some(engaged) = output.engaged {
        line += &format!(",\"engaged\":{engaged}");
    }
    if let Some(gear) = output.counted_gear {
        line += &format!(",\"gear\":{gear}");
    }
    if let Some(announcement) = output.announcement {
        let word = match announcement {
            Announcement::Ready => "ready",
            Announcement::Engaged => "engaged",
            Announcement::Disengaged => "disengaged",
            Announcement::Fault => "fault",
        };
        line += &format!(",\"announce\":\"{word}\"");
    }
    line + "}"
}

fuzz_target!(|bytes: &[u8]| {
    for kind in [Kind::Contacts, Kind::Requests] {
        match read_tick(bytes, ASKED_MS, kind) {
            Ok(output) => assert_eq!(read_tick(written(&output).as_bytes(), ASKED_MS, kind), Ok(output)),
            Err(silence) => {
                let says = silence.to_string();
                assert!(!says.is_empty() && says.len() < 2000 && !says.contains('\n'), "{says}");
            }
        }
    }
    if let Err(says) = read_welcome(bytes) {
        assert!(!says.is_empty() && says.len() < 2000 && !says.contains('\n'), "{says}");
    }
    let _ = (read_reset(bytes, None), entries(bytes).map(|all| all.len()));
    assert!(!excerpt(bytes).chars().any(char::is_control));
});
