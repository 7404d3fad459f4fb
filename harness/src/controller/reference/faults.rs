//! Seeded faults: the reference with one edit each. A rule is worth its name when it catches the fault that breaks it.

use super::super::hello::{Hello, HelloLine};

/// One edit of the reference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each one's sentence stands in FAULTS")]
pub enum Fault {
    CeilingInMph,
    RangeUnseenAtEngaging,
    PedalUnread,
    ShyOfPedal,
    DoesNothing,
    LevelTriggered,
    DeafInPulse,
    DeafToNeutral,
    RangeOnlyAtEngaging,
    TransitIsHigh,
    AnyAnswerCounts,
    TakesBackByItself,
    StaleCommands,
    LowCell,
    BlindKickdown,
    OneTooLow,
    HastyKickdown,
    NoDwell,
    GapCollapsed,
    Panics,
    Remembers,
    ZeroAtStart,
    BelievesAFall,
    BelievesARise,
    CodesAreNumbers,
    TakesAnyValue,
    CountsAnswers,
    TwinIsAFault,
    SixteenBitClock,
    SignedClock,
    MicrosecondClock,
    MapUnchecked,
    FallsBackToOwnMap,
    TakesCutLines,
}

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
}

const fn card(fault: Fault, name: &'static str, rule: &'static str, about: &'static str) -> FaultCard {
    FaultCard { fault, name, about, rule }
}

/// All seeded faults, in the order of the rules.
pub const FAULTS: &[FaultCard] = &[
    card(
        Fault::CeilingInMph,
        "ceiling-in-mph",
        "engagement speed ceiling",
        "takes the ceiling for mph, so it engages up to 1.6 times too fast",
    ),
    card(
        Fault::RangeUnseenAtEngaging,
        "range-unseen-at-engaging",
        "engages only when all is right",
        "engages in low range, and only then sees it",
    ),
    card(
        Fault::PedalUnread,
        "pedal-unread",
        "engages only when all is right",
        "engages with speed read alone, before any pedal answer",
    ),
    card(Fault::ShyOfPedal, "shy-of-pedal", "engages when it should", "does not engage with the pedal beyond 20 %"),
    card(Fault::DoesNothing, "does-nothing", "engages when it should", "never engages, never commands"),
    card(
        Fault::LevelTriggered,
        "level-triggered",
        "engage on lever movement only",
        "takes a lever that stands in the gate at power-up for one that has moved there",
    ),
    card(Fault::DeafInPulse, "deaf-in-pulse", "driver's tap wins", "misses the driver's tap during its own pulse"),
    card(
        Fault::DeafToNeutral,
        "deaf-to-neutral",
        "leaving the gate disengages",
        "takes only D for having left the gate",
    ),
    card(
        Fault::RangeOnlyAtEngaging,
        "range-only-at-engaging",
        "low range disengages",
        "looks at the range when engaging and never again",
    ),
    card(Fault::TransitIsHigh, "transit-is-high", "low range disengages", "takes a range in transit for high"),
    card(
        Fault::AnyAnswerCounts,
        "any-answer-counts",
        "lost data disengages",
        "lets a pedal answer keep the speed alive, and the other way round",
    ),
    card(
        Fault::TakesBackByItself,
        "takes-back-by-itself",
        "no command when it may not",
        "after lost data it engages again by itself, 3 s after they are back",
    ),
    card(
        Fault::StaleCommands,
        "stale-commands",
        "fresh data at every command",
        "commands on data of any age until they count as lost",
    ),
    card(
        Fault::ZeroAtStart,
        "zero-at-start",
        "engages only when all is right",
        "takes speed and pedal for 0 and fresh until it reads them",
    ),
    card(
        Fault::BelievesAFall,
        "believes-a-fall",
        "implausible speed holds",
        "follows a speed read that falls faster than brakes can, down to standstill",
    ),
    card(
        Fault::BelievesARise,
        "believes-a-rise",
        "implausible speed holds",
        "follows a speed read that rises faster than the engine can",
    ),
    card(
        Fault::CodesAreNumbers,
        "codes-are-numbers",
        "invalid answer is not a number",
        "takes the code of a negative answer for the value",
    ),
    card(
        Fault::TakesAnyValue,
        "takes-any-value",
        "invalid answer is not a number",
        "checks no range of speed and pedal",
    ),
    card(
        Fault::CountsAnswers,
        "counts-answers",
        "order and duplicate immunity",
        "times the wait after a command by counting speed answers",
    ),
    card(Fault::TwinIsAFault, "twin-is-a-fault", "order and duplicate immunity", "lets go when an answer comes twice"),
    card(Fault::LowCell, "low-cell", "rpm floor after upshift", "one upshift line is 6 km/h too low below 15 % pedal"),
    card(
        Fault::BlindKickdown,
        "blind-kickdown",
        "over-rev after downshift",
        "at 90 % pedal it goes down from fourth and above whatever the speed",
    ),
    card(
        Fault::OneTooLow,
        "one-too-low",
        "never commands first",
        "goes one below the lowest gear when coasting at 6 km/h or less",
    ),
    card(
        Fault::HastyKickdown,
        "hasty-kickdown",
        "not while shifting",
        "at 90 % pedal the second step down follows 300 ms after the first",
    ),
    card(Fault::NoDwell, "no-dwell", "opposite-shift dwell", "keeps no time between opposite commands"),
    card(
        Fault::GapCollapsed,
        "gap-collapsed",
        "hunting count",
        "beyond 20 % pedal its downshift lines lie 1 km/h below the upshift lines",
    ),
    card(Fault::Panics, "panics", "answers each tick", "reads beyond its map at full pedal in top gear"),
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
        Fault::Remembers,
        "remembers",
        "determinism",
        "counts its engagements across power-ups; every fourth one has longer pulses",
    ),
];

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

impl Fault {
    /// The fault of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        FAULTS.iter().find(|card| card.name == name).map(|card| card.fault)
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        FAULTS.iter().find(|card| card.fault == self).map_or("?", |card| card.name)
    }
}
