use super::super::example;
use super::*;
use crate::outcome::Exit;
use quick_xml::Reader;
use quick_xml::events::Event;
use std::collections::BTreeMap;

/// Reads the file with another parser: for each element its name, attributes and text; panics where it is not well-formed.
fn read(text: &str) -> Vec<(String, BTreeMap<String, String>, String)> {
    let mut reader = Reader::from_str(text);
    reader.config_mut().check_comments = true;
    let (mut all, mut open) = (Vec::new(), Vec::new());
    assert!(text.chars().all(|c| xml(&c.to_string()) == c.to_string()), "a character that XML 1.0 doesn't allow");
    loop {
        let event = reader.read_event().unwrap();
        match &event {
            Event::Start(tag) | Event::Empty(tag) => {
                let attributes = tag
                    .attributes()
                    .map(|a| a.unwrap())
                    .map(|a| {
                        let key = String::from_utf8(a.key.as_ref().to_vec()).unwrap();
                        (key, a.normalized_value(quick_xml::XmlVersion::Implicit1_0).unwrap().into_owned())
                    })
                    .collect();
                all.push((String::from_utf8(tag.name().as_ref().to_vec()).unwrap(), attributes, String::new()));
                if matches!(event, Event::Start(_)) {
                    open.push(all.len() - 1);
                }
            }
            Event::End(_) => {
                open.pop();
            }
            Event::CData(data) => {
                all[*open.last().unwrap()].2.push_str(std::str::from_utf8(data.as_ref()).unwrap());
            }
            Event::Text(data) => assert_eq!(&data[..], b"\n", "text outside of CDATA"),
            Event::GeneralRef(_) => panic!("a reference outside of an attribute"),
            Event::Eof => return all,
            _ => {}
        }
    }
}

fn of<'a>(
    all: &'a [(String, BTreeMap<String, String>, String)],
    name: &str,
) -> Vec<&'a (String, BTreeMap<String, String>, String)> {
    all.iter().filter(|e| e.0 == name).collect()
}

#[test]
fn a_broken_rule_is_a_failure_with_its_drive() {
    let all = read(&junit(&example::broken(), false, 0).unwrap());
    let suite = &of(&all, "testsuite")[0].1;
    assert_eq!(suite["name"], "sprag.van");
    assert_eq!(suite["timestamp"], "1970-01-01T00:00:00Z");
    assert_eq!((&*suite["tests"], &*suite["failures"], &*suite["errors"]), ("4", "1", "0"));
    assert_eq!(suite["time"], "220999.875");
    let failure = of(&all, "failure")[0];
    assert_eq!(
        failure.1["message"],
        "The box engaged at 48 km/h; the ceiling is 40 km/h. smallest margin -8 km/h (seen, drive engage-7)"
    );
    assert!(failure.2.starts_with("in this folder: sprag replay drives/ceiling-1.toml\n"), "{}", failure.2);
    assert_eq!(of(&all, "skipped")[0].1["message"], "does not apply: no map");
}

#[test]
fn hostile_text_stays_text() {
    let hostile = "]]><failure/>\0\u{8}\u{1b}[31m\u{FFFE}\u{FFFF}\"'<&>\r\n\t\u{202E}]]>";
    let mut report = example::broken();
    report.spec = hostile.into();
    report.controller = hostile.into();
    report.moments[0].drive = hostile.into();
    report.moments[0].lines = vec![hostile.into()];
    report.moments[0].broken[0].says = hostile.into();
    report.rules[1].outcome = Outcome::NotReached(hostile.into());
    report.rules[2].outcome = Outcome::CantJudge(hostile.into());
    let all = read(&junit(&report, false, 0).unwrap());
    assert_eq!(of(&all, "failure").len(), 1);
    let body = &of(&all, "failure")[0].2;
    assert!(body.contains("]]><failure/>\\u{0}\\u{8}\\u{1b}[31m\\u{fffe}\\u{ffff}\"'<&>"), "{body}");
    assert!(of(&all, "system-out").iter().all(|e| !e.2.is_empty()));
}

