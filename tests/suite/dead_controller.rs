//! A box that does nothing must not pass: what becomes of each rule, worked out row by row.

use crate::runs;
use sprag::campaign::{self, Finished, Options, Stop};
use sprag::controller::Controller;
use sprag::controller::in_process::InProcess;
use sprag::outcome::Exit;
use sprag::signal::{Answer, Inputs, Output};
use sprag::spec::Spec;
use std::sync::atomic::AtomicBool;

struct Dead;

impl Controller for Dead {
    fn reset(&mut self) {}
    fn step(&mut self, _: &Inputs, _: &[Answer]) -> Output {
        Output::OPEN
    }
}

fn run(stopped: bool) -> Finished {
    let source = InProcess("dead".to_owned(), |_: &Spec| Box::new(Dead) as Box<dyn Controller>);
    let options = Options { run: "commit".to_owned(), random: Some(5), jobs: 2, ..Options::default() };
    let stop = AtomicBool::new(stopped);
    campaign::run(&runs::spec("van"), &source, &options, &Stop(&stop), &mut |_, _| (), &mut |_| ())
        .unwrap_or_else(|_| panic!("no run"))
}

const EXPECTED: [(&str, &str); 54] = [
    // It never engages.
    ("engages only when all is right", "not reached"),
    ("engagement speed ceiling", "not reached"),
    // Its situation is a power-up in the gate, which asks nothing of the box.
    ("engage on lever movement only", "kept"),
    // The rule that is there for it.
    ("engages when it should", "broken"),
    // It never engages, so nothing follows upon engaging; and a power-up asks nothing of it.
    ("no shift right after engaging", "not reached"),
    ("re-arm needs lever cycle", "not reached"),
    ("power-up quiet", "kept"),
    // A cause inside an own pulse never comes, since it has no pulses.
    ("driver's tap wins", "not reached"),
    ("leaving the gate disengages", "not reached"),
    ("low range disengages", "not reached"),
    ("lost data disengages", "not reached"),
    // No command to let go after, and none to meet a cause.
    ("own tap is not a driver tap", "not reached"),
    ("disengaging wins ties", "not reached"),
    // The monitor alone decides when it may not, and it keeps still then.
    ("no command when it may not", "kept"),
    // No pulse that a reset could cut, and nothing said.
    ("contacts open at rest", "not reached"),
    ("every transition announced", "not reached"),
    ("no false announcement", "not reached"),
    // It never commands.
    ("fresh data at every command", "not reached"),
    ("implausible speed holds", "not reached"),
    // It counts as engaged once it must be, and neither codes nor extra answers change anything that it does.
    ("invalid answer is not a number", "kept"),
    ("order and duplicate immunity", "kept"),
    // It declares neither.
    ("stuck signals noticed", "does not apply"),
    ("read-only link and sleep", "does not apply"),
    ("rpm floor after upshift", "not reached"),
    ("over-rev after downshift", "not reached"),
    ("never commands first", "not reached"),
    ("gear range ends", "not reached"),
    ("one step per tap", "not reached"),
    ("not while shifting", "not reached"),
    ("downshift cascade limit", "not reached"),
    // It reads neither gear nor engine speed, and shows no counted gear.
    ("refused shift handled", "can't judge"),
    ("wrong direction disengages", "can't judge"),
    ("counted gear agrees", "can't judge"),
    ("no shift when stopped, reversing or engine off", "not reached"),
    ("grip needed by a downshift", "not reached"),
    ("grip needed on a slippery road", "not reached"),
    // Second gear, in which it stays, lugs nowhere.
    ("no lugging under load", "kept"),
    ("opposite-shift dwell", "not reached"),
    // No steady driving with a shift in it.
    ("hunting count", "not reached"),
    ("busy-ness", "not reached"),
    ("dither immunity", "not reached"),
    // It shows nothing, so it counts as engaged once it must be; the map's shifts never come.
    ("only on the line", "not reached"),
    ("response deadline", "broken"),
    ("settles on map gear", "broken"),
    ("light-pedal minimum upshift speed", "not reached"),
    ("coasting downshift", "not reached"),
    ("kickdown", "not reached"),
    // Not stated for the van; no drive can tell.
    ("keeps the gear downhill", "does not apply"),
    ("map as specified", "can't judge"),
    // It answers, always the same.
    ("answers each tick", "kept"),
    ("bad map refused", "does not apply"),
    // No command that a clock could move.
    ("clock-wrap invariance", "not reached"),
    // Nor one that an hour could.
    ("idle-hour invariance", "not reached"),
    ("determinism", "kept"),
];

#[test]
fn a_dead_box_does_not_pass() {
    let report = run(false).report;
    let got: Vec<(&str, &str)> = report.rules.iter().map(|row| (row.card.name, row.outcome.word())).collect();
    assert_eq!(got, EXPECTED);
    assert_eq!(report.exit(), Exit::Broken);
}

/// Interrupted before the first drive: nothing ran, and nothing is claimed.
#[test]
fn no_drives_are_no_pass() {
    let finished = run(true);
    let report = &finished.report;
    assert!(finished.stopped);
    assert_eq!(report.drives.all(), 0);
    for row in &report.rules {
        let (_, dead) = EXPECTED.iter().find(|(name, _)| *name == row.card.name).unwrap();
        // What spec and signals alone decide needs no drive.
        let by_spec = matches!(row.outcome.word(), "can't judge" | "does not apply");
        assert_eq!(row.outcome.word(), if by_spec { dead } else { "not reached" }, "{}", row.card.name);
    }
    assert_eq!(report.exit(), Exit::NotReached);
    assert_eq!(report.exit() as u8, 4);
}
