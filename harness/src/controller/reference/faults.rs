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
    Panics,
    Remembers,
    CeilingOnce,
    ResetIsEdge,
    ShiftsAtOnce,
    QuietOnce,
    RearmsAfterTap,
    EngagesWithoutEnd,
    TapsToTest,
    RemembersEngagement,
    OwnPulseIsTap,
    GivesUpEarly,
    DecidesFirst,
    EngagesInTie,
    FlagStays,
    StartsClosed,
    PulseSurvives,
    SilentEngaging,
    SilentFault,
    WrongWord,
    SaysItAgain,
    CriesFault,
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
        Fault::CeilingOnce,
        "ceiling-once",
        "engagement speed ceiling",
        "minds the ceiling at its first engagement since power-up only",
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
        Fault::ResetIsEdge,
        "reset-is-edge",
        "engage on lever movement only",
        "after a reset or a dip it takes a lever that stands in the gate for one that has moved there",
    ),
    card(
        Fault::LevelTriggered,
        "level-triggered",
        "engage on lever movement only",
        "takes a lever that stands in the gate at power-up for one that has moved there",
    ),
    card(
        Fault::ShiftsAtOnce,
        "shifts-at-once",
        "no shift right after engaging",
        "commands in the very tick in which it engages",
    ),
    card(
        Fault::QuietOnce,
        "quiet-once",
        "no shift right after engaging",
        "waits after its first engagement since power-up, and after no later one",
    ),
    card(
        Fault::RearmsAfterTap,
        "rearms-after-tap",
        "re-arm needs lever cycle",
        "1 s after the driver's tap it takes the lever in the gate for a new take-over",
    ),
    card(
        Fault::EngagesWithoutEnd,
        "engages-without-end",
        "re-arm needs lever cycle",
        "engages as often as the lever is moved",
    ),
    card(
        Fault::TapsToTest,
        "taps-to-test",
        "power-up quiet",
        "started in the gate, it tries its down contact after 150 ms",
    ),
    card(
        Fault::RemembersEngagement,
        "remembers-engagement",
        "power-up quiet",
        "holds itself engaged after a reset or a dip if it was before",
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
        Fault::FlagStays,
        "flag-stays",
        "no command when it may not",
        "shows itself engaged for 2 s after the driver's tap",
    ),
    card(
        Fault::OwnPulseIsTap,
        "own-pulse-is-tap",
        "own tap is not a driver tap",
        "takes its own pulse down from one of the upper gears for the driver's tap",
    ),
    card(
        Fault::GivesUpEarly,
        "gives-up-early",
        "own tap is not a driver tap",
        "gives data up after 350 ms, when they still count as fresh",
    ),
    card(
        Fault::DecidesFirst,
        "decides-first",
        "disengaging wins ties",
        "decides on a shift before it looks at what ends its engagement",
    ),
    card(
        Fault::EngagesInTie,
        "engages-in-tie",
        "disengaging wins ties",
        "engages in the very tick in which the range leaves high",
    ),
    card(
        Fault::StartsClosed,
        "starts-closed",
        "contacts open at rest",
        "started in the gate, its up contact is closed for 80 ms",
    ),
    card(
        Fault::PulseSurvives,
        "pulse-survives-reset",
        "contacts open at rest",
        "goes on for 100 ms with a pulse that a reset or a dip has cut",
    ),
    card(
        Fault::SilentEngaging,
        "silent-engaging",
        "every transition announced",
        "doesn't announce that it engages with the pedal beyond 20 %",
    ),
    card(
        Fault::SilentFault,
        "silent-fault",
        "every transition announced",
        "doesn't announce that a fault has made it let go",
    ),
    card(Fault::WrongWord, "wrong-word", "every transition announced", "announces lost data as the driver's wish"),
    card(
        Fault::SaysItAgain,
        "says-it-again",
        "no false announcement",
        "announces \"engaged\" once more on its upshift into top gear",
    ),
    card(
        Fault::CriesFault,
        "cries-fault",
        "no false announcement",
        "announces a fault when data are 400 ms old, and stays engaged",
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
