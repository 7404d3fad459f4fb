//! Lines both ways by hand, and what no line is.

use super::*;
use crate::controller::hello::PROTOCOL;

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
    let answer = Answer { signal: Signal::Pedal, content: Content::Value(100.0 / 255.0 * 77.0), arrival_ms: u64::MAX };
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
        format!(r#"{{"hello":{{"protocol":{protocol},"name":"a","version":"1","answers":"contacts","reset":true}}}}"#)
    };
    assert_eq!(read_welcome(line("[1,0]").as_bytes()).map(|w| w.answers), Ok(Kind::Contacts));
    let newer = format!("[{},{}]", PROTOCOL[0], PROTOCOL[1] + 1);
    for other in ["[2,0]", newer.as_str(), "[0,9]"] {
        assert!(read_welcome(line(other).as_bytes()).unwrap_err().starts_with("it speaks protocol "));
    }
    assert!(read_welcome(b"Hello!").is_err());
}

#[test]
fn several_instances_take_a_reset() {
    let read = |more: &str| {
        let line = format!(r#"{{"hello":{{"protocol":[1,3],"name":"a","version":"1","answers":"contacts",{more}}}}}"#);
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
    let text = include_str!("../PROTOCOL.md");
    let lines = |mark: &'static str| text.lines().filter_map(move |line| line.strip_prefix(mark));
    let read = |kind| {
        lines("< {\"t\"").filter(move |line| line.contains("request") == (kind == Kind::Requests)).map(move |line| {
            let line = format!("{{\"t\"{line}");
            let t = serde_json::from_str::<serde_json::Value>(&line).unwrap()["t"].as_u64().unwrap();
            read_tick(line.as_bytes(), t, kind)
        })
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
