//! Protocol 1.6 as text: one JSON object a line, each way. `PROTOCOL.md` describes it for those who write a controller.
//!
//! Pure: bytes in, bytes out. What a controller writes is data to be judged, so every failure is a sentence.

#[cfg(test)]
mod tests;

use super::hello::{Hello, PROTOCOL};
use crate::recording::Silence;
use crate::signal::{
    Action, Announcement, Answer, Contacts, Content, Direction, Inputs, Lever, Output, Range, Request, Signal,
};
use serde::{Deserialize, Serialize};
use std::io::Write;

/// What a controller answers with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The state of each contact.
    Contacts,
    /// Wishes for a shift.
    Requests,
}

/// The controller's answer to the hello.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Welcome {
    /// The version it speaks.
    pub protocol: [u32; 2],
    /// Its name.
    pub name: String,
    /// Its own version.
    pub version: String,
    /// What it answers with.
    pub answers: Kind,
    /// It can be reset; otherwise a new process is started for each drive.
    pub reset: bool,
    /// So many instances of the box it can be at once; one where it doesn't say.
    #[serde(default = "one")]
    pub instances: u32,
}

fn one() -> u32 {
    1
}

/// The line that starts everything.
#[must_use]
pub fn hello_line(hello: &Hello) -> String {
    #[derive(Serialize)]
    struct Line<'a> {
        sprag: &'static str,
        #[serde(flatten)]
        hello: &'a Hello,
    }
    // Plain numbers and names: there is nothing in a hello that JSON can't hold.
    serde_json::to_string(&Line { sprag: "hello", hello }).unwrap_or_default() + "\n"
}

/// Reads the answer to the hello.
///
/// # Errors
/// What is wrong with it.
pub fn read_welcome(line: &[u8]) -> Result<Welcome, String> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Line {
        hello: Welcome,
    }
    let welcome = serde_json::from_slice::<Line>(line).map_err(|error| unreadable(line, &error))?.hello;
    let [major, minor] = welcome.protocol;
    if major != PROTOCOL[0] || minor > PROTOCOL[1] {
        return Err(format!(
            "it speaks protocol {major}.{minor}, but this harness speaks {}.{}",
            PROTOCOL[0], PROTOCOL[1]
        ));
    }
    match (welcome.instances, welcome.reset) {
        (0, _) => Err("it offers 0 instances, where 1 is the least".to_owned()),
        (2.., false) => Err("it offers several instances, which takes that it can be reset".to_owned()),
        _ => Ok(welcome),
    }
}

/// The line for power-up.
pub const RESET_LINE: &[u8] = b"{\"reset\":true}\n";

/// Reads the answer to a reset, of this instance where there are several.
///
/// # Errors
/// What is wrong with it.
pub fn read_reset(line: &[u8], instance: Option<u32>) -> Result<(), Silence> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Line<'a> {
        i: Option<u32>,
        #[serde(borrow)]
        reset: std::borrow::Cow<'a, str>,
    }
    match serde_json::from_slice::<Line>(line) {
        Ok(reply) if reply.i != instance => Err(other_instance(line, instance)),
        Ok(reply) if reply.reset == "done" => Ok(()),
        Ok(_) => Err(Silence::Garbage(format!("{} where {{\"reset\":\"done\"}} was due", excerpt(line)))),
        Err(error) => Err(Silence::Garbage(unreadable(line, &error))),
    }
}

/// Appends power-up for one of several instances.
pub fn write_reset_of(to: &mut Vec<u8>, instance: u32) {
    to.extend_from_slice(b"{\"i\":");
    number(to, u64::from(instance));
    to.extend_from_slice(b",\"reset\":true}");
}

/// Appends the line of a tick.
pub fn write_tick(to: &mut Vec<u8>, inputs: &Inputs, answers: &[Answer]) {
    to.push(b'{');
    write_inputs(to, inputs, answers);
    to.push(b'\n');
}

