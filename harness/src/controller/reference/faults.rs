//! Seeded faults: the reference with one edit each. A rule is worth its name when it catches the fault that breaks it.

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
    Twitchy,
    NoGapWhenLight,
    LowLine,
    WrongColumn,
    KickAt80,
    OldPedal,
    Sluggish,
    SlowAfterGap,
    RestsHigh,
    DoubtsTooLong,
    EagerLift,
    SkipsCoasting,
    EarlyCoasting,
    NoKickdown,
    KickTakenBack,
    PedalStopsShort,
    DeafToDescents,
    Panics,
    Remembers,
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
    card(
        Fault::Twitchy,
        "twitchy",
        "busy-ness",
        "goes down a gear, from fourth and above, at each small rise of the pedal",
    ),
    card(
        Fault::NoGapWhenLight,
        "no-gap-when-light",
        "dither immunity",
        "with a light pedal the line 4>3 lies 0.5 km/h below the line 3>4",
    ),
    card(Fault::LowLine, "low-line", "only on the line", "takes the line 4>5 2 km/h too low"),
    card(
        Fault::WrongColumn,
        "wrong-column",
        "only on the line",
        "goes by the map's column for 60 % up to 70 % pedal, from third",
    ),
    card(Fault::KickAt80, "kick-at-80", "only on the line", "takes 80 % pedal for the floor"),
    card(
        Fault::OldPedal,
        "old-pedal",
        "only on the line",
        "for 2 s after a gap in the pedal's answers it goes by the last one before the gap",
    ),
    card(Fault::Sluggish, "sluggish", "response deadline", "shifts up from fourth 6 km/h late"),
    card(
        Fault::SlowAfterGap,
        "slow-after-gap",
        "response deadline",
        "waits for 3 s after a gap in the pedal's answers",
    ),
    card(
        Fault::RestsHigh,
        "rests-high",
        "settles on map gear",
        "with a light pedal it leaves the top gear 12 km/h late",
    ),
    card(
        Fault::DoubtsTooLong,
        "doubts-too-long",
        "settles on map gear",
        "after an implausible speed it does nothing for 10 s",
    ),
    card(
        Fault::EagerLift,
        "eager-lift",
        "light-pedal minimum upshift speed",
        "shifts up 5 km/h too early when the foot comes off",
    ),
    card(
        Fault::SkipsCoasting,
        "skips-coasting",
        "coasting downshift",
        "with a closed pedal it stays in fourth down to 8 km/h",
    ),
    card(
        Fault::EarlyCoasting,
        "early-coasting",
        "coasting downshift",
        "with a closed pedal it leaves fifth 6 km/h early",
    ),
    card(Fault::NoKickdown, "no-kickdown", "kickdown", "doesn't go down at 90 % pedal or more, from fourth and above"),
    card(Fault::KickTakenBack, "kick-taken-back", "kickdown", "goes up again half a second after a kickdown"),
    card(Fault::PedalStopsShort, "pedal-stops-short", "kickdown", "reads a floored pedal as 80 %"),
    card(
        Fault::DeafToDescents,
        "deaf-to-descents",
        "keeps the gear downhill",
        "shifts up downhill with the foot off, whatever engine speed is stated",
    ),
    card(Fault::Panics, "panics", "answers each tick", "reads beyond its map at full pedal in top gear"),
    card(
        Fault::Remembers,
        "remembers",
        "determinism",
        "counts its engagements across power-ups; every fourth one has longer pulses",
    ),
];

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
