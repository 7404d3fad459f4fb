//! Seeded faults: the reference with one edit each. A rule is worth its name when it catches the fault that breaks it.

mod conformance;
mod data;
mod hand_over;
mod legality;
mod whole;

use super::super::hello::{Hello, HelloLine};
use super::{Fault, SECOND_FAULTS};
use crate::signal::Signal;

/// A fault, what it does, and the rule that must catch it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FaultCard {
    /// The edit.
    pub fault: Fault,
    /// Its name in `builtin:NAME`.
    pub name: &'static str,
    /// What it does wrong.
    pub about: &'static str,
    /// Name of the rule that must catch it.
    pub rule: &'static str,
    /// A signal that the box has to read, besides those of the demo, for the fault to show.
    pub reads: Option<Signal>,
}

pub(super) const fn card(fault: Fault, name: &'static str, rule: &'static str, about: &'static str) -> FaultCard {
    FaultCard { fault, name, about, rule, reads: None }
}

const fn reading(signal: Signal, card: FaultCard) -> FaultCard {
    FaultCard { reads: Some(signal), ..card }
}

const GROUPS: [&[FaultCard]; 5] = [hand_over::CARDS, data::CARDS, legality::CARDS, conformance::CARDS, whole::CARDS];

const COUNT: usize = {
    let (mut count, mut group) = (0, 0);
    while group < GROUPS.len() {
        count += GROUPS[group].len();
        group += 1;
    }
    count
};

const fn all() -> [FaultCard; COUNT] {
    let mut cards = [GROUPS[0][0]; COUNT];
    let (mut at, mut group) = (0, 0);
    while group < GROUPS.len() {
        let mut of_group = 0;
        while of_group < GROUPS[group].len() {
            cards[at] = GROUPS[group][of_group];
            (at, of_group) = (at + 1, of_group + 1);
        }
        group += 1;
    }
    cards
}

/// All seeded faults, in the order of the rules.
pub const FAULTS: &[FaultCard] = &all();

/// A fault's map of its own: each gear from 20 km/h on, 20 km/h apart, with a gap of 10 km/h.
pub(super) fn with_own_map(mut hello: Hello) -> Hello {
    let gears = u8::try_from(hello.rpm_per_kmh.len()).unwrap_or(u8::MAX);
    let line = |from: u8, to: u8, kmh: u8| HelloLine { from, to, speed_kmh: vec![f64::from(kmh); 2] };
    hello.map.pedal_pct = vec![0.0, 100.0];
    let pairs = (hello.lowest_gear..gears).map(|g| (g, 20 * (g - hello.lowest_gear + 1)));
    hello.map.lines = pairs.flat_map(|(g, kmh)| [line(g, g + 1, kmh), line(g + 1, g, kmh - 10)]).collect();
    hello.top_gear = gears;
    hello
}

/// Both lists.
fn cards() -> impl Iterator<Item = &'static FaultCard> {
    FAULTS.iter().chain(SECOND_FAULTS)
}

impl Fault {
    /// The fault of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        cards().find(|card| card.name == name).map(|card| card.fault)
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        cards().find(|card| card.fault == self).map_or("?", |card| card.name)
    }
}
