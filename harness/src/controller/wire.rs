//! Protocol 1.4 as text: one JSON object a line, each way. `PROTOCOL.md` describes it for those who write a controller.
//!
//! Pure: bytes in, bytes out. What a controller writes is data to be judged, so every failure is a sentence.

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

#[cfg(test)]
mod tests {
    use super::*;

    fn inputs() -> Inputs {
        Inputs {
            time_ms: 1230,
            lever: Lever::Gate,
            range: Some(Range::High),
            ignition: true,
            supply_mv: 12_600,
            button: None,
            tap_up: false,
            tap_down: true,
            tap_up_edges: 0,
            tap_down_edges: 2,
        }
    }

    #[test]
    fn a_tick_is_one_line_with_what_is_offered() {
        let answers = [
            Answer { signal: Signal::Speed, content: Content::Value(51.0), arrival_ms: 1228 },
            Answer { signal: Signal::Pedal, content: Content::Negative(18), arrival_ms: 1229 },
        ];
        let mut line = Vec::new();
        write_tick(&mut line, &inputs(), &answers);
        assert_eq!(
            String::from_utf8(line).unwrap(),
            "{\"t\":1230,\"lever\":\"gate\",\"range\":\"high\",\"ignition\":true,\"supply_mv\":12600,\"tap_up\":false,\
             \"tap_down\":true,\"tap_up_edges\":0,\"tap_down_edges\":2,\"answers\":[{\"signal\":\"speed\",\"value\":51,\
             \"arrival\":1228},{\"signal\":\"pedal\",\"negative\":18,\"arrival\":1229}]}\n"
        );
    }

    #[test]
    fn numbers_read_back_the_same() {
        for value in [0, 9, 10, 1_234_567_890, u64::MAX] {
            let mut text = b"x".to_vec();
            number(&mut text, value);
            assert_eq!(String::from_utf8(text).unwrap(), format!("x{value}"));
        }
        let answer =
            Answer { signal: Signal::Pedal, content: Content::Value(100.0 / 255.0 * 77.0), arrival_ms: u64::MAX };
        let mut text = Vec::new();
        write_answer(&mut text, &answer);
        let read: serde_json::Value = serde_json::from_slice(&text).unwrap();
        assert_eq!(read["value"].as_f64(), Some(100.0 / 255.0 * 77.0));
        assert_eq!(read["arrival"].as_u64(), Some(u64::MAX));
    }

