use super::*;
use crate::drive::{Condition, Demand, Event, Happening, Start, Step, When};
use crate::signal::{Announcement, Contacts, Direction, Lever, Range};
use proptest::prelude::*;

const SMALL: &str = r#"format = 1
name = "engages at 41"

[drive]
start = { speed = "41 km/h", gear = 3, lever = "D" }
steps = [
  "2 s: hold 41 km/h",
  "4 s: pedal 60 %, grade -2 %",
]
events = [
  "at 1.5 s: lever gate",
]
"#;

fn full() -> DriveFile {
    let drive = Drive {
        start: Start {
            speed: 405,
            gear: 3,
            lever: Lever::Gate,
            range: Range::Low,
            clock_ms: 1 << 53,
            poll_phase_ms: 13,
            link_key: u64::MAX,
            grip: 35,
        },
        steps: vec![Step { ms: 2000, demand: Demand::PedalTo(1000), brake: 1200, grade: -400 }],
        events: vec![Event {
            when: When::After(Condition::Closes(Direction::Up), 0),
            what: Happening::SecondSpeed(-3000, 100),
        }],
    };
    let open = Did {
        t_ms: 0,
        contacts: Contacts::default(),
        engaged: None,
        counted_gear: None,
        announcement: None,
        silence: None,
    };
    DriveFile {
        name: "a \"name\" with \\ and \u{1} and \n".into(),
        drive,
        spec: Some("format = 1\nname = \"van\"\n".into()),
        expected: Some(Expected {
            rule: "engagement-ceiling".into(),
            basis: Basis::Seen,
            outcome: "broken".into(),
            margin: -0.1 - 0.2,
            unit: "km/h".into(),
            at_ms: 1710,
            says: "engaged at 41 km/h read".into(),
            controller: "./box".into(),
            breaks_with: vec!["the pedal from 34 % to 61 %".into(), "lever gate from 0 s to at least 11 s".into()],
            seed_comment: "random 1, seed 7, drive 12".into(),
            versions: "rule 1, vehicle 1".into(),
        }),
        did: vec![
            open.clone(),
            Did {
                t_ms: 1230,
                contacts: Contacts { up: true, down: false },
                engaged: Some(true),
                counted_gear: Some(3),
                announcement: Some(Announcement::Engaged),
                silence: None,
            },
            Did { t_ms: 1240, engaged: Some(false), silence: Some("it panicked: a, b: c\n".into()), ..open },
        ],
        ticks: vec!["  1.20 s | 41 | 12".into(), String::new()],
    }
}

#[test]
fn a_small_file_reads_and_writes_as_a_person_would() {
    let file = DriveFile::parse(SMALL, "small.toml").unwrap();
    assert_eq!(file.name, "engages at 41");
    assert_eq!(file.drive.start, Start { speed: 410, gear: 3, ..Start::default() });
    assert_eq!(file.drive.length_ms(), 6000);
    assert_eq!(file.to_text(), SMALL);
}

#[test]
fn a_full_file_reads_back_the_same() {
    let file = full();
    let text = file.to_text();
    assert_eq!(DriveFile::parse(&text, "full.toml"), Ok(file));
    assert!(text.contains("\"1230 ms: up closed, engaged, gear 3, says engaged\""), "{text}");
    assert!(text.contains("toml = '''\nformat = 1\nname = \"van\"\n'''"), "{text}");
}

#[test]
fn the_start_may_be_left_out() {
    let text = "format = 1\nname = \"x\"\n[drive]\nsteps = [\"1 s: pedal 0 %\"]\n";
    assert_eq!(DriveFile::parse(text, "x").unwrap().drive.start, Start::default());
}