/// Appends a tick of one of several instances.
pub fn write_tick_of(to: &mut Vec<u8>, instance: u32, inputs: &Inputs, answers: &[Answer]) {
    to.extend_from_slice(b"{\"i\":");
    number(to, u64::from(instance));
    to.push(b',');
    write_inputs(to, inputs, answers);
}

fn write_inputs(to: &mut Vec<u8>, inputs: &Inputs, answers: &[Answer]) {
    to.extend_from_slice(b"\"t\":");
    number(to, inputs.time_ms);
    to.extend_from_slice(b",\"lever\":");
    to.extend_from_slice(match inputs.lever {
        Lever::P => b"\"p\"",
        Lever::R => b"\"r\"",
        Lever::N => b"\"n\"",
        Lever::D => b"\"d\"",
        Lever::Gate => b"\"gate\"",
    });
    if let Some(range) = inputs.range {
        to.extend_from_slice(match range {
            Range::High => b",\"range\":\"high\"",
            Range::Transit => b",\"range\":\"transit\"",
            Range::Low => b",\"range\":\"low\"",
        });
    }
    flag(to, b"ignition", inputs.ignition);
    to.extend_from_slice(b",\"supply_mv\":");
    number(to, u64::from(inputs.supply_mv));
    if let Some(button) = inputs.button {
        flag(to, b"button", button);
    }
    flag(to, b"tap_up", inputs.tap_up);
    flag(to, b"tap_down", inputs.tap_down);
    to.extend_from_slice(b",\"tap_up_edges\":");
    number(to, u64::from(inputs.tap_up_edges));
    to.extend_from_slice(b",\"tap_down_edges\":");
    number(to, u64::from(inputs.tap_down_edges));
    to.extend_from_slice(b",\"answers\":[");
    for (at, answer) in answers.iter().enumerate() {
        if at > 0 {
            to.push(b',');
        }
        write_answer(to, answer);
    }
    to.extend_from_slice(b"]}");
}

fn write_answer(to: &mut Vec<u8>, answer: &Answer) {
    to.extend_from_slice(b"{\"signal\":");
    to.extend_from_slice(match answer.signal {
        Signal::Speed => b"\"speed\"",
        Signal::Pedal => b"\"pedal\"",
        Signal::EngineSpeed => b"\"engine-speed\"",
        Signal::Gear => b"\"gear\"",
    });
    match answer.content {
        Content::Value(value) if value.is_finite() => {
            to.extend_from_slice(b",\"value\":");
            // Writing to memory can't fail.
            let _ = write!(to, "{value}");
        }
        Content::Value(_) => to.extend_from_slice(b",\"value\":null"),
        Content::Negative(code) => {
            to.extend_from_slice(b",\"negative\":");
            number(to, u64::from(code));
        }
    }
    to.extend_from_slice(b",\"arrival\":");
    number(to, answer.arrival_ms);
    to.push(b'}');
}

fn flag(to: &mut Vec<u8>, name: &[u8], on: bool) {
    to.extend_from_slice(b",\"");
    to.extend_from_slice(name);
    to.extend_from_slice(if on { b"\":true" } else { b"\":false" });
}

fn number(to: &mut Vec<u8>, mut value: u64) {
    let from = to.len();
    loop {
        to.push(b'0' + (value % 10) as u8);
        value /= 10;
        if value == 0 {
            break;
        }
    }
    if let Some(digits) = to.get_mut(from..) {
        digits.reverse();
    }
}

/// Reads the answer to a tick.
///
/// # Errors
/// Why it is none.
pub fn read_tick(line: &[u8], asked_ms: u64, kind: Kind) -> Result<Output, Silence> {
    read_tick_and_requests(line, None, asked_ms, kind, &mut Vec::new())
}

