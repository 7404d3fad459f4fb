//! What happens once and not again: a machine that keeps the box from answering in time while it is fed the same again,
//! and a box that goes wrong in one drive of many.

use crate::runs::{engaged_at_rest, spec, step};
use sprag::campaign::rig::Rig;
use sprag::campaign::{self, Options, Stop};
use sprag::controller::in_process::Builtin;
use sprag::controller::{NotStarted, Port, Source};
use sprag::drive::{Demand, Drive};
use sprag::outcome::{Basis, Blame, Outcome};
use sprag::recording::Silence;
use sprag::rules::find;
use sprag::signal::{Action, Answer, Contacts, Inputs, Output};
use sprag::spec::Spec;
use sprag::vehicle::STEP_MS;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// What spoils a tick.
type Spoil = dyn Fn(&Inputs, &mut Output) -> Result<(), Silence> + Send + Sync;

/// The reference, spoilt from outside.
struct Spoilt {
    box_: Box<dyn Port>,
    spoil: Arc<Spoil>,
}

impl Port for Spoilt {
    fn reset(&mut self) -> Result<(), Silence> {
        self.box_.reset()
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Result<Output, Silence> {
        let mut output = self.box_.step(inputs, answers)?;
        (self.spoil)(inputs, &mut output).map(|()| output)
    }
}

struct Spoiling(Arc<Spoil>);

impl Source for Spoiling {
    fn start(&self, spec: &Spec) -> Result<Box<dyn Port>, NotStarted> {
        Ok(Box::new(Spoilt { box_: Builtin::named("reference").unwrap().start(spec)?, spoil: self.0.clone() }))
    }

    fn name(&self) -> String {
        "spoilt".to_owned()
    }
}

/// One upshift and more.
fn pull() -> Drive {
    engaged_at_rest(&[step(8000, Demand::Pedal(700))])
}

/// The margin of the rule on clocks: one where all feeds agree.
fn clocks(spoil: impl Fn(&Inputs, &mut Output) -> Result<(), Silence> + Send + Sync + 'static) -> f64 {
    let van = spec("van");
    let source = Spoiling(Arc::new(spoil));
    let mut rig = Rig::new(&van, &source, STEP_MS).unwrap();
    rig.drive(&pull());
    let rule = find("clock-wrap invariance").unwrap();
    rig.measure_again(&pull(), rule);
    rig.measures()[rule].mark(Basis::Seen).unwrap().margin
}

#[test]
fn one_late_answer_is_no_fault_of_the_clock() {
    let late = AtomicU32::new(0);
    // Beyond the drive itself and the feed with its own clock: the first clock that runs over.
    let once = move |inputs: &Inputs, _: &mut Output| {
        let stalls = inputs.time_ms > 60_000 && late.fetch_add(1, Ordering::Relaxed) == 100;
        if stalls { Err(Silence::TooLate(1000)) } else { Ok(()) }
    };
    assert_eq!(clocks(once), 1.0);
}

#[test]
fn hanging_each_time_that_the_clock_runs_over_is() {
    let hangs = |inputs: &Inputs, _: &mut Output| {
        if inputs.time_ms == 1 << 32 { Err(Silence::TooLate(1000)) } else { Ok(()) }
    };
    assert!(clocks(hangs) < 0.0);
}

/// The margin of the rule on an hour of idling, on a drive from rest with the lever in D.
fn after_an_hour(spoil: impl Fn(&Inputs, &mut Output) -> Result<(), Silence> + Send + Sync + 'static) -> Option<f64> {
    let van = spec("van");
    let source = Spoiling(Arc::new(spoil));
    let mut rig = Rig::new(&van, &source, STEP_MS).unwrap();
    rig.drive(&pull());
    let rule = find("idle-hour invariance").unwrap();
    rig.measure_again(&pull(), rule);
    rig.measures()[rule].mark(Basis::Seen).map(|mark| mark.margin)
}

const MINUTE_MS: u64 = 60_000;

#[test]
fn a_box_that_changes_within_an_hour_of_idling_is_told_from_one_that_does_not() {
    assert_eq!(after_an_hour(|_, _| Ok(())), Some(1.0));
    // From the fiftieth minute on it taps no more; an hour isn't enough for one that does so after two.
    let mute = |after_ms: u64| {
        move |inputs: &Inputs, output: &mut Output| {
            if inputs.time_ms >= after_ms {
                output.action = Action::Contacts(Contacts::default());
            }
            Ok(())
        }
    };
    assert!(after_an_hour(mute(50 * MINUTE_MS)) < Some(0.0));
    assert_eq!(after_an_hour(mute(120 * MINUTE_MS)), Some(1.0));
    // One that hangs while it waits; one that hangs once is a matter of the machine.
    assert!(
        after_an_hour(|i, _| if i.time_ms == 30 * MINUTE_MS { Err(Silence::TooLate(1000)) } else { Ok(()) })
            < Some(0.0)
    );
    let late = AtomicU32::new(0);
    let once = move |inputs: &Inputs, _: &mut Output| {
        let stalls = inputs.time_ms == 30 * MINUTE_MS && late.fetch_add(1, Ordering::Relaxed) == 0;
        if stalls { Err(Silence::TooLate(1000)) } else { Ok(()) }
    };
    assert_eq!(after_an_hour(once), Some(1.0));
}

/// Runs the manoeuvre on taps, with the reference closing both contacts for a tick: in its n-th step of all, for each n
/// that is asked for.
fn both_contacts(in_steps: fn(u32) -> bool) -> (Outcome, Option<Blame>) {
    let van = spec("van");
    let steps = AtomicU32::new(0);
    let source = Spoiling(Arc::new(move |_: &Inputs, output: &mut Output| {
        if in_steps(steps.fetch_add(1, Ordering::Relaxed)) {
            output.action = Action::Contacts(Contacts { up: true, down: true });
        }
        Ok(())
    }));
    let options =
        Options { run: "commit".to_owned(), only: vec!["light-pedal".to_owned()], jobs: 1, ..Options::default() };
    let stop = AtomicBool::new(false);
    let ran = campaign::run(&van, &source, &options, &Stop(&stop), &mut |_, _| (), &mut |_| ());
    let report = ran.unwrap_or_else(|_| panic!("no run")).report;
    let row = report.rules.iter().find(|row| row.card.name == "one step per tap").unwrap();
    let moment = report.moments.iter().find(|m| m.broken.iter().any(|b| b.card.name == row.card.name));
    (row.outcome.clone(), moment.map(|m| m.blame.clone()))
}

#[test]
fn a_failure_that_never_comes_again_is_not_reproducible() {
    let once = both_contacts(|step| step == 2000);
    assert_eq!(once, (Outcome::NotReproducible, Some(Blame::Nobody)));
}

#[test]
fn one_that_comes_in_every_drive_is_broken() {
    let often = both_contacts(|step| step % 500 == 250);
    assert_eq!(often, (Outcome::Broken, Some(Blame::Build)));
}
