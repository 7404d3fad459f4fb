//! The reference as a program: a Rust child with a JSON reader like any other.

use serde::{Deserialize, Serialize};
use sprag::controller::Controller;
use sprag::controller::hello::Hello;
use sprag::controller::reference::Reference;
use sprag::signal::{Action, Announcement, Answer, Content, Inputs, Lever, Range, Signal};
use std::io::{BufRead, Write};

/// A tick or a reset.
#[derive(Deserialize)]
struct Asked {
    #[serde(default)]
    i: usize,
    #[serde(default)]
    reset: bool,
    #[serde(default)]
    t: u64,
    lever: Option<Lever>,
    range: Option<Range>,
    #[serde(default)]
    ignition: bool,
    #[serde(default)]
    supply_mv: u32,
    button: Option<bool>,
    #[serde(default)]
    tap_up: bool,
    #[serde(default)]
    tap_down: bool,
    #[serde(default)]
    tap_up_edges: u8,
    #[serde(default)]
    tap_down_edges: u8,
    #[serde(default)]
    answers: Vec<Told>,
}

#[derive(Deserialize)]
struct Told {
    signal: Signal,
    value: Option<f64>,
    negative: Option<u8>,
    arrival: u64,
}

#[derive(Serialize)]
struct Given {
    #[serde(skip_serializing_if = "Option::is_none")]
    i: Option<usize>,
    t: u64,
    up: bool,
    down: bool,
    engaged: Option<bool>,
    gear: Option<u8>,
    announce: Option<Announcement>,
}

/// Answers until its input ends.
pub fn serve(instances: u32) {
    let hello = Hello::of(&super::demo_spec());
    let mut boxes: Vec<Reference> = (0..instances).map(|_| Reference::new(hello.clone(), None)).collect();
    let (mut from, mut to) = (std::io::stdin().lock(), std::io::stdout().lock());
    let (mut line, mut out, mut answers) = (Vec::new(), Vec::new(), Vec::new());
    while from.read_until(b'\n', &mut line).is_ok_and(|count| count > 0) {
        if line.first() == Some(&b'[') {
            let list: Vec<Asked> = serde_json::from_slice(&line).expect("the harness's line");
            out.push(b'[');
            for (at, asked) in list.iter().enumerate() {
                if at > 0 {
                    out.push(b',');
                }
                answer(&mut boxes[asked.i], Some(asked.i), asked, &mut answers, &mut out);
            }
            out.push(b']');
        } else if line.starts_with(b"{\"sprag\"") {
            let more = if instances > 1 { format!(",\"instances\":{instances}") } else { String::new() };
            let hello =
                "\"protocol\":[1,3],\"name\":\"served\",\"version\":\"1\",\"answers\":\"contacts\",\"reset\":true";
            out.extend(format!("{{\"hello\":{{{hello}{more}}}}}").into_bytes());
        } else {
            let asked: Asked = serde_json::from_slice(&line).expect("the harness's line");
            answer(&mut boxes[0], None, &asked, &mut answers, &mut out);
        }
        out.push(b'\n');
        to.write_all(&out).and_then(|()| to.flush()).expect("the harness listens");
        line.clear();
        out.clear();
    }
}

fn answer(on: &mut Reference, i: Option<usize>, asked: &Asked, answers: &mut Vec<Answer>, out: &mut Vec<u8>) {
    if asked.reset {
        on.reset();
        let number = i.map_or(String::new(), |i| format!("\"i\":{i},"));
        out.extend(format!("{{{number}\"reset\":\"done\"}}").into_bytes());
        return;
    }
    answers.clear();
    answers.extend(asked.answers.iter().map(|told| {
        let content = match (told.value, told.negative) {
            (_, Some(code)) => Content::Negative(code),
            (value, None) => Content::Value(value.unwrap_or(f64::NAN)),
        };
        Answer { signal: told.signal, content, arrival_ms: told.arrival }
    }));
    let inputs = Inputs {
        time_ms: asked.t,
        lever: asked.lever.unwrap_or(Lever::D),
        range: asked.range,
        ignition: asked.ignition,
        supply_mv: asked.supply_mv,
        button: asked.button,
        tap_up: asked.tap_up,
        tap_down: asked.tap_down,
        tap_up_edges: asked.tap_up_edges,
        tap_down_edges: asked.tap_down_edges,
    };
    let output = on.step(&inputs, answers);
    let (up, down) = match output.action {
        Action::Contacts(contacts) => (contacts.up, contacts.down),
        Action::Request(_) => (false, false),
    };
    let (engaged, gear, announce) = (output.engaged, output.counted_gear, output.announcement);
    let given = Given { i, t: asked.t, up, down, engaged, gear, announce };
    serde_json::to_writer(out, &given).expect("memory takes it");
}
