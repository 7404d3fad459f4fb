//! The second list of seeded faults: each can be caught by its named rule, on a drive written by hand that the reference
//! keeps. How soon a search comes upon it, the benchmark measures.

use sprag::campaign::rig::Rig;
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::{FAULTS, Fault, FaultCard, SECOND_FAULTS};
use sprag::drive::Drive;
use sprag::drive_file::DriveFile;
use sprag::rules::find;
use sprag::selftest::{demo_spec, spec_for};
use sprag::vehicle::STEP_MS;

/// Pulls away in second, the lever into the gate after a second.
fn drive(steps: &[&str], events: &[&str]) -> Drive {
    let quoted = |lines: &[&str]| lines.iter().map(|line| format!("{line:?},\n")).collect::<String>();
    let text = format!(
        "format = 1\nname = \"by hand\"\n\n[drive]\nstart = {{ speed = \"10 km/h\", gear = 2, lever = \"D\" }}\n\
         steps = [\n{}]\nevents = [\n\"at 1 s: lever gate\",\n{}]\n",
        quoted(steps),
        quoted(events)
    );
    DriveFile::parse(&text, "by hand").unwrap_or_else(|error| panic!("{error}\n{text}")).drive
}

/// A drive that shows a fault.
fn shows(fault: Fault) -> Drive {
    let cruise = |events: &[&str]| drive(&["10 s: hold 30 km/h"], events);
    // A kickdown at 10 s: what should have made it let go shows in a command.
    let kick = |events: &[&str]| drive(&["10 s: hold 60 km/h", "3 s: pedal 100 %"], events);
    match fault {
        // Flat out beyond 128 km/h.
        Fault::SevenBitSpeed => drive(&["2 s: hold 10 km/h", "100 s: pedal 100 %, grade -6 %"], &[]),
        // The foot comes off from the floor.
        Fault::SmoothsPedal => drive(&["10 s: hold 60 km/h", "3 s: pedal 100 %", "5 s: pedal 0 %"], &[]),
        // Out of the gate and back while the link has gone.
        Fault::WakesWithOldData => {
            cruise(&["at 3 s: lever D", "at 3.8 s: lose all signals for 3 s", "at 4.5 s: lever gate"])
        }
        Fault::TapDebounced => kick(&["at 9.9 s: tap up for 60 ms"]),
        // The kickdown comes when the release time is over.
        Fault::RangeEachSecond => drive(&["10.3 s: hold 60 km/h", "3 s: pedal 100 %"], &["at 10.02 s: range low"]),
        // Let go of just after engaging.
        Fault::BuzzerBusy => cruise(&["at 4 s: lever D", "at 5 s: lever gate", "at 5.5 s: tap down for 100 ms"]),
        Fault::BrownOutHolds => kick(&["at 9.5 s: supply 8 V for 1.5 s", "at 9.8 s: lever D"]),
        Fault::KickLatched => drive(&["10 s: hold 60 km/h", "1 s: pedal 100 %", "15 s: pedal 60 %"], &[]),
        Fault::RefusalKeepsAlive => kick(&["at 8.5 s: negative answers to speed for 4 s"]),
        // Up and down through the gears, four times.
        Fault::LogHoldsPulse => drive(&["20 s: hold 90 km/h", "15 s: hold 5 km/h"].repeat(4), &[]),
        other => panic!("{} has no drive", other.name()),
    }
}

fn breaks(card: &FaultCard, fault: Option<Fault>) -> bool {
    let spec = spec_for(&demo_spec().unwrap(), card);
    let source = Builtin { fault };
    let mut rig = Rig::new(&spec, &source, STEP_MS).unwrap();
    let rule = find(card.rule).unwrap_or_else(|| panic!("there is no rule {}", card.rule));
    rig.drive(&shows(card.fault))[rule].seen.is_some_and(|mark| mark.broken())
}

#[test]
fn each_fault_of_the_second_list_can_be_caught_by_its_rule() {
    assert_eq!(SECOND_FAULTS.len(), 10);
    for card in SECOND_FAULTS {
        assert!(!breaks(card, None), "the reference breaks \"{}\" on the drive for {}", card.rule, card.name);
    }
    let kept: Vec<&str> = SECOND_FAULTS.iter().filter(|card| !breaks(card, Some(card.fault))).map(|c| c.name).collect();
    assert!(kept.is_empty(), "{kept:?} keep their rules");
}

#[test]
fn the_second_list_repeats_no_name_and_answers_to_its_own() {
    for card in SECOND_FAULTS {
        assert!(FAULTS.iter().all(|first| first.name != card.name && first.fault != card.fault), "{}", card.name);
        assert_eq!(Builtin::named(card.name), Ok(Builtin { fault: Some(card.fault) }));
    }
}
