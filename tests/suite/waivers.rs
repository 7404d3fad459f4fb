//! A waiver covers the failing cause that it names until its day, and nothing else.

use crate::runs::spec as load;
use sprag::campaign::{self, Finished, NotRun, Options, Stop};
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::Fault;
use sprag::date::Date;
use sprag::evidence::{Look, screen};
use sprag::outcome::{Blame, Exit, Outcome, WaiverState};
use sprag::spec::Spec;
use sprag::spec::terms::{Off, Waiver};
use sprag::units::{Ms, Rpm};
use std::sync::atomic::AtomicBool;

fn waiver(rule: &str, cause: &str) -> Waiver {
    Waiver {
        rule: rule.to_owned(),
        cause: cause.to_owned(),
        reason: "mended in the next map".to_owned(),
        role: "release manager".to_owned(),
        expires: Date::parse("2027-03-01").unwrap(),
    }
}

fn options(only: &str, day: Option<&str>) -> Options {
    Options {
        run: "commit".to_owned(),
        only: vec![only.to_owned()],
        random: Some(0),
        jobs: 2,
        as_of: day.map(|day| Date::parse(day).unwrap()),
        ..Options::default()
    }
}

fn drive(spec: &Spec, fault: Option<Fault>, options: &Options) -> Result<Finished, NotRun> {
    let stop = AtomicBool::new(false);
    campaign::run(spec, &Builtin { fault }, options, &Stop(&stop), &mut |_, _| (), &mut |_| ())
}

fn outcome(finished: &Finished, rule: &str) -> Outcome {
    finished.report.rules.iter().find(|row| row.card.name == rule).unwrap().outcome.clone()
}

const FLOOR: &str = "rpm floor after upshift";
const LINE: &str = "only on the line";
const LIGHT: &str = "light-pedal minimum upshift speed";

#[test]
fn a_waiver_covers_its_cause_until_its_day_and_the_screen_says_so() {
    let mut spec = load("van");
    let fault = Some(Fault::LowCell);
    // What lands too low comes below the map's line as well.
    spec.waivers = [FLOOR, LINE, LIGHT].map(|rule| waiver(rule, "build, upshift 4>5")).to_vec();
    // The last day still counts.
    for day in ["2026-11-25", "2027-03-01"] {
        let finished = drive(&spec, fault, &options("light-pedal", Some(day))).unwrap();
        assert_eq!(finished.report.exit(), Exit::Kept, "{}", screen(&finished.report, &Look::default()));
        assert!(matches!(outcome(&finished, FLOOR), Outcome::Waived(_)));
        assert_eq!(finished.report.terms.waivers[0].state, WaiverState::Covers);
        let text = screen(&finished.report, &Look::default());
        assert!(
            text.contains("build, upshift 4>5: until 2027-03-01; release manager: mended in the next map"),
            "{text}"
        );
    }
    let finished = drive(&spec, fault, &options("light-pedal", Some("2027-03-02"))).unwrap();
    assert_eq!(finished.report.exit(), Exit::Broken);
    assert_eq!(finished.report.terms.waivers[0].state, WaiverState::Ended);
    let text = screen(&finished.report, &Look::default());
    assert!(text.contains("its waiver ended on 2027-03-01"), "{text}");
}

#[test]
fn a_waiver_of_another_cause_or_rule_covers_nothing() {
    for (rule, cause) in [
        (FLOOR, "build, upshift 3>4"),
        (FLOOR, "map, upshift 4>5"),
        (FLOOR, "build"),
        ("hunting count", "build, upshift 4>5"),
    ] {
        let mut spec = load("van");
        spec.waivers = vec![waiver(rule, cause)];
        let finished = drive(&spec, Some(Fault::LowCell), &options("light-pedal", Some("2026-11-25"))).unwrap();
        assert_eq!(outcome(&finished, FLOOR), Outcome::Broken, "{rule}, {cause}");
        assert_eq!(finished.report.terms.waivers[0].state, WaiverState::NotNeeded, "{rule}, {cause}");
    }
}

