//! Faults against the rules on whole drives.

use super::super::Fault;
use super::{FaultCard, card};

pub(super) const CARDS: &[FaultCard] = &[
    card(Fault::Panics, "panics", "answers each tick", "reads beyond its map at full pedal in top gear"),
    card(
        Fault::ChokesOnRefusal,
        "chokes-on-refusal",
        "answers each tick",
        "looks the code of a negative answer up in a table that is too short",
    ),
    card(Fault::MapUnchecked, "map-unchecked", "bad map refused", "takes whatever map it is told"),
    card(
        Fault::FallsBackToOwnMap,
        "falls-back-to-own-map",
        "bad map refused",
        "takes a map of its own, without a word, when the one it is told is bad",
    ),
    card(
        Fault::TakesCutLines,
        "takes-cut-lines",
        "bad map refused",
        "takes lines that have been cut short, and holds their last speed",
    ),
    card(
        Fault::SixteenBitClock,
        "sixteen-bit-clock",
        "clock-wrap invariance",
        "keeps its times in 16 bits of milliseconds, and takes them for numbers that only rise",
    ),
    card(Fault::SignedClock, "signed-clock", "clock-wrap invariance", "takes a clock of 32 bits for a signed number"),
    card(
        Fault::MicrosecondClock,
        "microsecond-clock",
        "clock-wrap invariance",
        "keeps its times in 32 bits of microseconds, and takes them for numbers that only rise",
    ),
    card(
        Fault::CountsPolls,
        "counts-polls",
        "idle-hour invariance",
        "counts its polls in 15 bits: after 54 minutes it takes its data for unread and never engages",
    ),
    card(
        Fault::Remembers,
        "remembers",
        "determinism",
        "counts its engagements across power-ups; every fourth one has longer pulses",
    ),
    card(
        Fault::RemembersGaps,
        "remembers-gaps",
        "determinism",
        "counts gaps in the pedal's answers across power-ups; after every fourth one it has longer pulses",
    ),
];
