use super::super::example;
use super::*;
use crate::outcome::Blame;

fn screen(report: &Report, folder: Option<&str>, colour: bool) -> String {
    super::screen(report, &Look { folder, colour, interrupted: false })
}

#[test]
fn the_screen_of_a_run_with_nothing_broken() {
    let wanted = "\
Nothing broken: 2 of 2 rules kept (1 does not apply) in 2,143 drives, 61.3 simulated hours (seed 1).
Spec van, vehicle invented van, run commit, controller builtin:reference.

rule                        outcome         smallest margin  judged on  reached  close
engagement speed ceiling    kept                   0.4 km/h  seen            12      3
rpm floor after an upshift  kept                     42 rpm  seen         5,120      3
settles on the map's gear   does not apply                -  -                -      -
reached: how often the rarest came of the situations that the run must come to

Does not apply, by a declared fact or by the manoeuvres chosen:
  settles on the map's gear: no map

No violation found in 2,143 drives, 61.3 simulated hours, with these models, faults and seeds. With none in 2,000 random
  drives, at most 3/2,000 (0.15 %) of such drives break a rule (95 % confidence).
Left for bench and vehicle: ";
    let screen = screen(&example::kept(), None, false);
    assert!(screen.starts_with(wanted), "{screen}");
    assert!(screen.ends_with("with a second person watching.\n"));
}

#[test]
fn a_failing_moment_comes_before_the_table_with_its_drive_and_command() {
    let wanted = "\
BROKEN: 1 rule at 1 failing moment in 2,143 drives, 61.3 simulated hours (seed 1).
Spec van, vehicle invented van, run commit, controller builtin:reference.

Failing moment 1 of 1: broken
  rule      engagement speed ceiling: The box engaged at 48 km/h; the ceiling is 40 km/h.
            margin -8 km/h on what the box read and did, at 3.42 s of this drive
  fault     the build is at fault: the reference with the same map and signals keeps the rule
  drive     start at 48 km/h in 4th, lever in D
            at 2 s the lever moves into the gate
  breaks    with the speed at the start from 41 km/h to at least 108 km/h
  found     in drive engage-7 (9 steps, 5 events, 61.2 s), shrunk to 1 step, 1 event, 4 s with 87 drives
  replay    sprag replay evidence/van/drives/ceiling-1.toml

rule                        outcome         smallest margin  judged on  reached  close
engagement speed ceiling    broken                  -8 km/h  seen            12      3
";
    let screen = screen(&example::broken(), Some("evidence/van/"), false);
    assert!(screen.starts_with(wanted), "{screen}");
    assert!(!screen.contains("No violation found"));
}

#[test]
fn colour_changes_no_word_and_no_column() {
    for report in [example::kept(), example::broken()] {
        let mut plain = screen(&report, None, true);
        assert!(plain.contains("\u{1b}["));
        for code in ["\u{1b}[0m", "\u{1b}[31m", "\u{1b}[32m", "\u{1b}[33m", "\u{1b}[36m", "\u{1b}[2m"] {
            plain = plain.replace(code, "");
        }
        assert_eq!(plain, screen(&report, None, false));
    }
}

#[test]
fn a_hostile_name_can_neither_paint_nor_break_the_screen() {
    let mut report = example::broken();
    report.controller = "cmd:\u{1b}[2J\nNothing broken".into();
    report.moments[0].lines = vec!["x".repeat(400), "\u{202E}evil".into()];
    report.moments[0].blame = Blame::Map("a\rb".into());
    let screen = screen(&report, None, false);
    assert!(screen.chars().all(|c| c == '\n' || !c.is_control()));
    assert!(screen.contains("\\u{1b}[2J\\u{a}Nothing broken"));
    assert!(screen.lines().all(|l| l.chars().count() <= WIDTH), "{screen}");
}

#[test]
fn every_open_outcome_is_listed_with_its_reason() {
    let mut report = example::kept();
    let open = [
        Outcome::TooClose,
        Outcome::SignalLimit,
        Outcome::DependsOnData("tyre size".into()),
        Outcome::NotReproducible,
        Outcome::NotReached("low range".into()),
        Outcome::CantJudge("no gear signal".into()),
        Outcome::Consequence("lost data".into()),
    ];
    report.rules[1].smallest = None;
    for outcome in open {
        report.rules[1].outcome = outcome.clone();
        let screen = screen(&report, None, false);
        let why = outcome.why();
        let listed = format!("  rpm floor after an upshift{}{why}\n", if why.is_empty() { "" } else { ": " });
        assert!(screen.contains(&listed), "{screen}");
        assert!(!screen.starts_with("Nothing broken: 2 of 2"));
    }
}

#[test]
fn many_failing_moments_leave_the_table_on_the_screen() {
    let mut report = example::broken();
    report.moments = vec![report.moments[0].clone(); 40];
    let screen = screen(&report, None, false);
    assert_eq!(screen.matches("Failing moment ").count(), 5);
    assert!(screen.contains("And 35 more failing moments, in summary.md."));
}

#[test]
fn no_word_promises_what_no_test_can() {
    for report in [example::kept(), example::broken()] {
        for word in screen(&report, None, false).split(|c: char| !c.is_alphabetic()) {
            assert!(
                !["safe", "certified", "approved", "guaranteed", "passed", "pass"]
                    .contains(&word.to_lowercase().as_str())
            );
        }
    }
}

#[test]
fn text_wraps_at_blanks_and_long_words_break() {
    assert_eq!(wrap("aa bb cc", 0, 5), ["aa bb", "  cc"]);
    assert_eq!(wrap("abcdefgh", 0, 5), ["abcde", "  fgh"]);
    assert_eq!(wrap("", 2, 5), [""]);
}

#[test]
fn a_path_with_a_blank_or_a_quote_is_quoted() {
    assert_eq!(shell_word("evidence/van/drives/a-1.toml"), "evidence/van/drives/a-1.toml");
    assert_eq!(shell_word("my van/it's.toml"), "'my van/it'\\''s.toml'");
    assert_eq!(shell_word("$(x)"), "'$(x)'");
}

#[test]
fn a_signal_limit_is_named_with_the_drive_that_shows_it_and_fails_nothing() {
    let mut report = example::broken();
    report.rules[0].outcome = Outcome::SignalLimit;
    report.moments[0].outcome = Outcome::SignalLimit;
    let screen = screen(&report, None, false);
    assert!(screen.starts_with("Nothing broken: 1 of 2 rules kept (1 signal limit, 1 does not apply)"), "{screen}");
    assert!(!screen.contains("Failing moment"));
    assert!(screen.contains(
        "  engagement speed ceiling\n    The box engaged at 48 km/h; the ceiling is 40 km/h.\n    sprag replay \
         drives/ceiling-1.toml\n"
    ));
    assert!(screen.contains("No violation found beyond what is listed above in 2,143 drives"));
}