    #[test]
    fn an_answer_is_read() {
        let line = br#"{"t":1230,"up":false,"down":true,"engaged":true,"gear":3,"announce":"engaged"}"#;
        let expected = Output {
            action: Action::Contacts(Contacts { up: false, down: true }),
            announcement: Some(Announcement::Engaged),
            engaged: Some(true),
            counted_gear: Some(3),
        };
        assert_eq!(read_tick(line, 1230, Kind::Contacts), Ok(expected));
        let output = read_tick(br#"{"t":5,"request":"up"}"#, 5, Kind::Requests).unwrap();
        assert_eq!(output.action, Action::Request(Some(Direction::Up)));
        let output = read_tick(br#"{"t":5,"request":null,"gear":null}"#, 5, Kind::Requests).unwrap();
        assert_eq!((output.action, output.counted_gear), (Action::Request(None), None));
    }

    #[test]
    fn what_was_asked_for_is_read() {
        let read = |requests: &str| {
            let line = format!(r#"{{"t":5,"up":false,"down":false,"requests":{requests}}}"#);
            let mut sent = Vec::new();
            read_tick_and_requests(line.as_bytes(), None, 5, Kind::Contacts, &mut sent).map(|_| sent)
        };
        let sent = read(r#"["010D","22f190","04"]"#).unwrap();
        assert_eq!(sent.iter().map(ToString::to_string).collect::<Vec<_>>(), ["010D", "22F190", "04"]);
        assert_eq!(sent.iter().map(Request::service).collect::<Vec<_>>(), [0x01, 0x22, 0x04]);
        assert_eq!(sent.get(1).map(Request::bytes), Some(&[0x22, 0xF1, 0x90][..]));
        assert_eq!(read("[]"), Ok(Vec::new()));
        assert_eq!(read("null"), Ok(Vec::new()));
        for wrong in ["[\"\"]", "[\"01D\"]", "[\"01 0D\"]", "[\"0102030405060708\"]", "[\"é1\"]"] {
            assert!(matches!(read(wrong), Err(Silence::Garbage(why)) if why.contains("is no request")), "{wrong}");
        }
        assert!(read("[13]").is_err());
    }

    #[test]
    fn what_is_no_answer_says_why() {
        let garbage = |line: &str, kind| match read_tick(line.as_bytes(), 5, kind) {
            Err(Silence::Garbage(why)) => why,
            other => panic!("{line}: {other:?}"),
        };
        let contacts = |line| garbage(line, Kind::Contacts);
        assert!(contacts(r#"{"t":5,"up":false,"down":false,"gaer":3}"#).starts_with("unknown field `gaer`"));
        assert!(contacts(r#"{"t":5,"up":false}"#).starts_with("\"up\" or \"down\" is missing"));
        assert!(contacts(r#"{"t":5,"up":false,"down":NaN}"#).contains("at byte 26"));
        assert!(contacts(r#"{"t":5,"up":false,"down":false,"gear":300}"#).contains("300"));
        assert!(contacts("").contains("an empty line"));
        let strange = contacts(r#"{"t\nu\u001b":5}"#);
        assert!(strange.starts_with("unknown field `t\u{fffd}u\u{fffd}`"), "{strange}");
        let long = format!("{{\"{}\":5}}", "k".repeat(9000));
        assert!(contacts(&long).len() < 400);
        assert!(contacts(r#"{"t":5,"request":"up"}"#).contains("answers contacts"));
        assert!(garbage(r#"{"t":5,"up":true,"down":false}"#, Kind::Requests).contains("answers requests"));
        assert_eq!(
            read_tick(br#"{"t":4,"up":false,"down":false}"#, 5, Kind::Contacts),
            Err(Silence::OtherTick(5, "4 ms".into()))
        );
    }

    #[test]
    fn the_hello_must_be_of_our_version() {
        let line = |protocol: &str| {
            format!(
                r#"{{"hello":{{"protocol":{protocol},"name":"a","version":"1","answers":"contacts","reset":true}}}}"#
            )
        };
        assert_eq!(read_welcome(line("[1,0]").as_bytes()).map(|w| w.answers), Ok(Kind::Contacts));
        for other in ["[2,0]", "[1,5]", "[0,9]"] {
            assert!(read_welcome(line(other).as_bytes()).unwrap_err().starts_with("it speaks protocol "));
        }
        assert!(read_welcome(b"Hello!").is_err());
    }

    #[test]
    fn several_instances_take_a_reset() {
        let read = |more: &str| {
            let line =
                format!(r#"{{"hello":{{"protocol":[1,3],"name":"a","version":"1","answers":"contacts",{more}}}}}"#);
            read_welcome(line.as_bytes()).map(|welcome| welcome.instances)
        };
        assert_eq!(read(r#""reset":true,"instances":64"#), Ok(64));
        assert_eq!(read(r#""reset":false"#), Ok(1));
        assert!(read(r#""reset":true,"instances":0"#).unwrap_err().contains("1 is the least"));
        assert!(read(r#""reset":false,"instances":2"#).unwrap_err().contains("it can be reset"));
    }

    #[test]
    fn a_list_falls_into_its_entries() {
        let list = |line: &'static str| entries(line.as_bytes()).map(|all| all.iter().map(|e| e.to_vec()).collect());
        let expect = |parts: &[&str]| Ok(parts.iter().map(|part| part.as_bytes().to_vec()).collect::<Vec<_>>());
        assert_eq!(list(r#"[{"i":0},{"i":1,"a":[1,2]}]"#), expect(&[r#"{"i":0}"#, r#"{"i":1,"a":[1,2]}"#]));
        assert_eq!(list("[\"a],[\\\",\",2]"), expect(&["\"a],[\\\",\"", "2"]));
        assert_eq!((list("[]"), list(" [1]")), (expect(&[]), expect(&["1"])));
        for wrong in ["", "[", "{}", "[1]2", "[1]]"] {
            assert!(list(wrong).is_err(), "{wrong}");
        }
    }

    /// Of several instances each is written and answered with its number, and none answers for another.
    #[test]
    fn an_instance_is_known_by_its_number() {
        let (mut alone, mut line) = (Vec::new(), Vec::new());
        write_tick(&mut alone, &inputs(), &[]);
        write_tick_of(&mut line, 63, &inputs(), &[]);
        let alone = String::from_utf8(alone).unwrap();
        assert_eq!(String::from_utf8(line).unwrap(), alone.trim_end().replacen('{', "{\"i\":63,", 1));
        let mut line = Vec::new();
        write_reset_of(&mut line, 7);
        assert_eq!(line, br#"{"i":7,"reset":true}"#);
        let read = |line: &str, instance| {
            read_tick_and_requests(line.as_bytes(), instance, 5, Kind::Contacts, &mut Vec::new()).is_ok()
        };
        let (seven, bare) = (r#"{"i":7,"t":5,"up":false,"down":false}"#, r#"{"t":5,"up":false,"down":false}"#);
        assert!(read(seven, Some(7)) && read(bare, None));
        assert!(!read(seven, Some(6)) && !read(seven, None) && !read(bare, Some(0)));
        let reset = |line: &str, instance| read_reset(line.as_bytes(), instance).is_ok();
        assert!(reset(r#"{"i":7,"reset":"done"}"#, Some(7)) && !reset(r#"{"i":7,"reset":"done"}"#, Some(8)));
    }

    #[test]
    fn a_reset_is_confirmed() {
        assert_eq!(read_reset(br#"{"reset":"done"}"#, None), Ok(()));
        assert!(matches!(read_reset(br#"{"reset":"no"}"#, None), Err(Silence::Garbage(_))));
        assert!(matches!(read_reset(b"\xff", None), Err(Silence::Garbage(_))));
    }

    /// The examples of the description are read as it says, and it names every entry of the hello.
    #[test]
    fn the_description_is_right() {
        let text = include_str!("PROTOCOL.md");
        let lines = |mark: &'static str| text.lines().filter_map(move |line| line.strip_prefix(mark));
        let read = |kind| {
            lines("< {\"t\"").filter(move |line| line.contains("request") == (kind == Kind::Requests)).map(
                move |line| {
                    let line = format!("{{\"t\"{line}");
                    let t = serde_json::from_str::<serde_json::Value>(&line).unwrap()["t"].as_u64().unwrap();
                    read_tick(line.as_bytes(), t, kind)
                },
            )
        };
        assert_eq!(read(Kind::Contacts).filter(Result::is_ok).count(), 1);
        assert_eq!(read(Kind::Requests).filter(Result::is_ok).count(), 1);
        assert!(lines("< ").filter(|line| line.contains("hello")).all(|line| read_welcome(line.as_bytes()).is_ok()));
        assert!(lines("< ").any(|line| read_reset(line.as_bytes(), None).is_ok()));
        assert!(lines("> ").any(|line| line.as_bytes() == RESET_LINE.trim_ascii()));

        let keys = |line: &[u8]| {
            let read: serde_json::Value = serde_json::from_slice(line).unwrap();
            read.as_object().unwrap().keys().cloned().collect::<Vec<String>>()
        };
        let mut tick = Vec::new();
        write_tick(&mut tick, &Inputs { button: Some(true), ..inputs() }, &[]);
        for line in lines("> {\"t\"") {
            let shown = keys(format!("{{\"t\"{line}").as_bytes());
            assert!(shown.iter().all(|key| keys(&tick).contains(key)), "{shown:?}");
        }
        let hello = crate::controller::reference::small_hello();
        for key in keys(&tick).into_iter().chain(keys(hello_line(&hello).as_bytes())) {
            assert!(key == "sprag" || text.contains(&format!("`{key}`")), "{key} isn't described");
        }
    }

    proptest::proptest! {
        /// Whatever a program writes, it is read or refused, and the message stays short.
        #[test]
        fn no_line_is_too_strange(
            bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300),
            at in 0usize..80,
            byte: u8,
        ) {
            let mut line = br#"{"t":1230,"up":false,"down":true,"engaged":true,"gear":3,"announce":"engaged"}"#.to_vec();
            if let Some(place) = line.get_mut(at) {
                *place = byte;
            }
            for line in [&bytes, &line] {
                for kind in [Kind::Contacts, Kind::Requests] {
                    if let Err(silence) = read_tick(line, 1230, kind) {
                        assert!(silence.to_string().chars().count() < 400, "{silence}");
                    }
                }
                let _ = (read_welcome(line), read_reset(line, None), entries(line).map(|all| all.len()));
            }
        }
    }
}
