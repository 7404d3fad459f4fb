//! Seeded faults: the reference with one edit each. A rule is worth its name when it catches the fault that breaks it.

use super::super::hello::{Hello, HelloLine};
use super::Fault;
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

const fn card(fault: Fault, name: &'static str, rule: &'static str, about: &'static str) -> FaultCard {
    FaultCard { fault, name, about, rule, reads: None }
}

const fn reading(signal: Signal, card: FaultCard) -> FaultCard {
    FaultCard { reads: Some(signal), ..card }
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
    reading(
        Signal::EngineSpeed,
        card(Fault::FreezeUnseen, "freeze-unseen", "stuck signals noticed", "never looks whether its readings live"),
    ),
    reading(
        Signal::EngineSpeed,
        card(
            Fault::SlowFreezeUnseen,
            "slow-freeze-unseen",
            "stuck signals noticed",
            "looks whether its readings live at 60 km/h and above only",
        ),
    ),
    reading(
        Signal::EngineSpeed,
        card(
            Fault::SteadyIsStuck,
            "steady-is-stuck",
            "stuck signals noticed",
            "takes speed and pedal that stand still for 8 s for stuck ones",
        ),
    ),
    card(
        Fault::AsksOn,
        "asks-on",
        "read-only link and sleep",
        "goes on asking with the ignition off for as long as it has its supply",
    ),
    card(
        Fault::AsksOften,
        "asks-often",
        "read-only link and sleep",
        "asks for the pedal each tick while that is on the floor",
    ),
    card(
        Fault::OpensSession,
        "opens-session",
        "read-only link and sleep",
        "opens a diagnostic session after data were lost",
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
    // On the legality of shifts.
    card(Fault::TopTap, "top-tap", "gear range ends", "taps up once more, flat out in the top gear"),
    card(Fault::DoubleTap, "double-tap", "one step per tap", "a kickdown is tapped twice, 40 ms apart"),
    card(Fault::ShortPulse, "short-pulse", "one step per tap", "its pulse into the top gear lasts 30 ms"),
    card(Fault::BothContacts, "both-contacts", "one step per tap", "closes both contacts for a kickdown"),
    card(Fault::PulseWaits, "pulse-waits", "one step per tap", "ends a pulse only upon the next answer"),
    card(
        Fault::SkipsAGear,
        "skips-a-gear",
        "not while shifting",
        "on lifting off the second step up follows 300 ms after the first",
    ),
    reading(
        Signal::Gear,
        card(
            Fault::Impatient,
            "impatient",
            "not while shifting",
            "counts its blind time and never looks whether the gear read has changed",
        ),
    ),
    card(
        Fault::ThreeStepKick,
        "three-step-kick",
        "downshift cascade limit",
        "takes a kickdown of three steps within 1.4 s",
    ),
    card(
        Fault::CascadeOnFalseZero,
        "cascade-on-false-zero",
        "downshift cascade limit",
        "follows a speed that falls to nothing down through the gears, a step each 0.3 s",
    ),
    reading(
        Signal::Gear,
        card(
            Fault::RepeatsRefused,
            "repeats-refused",
            "refused shift handled",
            "asks for a refused shift again and again",
        ),
    ),
    reading(
        Signal::Gear,
        card(Fault::Insists, "insists", "refused shift handled", "once refused, asks again every 200 ms"),
    ),
    reading(
        Signal::Gear,
        card(
            Fault::IgnoresWrongDirection,
            "ignores-wrong-direction",
            "wrong direction disengages",
            "goes on although its shifts go the other way",
        ),
    ),
    reading(
        Signal::Gear,
        card(
            Fault::KeepsCounting,
            "keeps-counting",
            "counted gear agrees",
            "counts its own taps and never looks at the gear read",
        ),
    ),
    card(
        Fault::SwappedInThird,
        "swapped-in-third",
        "counted gear agrees",
        "closes the wrong contact for 3>4 at a third of the pedal",
    ),
    card(
        Fault::UpAtStandstill,
        "up-at-standstill",
        "no shift when stopped, reversing or engine off",
        "taps up before it moves when pulling away flat out",
    ),
    reading(
        Signal::EngineSpeed,
        card(
            Fault::EngineUnseen,
            "engine-unseen",
            "no shift when stopped, reversing or engine off",
            "shifts with the engine off, though it reads its speed",
        ),
    ),
    card(
        Fault::CoastsDownEarly,
        "coasts-down-early",
        "grip needed by a downshift",
        "goes to second at up to 50 km/h with the foot off",
    ),
    card(
        Fault::StraightOnDown,
        "straight-on-down",
        "grip needed on a slippery road",
        "coasting into third it goes straight on into second",
    ),
    card(
        Fault::LugsInTop,
        "lugs-in-top",
        "no lugging under load",
        "never leaves the top gear with 40 % pedal and more",
    ),
    card(
        Fault::SulksAfterSlip,
        "sulks-after-slip",
        "no lugging under load",
        "after a speed that leapt it shifts down no more",
    ),
    reading(
        Signal::Gear,
        card(
            Fault::RetriesUnchecked,
            "retries-unchecked",
            "rpm floor after upshift",
            "asks for a refused upshift again without another look at the speed",
        ),
    ),
    reading(
        Signal::Gear,
        card(
            Fault::RefusalUnseen,
            "refusal-unseen",
            "never commands first",
            "believes no gear read that is lower than it counts",
        ),
    ),
    card(
        Fault::RedlineOfThisGear,
        "redline-of-this-gear",
        "over-rev after downshift",
        "on the floor it looks at the redline of the gear it is in",
    ),
    reading(
        Signal::Gear,
        card(
            Fault::SelfShiftUnseen,
            "self-shift-unseen",
            "over-rev after downshift",
            "believes the gear read only after its own commands",
        ),
    ),
    card(
        Fault::WrongColumn,
        "wrong-column",
        "map as specified",
        "between the two middle pedal positions of its map it looks one column too far",
    ),
    card(Fault::LineOffByTwo, "line-off-by-two", "map as specified", "one downshift line is 2 km/h too low"),
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
        Fault::StuckColumn,
        "stuck-column",
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
