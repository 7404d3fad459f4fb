//! Over which range of each number a minimal drive still breaks its rule: a box made by hand, whose range is known.

use crate::runs::{at, spec, step};
use sprag::campaign::moments::{Finding, find};
use sprag::campaign::plan::{Asked, Plan};
use sprag::campaign::rig::Rig;
use sprag::campaign::sweep::{Checks, drive};
use sprag::controller::Controller;
use sprag::controller::in_process::InProcess;
use sprag::drive::{Demand, Drive, Happening, Start};
use sprag::drive_file::DriveFile;
use sprag::rules;
use sprag::signal::{Action, Answer, Contacts, Content, Inputs, Lever, Output, Signal};
use sprag::vehicle::STEP_MS;

/// Closes its contact in D, with no take-over, for as long as it reads a pedal from 86 to 156 of 255.
#[derive(Default)]
struct TapsInD {
    read_pct: f64,
}

impl Controller for TapsInD {
    fn reset(&mut self) {
        *self = Self::default();
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        for answer in answers {
            if let (Signal::Pedal, Content::Value(read_pct)) = (answer.signal, answer.content) {
                self.read_pct = read_pct;
            }
        }
        let raw = (self.read_pct * 2.55).round();
        let up = inputs.lever == Lever::D && (86.0..=156.0).contains(&raw);
        Output { action: Action::Contacts(Contacts { up, down: false }), ..Output::OPEN }
    }
}

/// The port rounds 255/100 a percent to a whole number: 33 % reads as 84, 34 % as 87, 61 % as 156, 62 % as 158. It does
/// so at any speed; 60 km/h more than at the start is the farthest that is tried.
#[test]
fn a_minimal_drive_tells_from_where_to_where_its_numbers_break_it() {
    let spec = spec("van");
    let source = InProcess("by hand".to_owned(), |_: &_| -> Box<dyn Controller> { Box::<TapsInD>::default() });
    let found = Drive {
        start: Start { speed: 230, gear: 2, ..Start::default() },
        steps: vec![step(4000, Demand::Pedal(120)), step(7000, Demand::PedalTo(580)), step(2000, Demand::Hold(400))],
        events: vec![at(1700, Happening::Lever(Lever::N)), at(2300, Happening::Lever(Lever::D))],
    };
    let driven = vec![drive(&mut Rig::new(&spec, &source, STEP_MS).unwrap(), &found, &Checks::default())];
    let broken = |rule: &usize| driven[0].measures.get(*rule).seen.is_some_and(|mark| mark.broken());
    let rule = (0..rules::RULES.len()).find(broken).expect("a rule is broken");
    let asked = Asked { random: Some(0), orders: Some(0), ..Asked::default() };
    let run = &spec.runs["commit"];
    let plan = Plan::new(&spec, run, vec![("by hand".to_owned(), found)], &asked).unwrap();
    let finding = Finding::of_rule(&spec, &source, &plan, run, &driven, rule);
    let told = find(&finding, &mut |_, _| {}).unwrap();
    let moment = &told.moments[0];
    assert_eq!(moment.size.0 + moment.size.1, 1, "{:?}", moment.lines);
    let wanted = ["the speed at the start from 0 km/h to at least 60 km/h", "the pedal from 34 % to 61 %"];
    assert_eq!(moment.breaks_with, wanted, "{:?}", moment.lines);
    let file = DriveFile::parse(&told.files[0].1, "by hand").unwrap();
    assert_eq!(file.expected.unwrap().breaks_with, wanted);
}