/// With the floor at 1,700 rpm the map's light-pedal lines are too low for more than one pair of gears: waiving one of
/// them leaves the others, though one drive breaks them all.
#[test]
fn what_is_waived_hides_no_other_cause_in_the_same_drives() {
    let mut spec = load("van");
    spec.limits.rpm_floor = Rpm(1700.0);
    let mut waived = 0;
    let mut causes = Vec::new();
    loop {
        spec.waivers = causes.iter().map(|cause: &String| waiver(FLOOR, cause)).collect();
        let finished = drive(&spec, None, &options("light-pedal", Some("2026-11-25"))).unwrap();
        let report = &finished.report;
        assert!(report.terms.waivers.iter().all(|w| w.state == WaiverState::Covers), "{:?}", report.terms);
        let open = report.moments.iter().filter(|m| m.outcome == Outcome::Broken).find_map(|m| m.broken[0].cause);
        let Some(cause) = open else {
            assert!(matches!(outcome(&finished, FLOOR), Outcome::Waived(_)));
            break;
        };
        assert_eq!(outcome(&finished, FLOOR), Outcome::Broken);
        assert!(!causes.contains(&cause.to_string()), "{cause} is waived and counts");
        assert!(cause.to_string().starts_with("map, upshift "), "{cause}");
        causes.push(cause.to_string());
        waived += 1;
        assert!(waived < 6);
    }
    assert!(waived >= 2, "{causes:?}");
}

#[test]
fn waivers_without_a_day_are_a_fault_of_usage() {
    let mut spec = load("van");
    spec.waivers = vec![waiver(FLOOR, "map")];
    match drive(&spec, None, &options("coast-to-stop", None)) {
        Err(NotRun::Usage(why)) => assert!(why.contains("--as-of 2026-11-25"), "{why}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_rule_switched_off_is_not_judged_and_loosened_limits_are_named() {
    let mut spec = load("van");
    let off = |rule: &str| Off { rule: rule.to_owned(), reason: "measured on the bench".to_owned() };
    spec.rules.off = vec![off(FLOOR), off(LINE), off(LIGHT)];
    spec.limits.tap_release = Ms::new(150.0);
    spec.limits.shift_blind = Ms::new(2000.0);
    let mut options = options("light-pedal", None);
    let finished = drive(&spec, Some(Fault::LowCell), &options).unwrap();
    assert_eq!(outcome(&finished, FLOOR), Outcome::SwitchedOff("measured on the bench".to_owned()));
    assert_ne!(finished.report.exit(), Exit::Broken);
    let loosened: Vec<_> = finished.report.terms.loosened.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(loosened, ["tap-release"]);
    // Against the spec itself nothing has been loosened or switched off since.
    options.baseline = Some(spec.clone());
    let finished = drive(&spec, None, &options).unwrap();
    assert!(finished.report.terms.loosened.is_empty());
    assert_eq!(finished.report.terms.off[0].new, Some(false));
}

/// Every failing moment names whose fault it is, and no command stands in two entries: shown with three faults that break
/// several rules.
#[test]
fn each_failing_moment_has_a_fault_and_is_one_entry() {
    let spec = load("van");
    for fault in [Fault::DeafInPulse, Fault::RangeOnlyAtEngaging, Fault::LevelTriggered] {
        let all = Options { only: Vec::new(), ..options("", None) };
        let finished = drive(&spec, Some(fault), &all).unwrap();
        let broken: Vec<_> = finished.report.moments.iter().filter(|m| m.outcome == Outcome::Broken).collect();
        assert!(!broken.is_empty(), "{fault:?}");
        for (at, moment) in broken.iter().enumerate() {
            assert!(moment.broken.iter().all(|b| b.blame == Blame::Build && b.cause.is_some()), "{fault:?} {moment:?}");
            for other in &broken[at + 1..] {
                let same = |b: &&sprag::outcome::BrokenRule| other.broken.iter().any(|c| c.mark.at_ms == b.mark.at_ms);
                assert!(moment.lines != other.lines || !moment.broken.iter().any(|b| same(&b)), "{fault:?}");
            }
        }
    }
}

/// An upshift 6 km/h below its line lands below the floor, lies off the line, and comes too early for a light pedal: three
/// rules, one command.
#[test]
fn what_one_command_breaks_is_one_entry() {
    let finished = drive(&load("van"), Some(Fault::LowCell), &options("light-pedal", None)).unwrap();
    let moments: Vec<Vec<&str>> =
        finished.report.moments.iter().map(|m| m.broken.iter().map(|b| b.card.name).collect()).collect();
    let with = |rule: &str| moments.iter().filter(|rules| rules.contains(&rule)).count();
    assert_eq!([FLOOR, LINE, LIGHT].map(with), [1, 1, 1], "{moments:?}");
    assert!(moments.iter().any(|rules| [FLOOR, LINE, LIGHT].iter().all(|rule| rules.contains(rule))), "{moments:?}");
    let moment = finished.report.moments.iter().find(|m| m.broken.len() >= 3).unwrap();
    assert!(moment.broken.iter().all(|b| b.mark.at_ms == moment.broken[0].mark.at_ms), "{:?}", moment.broken);
}
