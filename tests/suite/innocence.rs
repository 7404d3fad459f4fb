//! Boxes that the author of the rules has never seen: right ones break nothing, wrong ones break the rule named here.

use crate::chart_box::{ChartBox, EAGER, QUIET, Taste};
use crate::runs;
use sprag::campaign::{self, Finished, Options, Stop};
use sprag::controller::hello::Hello;
use sprag::controller::in_process::InProcess;
use sprag::outcome::Outcome;
use sprag::spec::Spec;
use sprag::spec::facts::AfterEdge;
use std::sync::atomic::AtomicBool;

fn spec(taste: Taste) -> Spec {
    let mut spec = runs::spec("van");
    spec.facts.announces = taste.shows;
    spec.facts.after_edge = AfterEdge::WithinMs(1500);
    spec
}

fn campaign(taste: Taste, random: u32) -> Finished {
    let spec = spec(taste);
    let source = InProcess("chart".to_owned(), move |spec: &Spec| {
        Box::new(ChartBox::new(Hello::of(spec), taste)) as Box<dyn sprag::controller::Controller>
    });
    let options = Options {
        run: "commit".to_owned(),
        only: Vec::new(),
        random: Some(random),
        jobs: 2,
        // Which rule is broken is asked, not how short its drive gets.
        shrink_drives: Some(10),
        ..Options::default()
    };
    let stop = AtomicBool::new(false);
    campaign::run(&spec, &source, &options, &Stop(&stop), &mut |_, _| (), &mut |_| ())
        .unwrap_or_else(|_| panic!("no run"))
}

fn broken(finished: &Finished) -> Vec<String> {
    let rows = finished.report.rules.iter().filter(|row| row.outcome == Outcome::Broken);
    rows.map(|row| {
        let what = row.smallest.as_ref().map_or("", |(_, _, what)| what);
        format!("{}: {what}", row.card.name)
    })
    .collect()
}

/// The failing moments that count, as a reviewer would read them.
fn lines(finished: &Finished) -> String {
    let counts = finished.report.moments.iter().filter(|m| m.outcome == Outcome::Broken);
    counts
        .map(|m| {
            let rules =
                m.broken.iter().map(|b| format!("{} ({:?}, {}): {}", b.card.name, b.basis, b.mark.margin, b.says));
            let rules: Vec<String> = rules.collect();
            format!("{} [{}]\n{}\n{}\n", m.drive, m.blame.says(), rules.join("\n"), m.lines.join("\n"))
        })
        .collect()
}

#[test]
fn a_quiet_state_chart_is_innocent() {
    let finished = campaign(QUIET, 100);
    assert!(broken(&finished).is_empty(), "{:#?}\n{}", broken(&finished), lines(&finished));
}

#[test]
fn an_eager_box_is_innocent() {
    let finished = campaign(EAGER, 100);
    assert!(broken(&finished).is_empty(), "{:#?}\n{}", broken(&finished), lines(&finished));
}

/// A pulse of 240 ms that runs on after the lever has left.
#[test]
fn a_box_that_finishes_its_pulses_is_caught() {
    let finished = campaign(Taste { finishes_pulses: true, pulse_ms: 240, ..EAGER }, 100);
    let found = broken(&finished);
    assert!(found.iter().any(|rule| rule.starts_with("leaving the gate disengages")), "{found:#?}");
}

/// It shifts on a speed that has stopped arriving, up to the loss at 0.9 s.
#[test]
fn a_box_that_forgets_the_age_of_speed_is_caught() {
    let finished = campaign(Taste { forgets_speed_age: true, lost_ms: 950, ..EAGER }, 600);
    let found = broken(&finished);
    assert!(found.iter().any(|rule| rule.starts_with("fresh data at every command")), "{found:#?}");
}