#[test]
fn no_two_cases_share_class_and_name() {
    let mut report = example::kept();
    report.rules = vec![report.rules[0].clone(); 3];
    report.spec = "a.b.c".into();
    let all = read(&junit(&report, false, 0).unwrap());
    let cases = of(&all, "testcase");
    let names: Vec<&str> = cases.iter().map(|c| &*c.1["name"]).collect();
    assert_eq!(
        names,
        ["the run", "engagement speed ceiling", "engagement speed ceiling (2)", "engagement speed ceiling (3)"]
    );
    assert!(cases.iter().all(|c| c.1["classname"] == "sprag.a_b_c"));
}

#[test]
fn messages_and_bodies_are_cut() {
    let mut report = example::broken();
    report.moments[0].broken[0].says = "ü".repeat(3000);
    report.moments[0].lines = vec!["]]>".repeat(20_000)];
    let all = read(&junit(&report, false, 0).unwrap());
    let failure = of(&all, "failure")[0];
    assert_eq!(failure.1["message"].chars().count(), 1000);
    assert!(failure.2.len() <= 16 * 1024);
}

/// CI reads either the file or the code: both must say the same. By hand: which outcomes leave the code at 0.
#[test]
fn cases_fail_or_err_exactly_when_the_code_is_not_zero() {
    let outcomes = [
        (Outcome::Kept, Exit::Kept),
        (Outcome::Broken, Exit::Broken),
        (Outcome::TooClose, Exit::Unclear),
        (Outcome::SignalLimit, Exit::Kept),
        (Outcome::DependsOnData("x".into()), Exit::Unclear),
        (Outcome::NotReproducible, Exit::Unclear),
        (Outcome::NotReached("x".into()), Exit::NotReached),
        (Outcome::CantJudge("x".into()), Exit::Kept),
        (Outcome::DoesNotApply("x".into()), Exit::Kept),
        (Outcome::SwitchedOff("x".into()), Exit::Kept),
        (Outcome::Waived("x".into()), Exit::Kept),
        (Outcome::Consequence("x".into()), Exit::Kept),
    ];
    for (outcome, exit) in outcomes {
        let mut report = example::kept();
        report.rules[0].outcome = outcome.clone();
        assert_eq!(report.exit(), exit, "{outcome:?}");
        let all = read(&junit(&report, false, 0).unwrap());
        let red = !of(&all, "failure").is_empty() || !of(&all, "error").is_empty();
        assert_eq!(red, exit != Exit::Kept, "{outcome:?}");
    }
    let mut minor = example::kept();
    minor.rules[2].outcome = Outcome::Broken;
    assert_eq!(minor.exit(), Exit::Kept);
    assert_eq!(of(&read(&junit(&minor, false, 0).unwrap()), "skipped")[0].1["type"], "broken, minor");
    let mut unfit = example::broken();
    unfit.unfit = Some("the reference engages too fast".into());
    assert_eq!(unfit.exit(), Exit::NotStarted);
    let all = read(&junit(&unfit, false, 0).unwrap());
    assert_eq!((of(&all, "error").len(), of(&all, "failure").len()), (4, 0));
}

/// junit-10.xsd allows at most three decimals.
#[test]
fn times_have_at_most_three_decimals() {
    let mut report = example::kept();
    for second in [0, 1, 7, 220_999, 3_600_000] {
        for ms in 0..1000 {
            report.simulated_ms = second * 1000 + ms;
            let case = run_case(&report, false, "c");
            let text = case.time.as_seconds_f64().to_string();
            assert!(text.split_once('.').is_none_or(|(_, d)| d.len() <= 3) && !text.contains('e'), "{text}");
        }
    }
}

#[test]
fn the_stamp_is_the_callers_and_an_impossible_one_is_refused() {
    let all = read(&junit(&example::kept(), false, 1_700_000_000).unwrap());
    assert_eq!(of(&all, "testsuite")[0].1["timestamp"], "2023-11-14T22:13:20Z");
    assert!(junit(&example::kept(), false, i64::MAX).is_err());
    assert!(junit(&example::kept(), false, -100_000_000_000).is_err());
}

#[test]
fn an_interrupted_run_errs() {
    let all = read(&junit(&example::kept(), true, 0).unwrap());
    assert_eq!(of(&all, "error")[0].1["type"], "interrupted");
}