/// The same, of this instance where there are several; the diagnostic requests that it tells are added to `sent`.
///
/// # Errors
/// Why it is none.
pub fn read_tick_and_requests(
    line: &[u8],
    instance: Option<u32>,
    asked_ms: u64,
    kind: Kind,
    sent: &mut Vec<Request>,
) -> Result<Output, Silence> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Line {
        i: Option<u32>,
        t: u64,
        up: Option<bool>,
        down: Option<bool>,
        request: Option<Direction>,
        engaged: Option<bool>,
        gear: Option<u8>,
        announce: Option<Announcement>,
        requests: Option<Vec<String>>,
    }
    let reply: Line = serde_json::from_slice(line).map_err(|error| Silence::Garbage(unreadable(line, &error)))?;
    if reply.i != instance {
        return Err(other_instance(line, instance));
    }
    if reply.t != asked_ms {
        return Err(Silence::OtherTick(asked_ms, format!("{} ms", reply.t)));
    }
    let wrong = |what: &str| Err(Silence::Garbage(format!("{what}: {}", excerpt(line))));
    let action = match (kind, reply.up, reply.down, reply.request) {
        (Kind::Contacts, Some(up), Some(down), None) => Action::Contacts(Contacts { up, down }),
        (Kind::Contacts, _, _, Some(_)) => return wrong("\"request\" from a controller that said it answers contacts"),
        (Kind::Contacts, ..) => return wrong("\"up\" or \"down\" is missing"),
        (Kind::Requests, None, None, request) => Action::Request(request),
        (Kind::Requests, ..) => return wrong("\"up\" or \"down\" from a controller that said it answers requests"),
    };
    for text in reply.requests.unwrap_or_default() {
        let Some(request) = Request::read(&text) else {
            return wrong(&format!(
                "\"{}\" is no request of one to seven bytes such as \"010D\"",
                excerpt(text.as_bytes())
            ));
        };
        sent.push(request);
    }
    Ok(Output { action, announcement: reply.announce, engaged: reply.engaged, counted_gear: reply.gear })
}

fn other_instance(line: &[u8], instance: Option<u32>) -> Silence {
    let due = instance.map_or("no \"i\"".to_owned(), |instance| format!("\"i\":{instance}"));
    Silence::Garbage(format!("{} where {due} was due", excerpt(line)))
}

/// The entries of a list, each still to be read.
///
/// # Errors
/// A sentence, where it is no list.
pub fn entries(line: &[u8]) -> Result<Vec<&[u8]>, String> {
    let no_list = || format!("a list was due: {}", excerpt(line));
    let inner = line.trim_ascii().strip_prefix(b"[").and_then(|rest| rest.strip_suffix(b"]")).ok_or_else(no_list)?;
    let mut found = Vec::new();
    let (mut depth, mut in_text, mut escaped, mut from) = (0_usize, false, false, 0);
    for (at, &byte) in inner.iter().enumerate() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if in_text => escaped = true,
            b'"' => in_text = !in_text,
            _ if in_text => {}
            b'{' | b'[' => depth += 1,
            b'}' | b']' => depth = depth.checked_sub(1).ok_or_else(no_list)?,
            b',' if depth == 0 => {
                found.extend(inner.get(from..at));
                from = at + 1;
            }
            _ => {}
        }
    }
    if !inner.trim_ascii().is_empty() {
        found.extend(inner.get(from..));
    }
    Ok(found)
}

/// A sentence for a line that can't be read.
fn unreadable(line: &[u8], error: &serde_json::Error) -> String {
    // serde_json counts lines; here there is one, so the column is the byte.
    let text = error.to_string();
    // It names a strange key as it was written, with whatever control characters and of whatever length.
    let cause = excerpt(text.split(" at line ").next().unwrap_or(&text).as_bytes());
    format!("{cause}, at byte {} of {}", error.column(), excerpt(line))
}

/// The beginning of what was written, fit for a message: one line, printable.
#[must_use]
pub fn excerpt(bytes: &[u8]) -> String {
    const MOST: usize = 120;
    let text = String::from_utf8_lossy(bytes.get(..MOST).unwrap_or(bytes));
    let mut shown: String = text.trim_end().chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if bytes.len() > MOST {
        shown.push_str(" ...");
    }
    if shown.is_empty() { "an empty line".to_owned() } else { shown }
}