#[test]
fn each_fault_is_told_with_its_place() {
    for (wrong, right, place, say) in [
        ("format = 1", "format = 2", (1, 10), "format 2 is unknown: this version reads format 1"),
        ("format = 1\n", "", (1, 1), "missing field `format`"),
        ("name =", "title =", (2, 1), "unknown field `title`"),
        ("speed = \"41 km/h\"", "speed = \"41\"", (5, 19), "\"41\" has no unit"),
        ("speed = \"41 km/h\"", "speed = \"301 km/h\"", (5, 19), "at most 300 km/h"),
        ("speed = \"41 km/h\"", "sped = \"41 km/h\"", (5, 11), "unknown field `sped`"),
        ("gear = 3", "gear = 300", (5, 37), "there is no gear 300"),
        ("gear = 3", "gear = 11", (5, 19), "there is no gear 11: from 1 to 10"),
        ("gear = 3", "gear = 3, grip = \"0.01\"", (5, 19), "the grip is 0.01: from 0.05 to 1.2"),
        ("gear = 3", "gear = 3, link-key = \"12\"", (5, 51), "\"12\" is no link key"),
        ("gear = 3", "gear = 3, clock = \"9007199254740993 ms\"", (5, 19), "at most 9007199254740992"),
        ("lever = \"D\"", "lever = \"S\"", (5, 48), "\"S\" is no lever position"),
        ("\"2 s: hold 41 km/h\"", "\"0 s: hold 41 km/h\"", (7, 3), "it lasts no time"),
        ("\"2 s: hold 41 km/h\"", "\"25 h: hold 41 km/h\"", (7, 3), "\"h\" is no unit of time"),
        ("\"2 s: hold 41 km/h\"", "\"86399 s: hold 41 km/h\"", (4, 1), "the drive lasts 86403 s: at most 86400 s"),
        ("pedal 60 %", "pedal 100.1 %", (8, 3), "a pedal of 100.1 % is out of range: at most 100 %"),
        ("grade -2 %", "grade -40.1 %", (8, 3), "a grade of 40.1 % is out of range"),
        ("grade -2 %", "brake 121 %", (8, 3), "a brake of 121 % is out of range: at most 120 %"),
        ("\"at 1.5 s: lever gate\"", "\"lever gate\"", (11, 3), "has no colon"),
        ("\"at 1.5 s: lever gate\"", "\"1 s after gear 0: reset\"", (11, 3), "there is no gear 0"),
        ("\"at 1.5 s: lever gate\"", "\"at 1 s: lose gear for 86401 s\"", (11, 3), "at most a day"),
        ("\"at 1.5 s: lever gate\"", "3", (11, 3), "invalid type"),
        ("]\nevents", "\nevents", (10, 8), "unexpected `=` in array"),
    ] {
        let text = SMALL.replacen(wrong, right, 1);
        assert_ne!(text, SMALL);
        let error = DriveFile::parse(&text, "case.toml").expect_err(right);
        assert!(error.message.contains(say), "{right}: {error}");
        assert_eq!((error.line, error.column), place, "{right}: {error}");
        assert!(error.to_string().starts_with(&format!("case.toml:{}:{}: ", place.0, place.1)));
    }
}

#[test]
fn what_was_expected_and_done_is_checked_too() {
    let text = full().to_text();
    for (wrong, right, say) in [
        ("basis = \"seen\"", "basis = \"felt\"", "\"felt\" is no basis: write seen or true"),
        ("margin = -0.30000000000000004", "margin = nan", "write a finite number"),
        ("0 ms: open", "ajar", "has no colon"),
        ("0 ms: open", "0 ms: ajar", "\"ajar\" is no state of the contacts"),
        ("0 ms: open", "0 ms: open, tired", "\"tired\" is nothing a box puts out"),
        ("0 ms: open", "9 s: open", "1230 ms comes after a later line"),
        ("rule = ", "rul = ", "unknown field `rul`"),
    ] {
        let text = text.replacen(wrong, right, 1);
        let error = DriveFile::parse(&text, "case.toml").expect_err(right);
        assert!(error.message.contains(say), "{right}: {error}");
    }
}

#[test]
fn a_file_or_drive_too_large_is_refused() {
    let error = DriveFile::parse(&" ".repeat(LARGEST + 1), "big.toml").unwrap_err();
    assert!(error.message.contains("8 MiB"), "{error}");
    let steps = "\"1 ms: pedal 0 %\",\n".repeat(10_001);
    let error = DriveFile::parse(&SMALL.replacen("  \"2 s", &format!("{steps}  \"2 s"), 1), "big.toml").unwrap_err();
    assert!(error.message.contains("10003 steps: at most 10000"), "{error}");
    let mut drive = full().drive;
    drive.events = vec![drive.events[0]; 10_001];
    assert!(check(&drive).unwrap_err().contains("10001 events"));
    drive.events.truncate(1);
    drive.steps.clear();
    assert!(check(&drive).unwrap_err().contains("no step"));
    drive.steps = vec![Step { ms: 1, demand: Demand::Hold(3001), brake: 0, grade: 0 }];
    assert_eq!(check(&drive).unwrap_err(), "step 1: a speed of 300.1 km/h is out of range: at most 300 km/h");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_margin_reads_back_to_the_bit(margin in prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO) {
        let mut file = full();
        if let Some(expected) = &mut file.expected {
            expected.margin = margin;
        }
        let back = DriveFile::parse(&file.to_text(), "m").unwrap();
        prop_assert_eq!(back.expected.unwrap().margin.to_bits(), margin.to_bits());
    }

    #[test]
    fn every_text_reads_back(name in any::<String>(), spec in "[a-z'\"\\\\\\n\\r\\t\u{7f}\u{85}]{0,12}", tick: String, why: String) {
        let mut file = full();
        (file.name, file.spec, file.ticks) = (name, Some(spec), vec![tick]);
        file.did[2].silence = Some(why);
        prop_assert_eq!(DriveFile::parse(&file.to_text(), "t"), Ok(file));
    }

    #[test]
    fn no_text_makes_the_reader_panic(cut in 0_usize..1200, change in 0_usize..1200, byte: u8) {
        let mut bytes = full().to_text().into_bytes();
        if let Some(at) = bytes.get_mut(change) {
            *at = byte;
        }
        bytes.truncate(cut.max(change));
        let _ = DriveFile::parse(&String::from_utf8_lossy(&bytes), "p");
    }
}
