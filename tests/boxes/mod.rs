//! Correct boxes in Rust, each of another construction, written from the protocol's description alone.

pub mod chart;
pub mod manners;
pub mod plain;

use sprag::controller::Controller;
use sprag::controller::hello::{Hello, HelloAnswers, HelloMap};
use sprag::signal::{Action, Contacts, Direction};
use sprag::spec::Spec;

/// Makes the box of this name for a spec.
#[must_use]
pub fn named(name: &str, spec: &Spec) -> Option<Box<dyn Controller>> {
    let hello = Hello::of(spec);
    match name {
        "chart" => Some(Box::new(chart::Chart::new(hello))),
        "patient" => Some(Box::new(chart::Chart::new(manners::patient(hello)).with_pulse(240))),
        "dull" => Some(Box::new(manners::Dull::over(chart::Chart::new(hello)))),
        "wary" => Some(Box::new(plain::Plain::new(manners::wary(hello)))),
        "plain" => Some(Box::new(plain::Plain::new(hello))),
        _ => None,
    }
}

/// The speed of a line at a pedal position.
fn line_kmh(map: &HelloMap, from: u8, to: u8, pedal_pct: f64) -> Option<f64> {
    let speeds = &map.lines.iter().find(|line| line.from == from && line.to == to)?.speed_kmh;
    let mut points = map.pedal_pct.iter().zip(speeds);
    let (mut left_pct, mut left_kmh) = points.next()?;
    for (right_pct, right_kmh) in points {
        if pedal_pct <= *right_pct {
            let share = (pedal_pct - left_pct) / (right_pct - left_pct);
            return Some(left_kmh * (1.0 - share) + right_kmh * share);
        }
        (left_pct, left_kmh) = (right_pct, right_kmh);
    }
    Some(*left_kmh)
}

/// What the box does with its contacts in a tick in which this command starts and this pulse runs.
fn action(hello: &Hello, starts: Option<Direction>, pulse: Option<Direction>) -> Action {
    match hello.answers {
        HelloAnswers::Requests { .. } => Action::Request(starts),
        HelloAnswers::Contacts => {
            Action::Contacts(Contacts { up: pulse == Some(Direction::Up), down: pulse == Some(Direction::Down) })
        }
    }
}
