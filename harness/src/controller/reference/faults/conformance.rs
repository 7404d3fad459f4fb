//! Faults against the rules on going to and fro, and on following the map.

use super::super::Fault;
use super::{FaultCard, card};

// Those of 'hunting count' and 'dither immunity' need no event: they are broken in a minute and more of steady driving
// only, and a fault that an event wakes was not caught within the budget in two trials.
pub(super) const CARDS: &[FaultCard] = &[
    card(Fault::NoDwell, "no-dwell", "opposite-shift dwell", "keeps no time between opposite commands"),
    card(
        Fault::RegretsUpshift,
        "regrets-upshift",
        "opposite-shift dwell",
        "takes an upshift back after 1.2 s where the pedal's answers have had a gap",
    ),
    card(
        Fault::GapCollapsed,
        "gap-collapsed",
        "hunting count",
        "beyond 20 % pedal its downshift lines lie 1 km/h below the upshift lines",
    ),
    card(
        Fault::GoesByLastUpshift,
        "goes-by-last-upshift",
        "hunting count",
        "with 30 % pedal and more it takes an upshift back within 10 s once it is slower than at its command",
    ),
    card(
        Fault::Twitchy,
        "twitchy",
        "busy-ness",
        "goes down a gear, from fourth and above, at each small rise of the pedal",
    ),
    card(
        Fault::ProbesAfterGap,
        "probes-after-gap",
        "busy-ness",
        "from the first gap in the pedal's answers on it goes to and fro in the upper gears to see them answer",
    ),
    card(
        Fault::NoGapWhenLight,
        "no-gap-when-light",
        "dither immunity",
        "with a light pedal the line 4>3 lies 0.5 km/h below the line 3>4",
    ),
    card(
        Fault::GapInTime,
        "gap-in-time",
        "dither immunity",
        "with a light pedal it leaves fifth once it has been below the line 4>5 for 2.5 s",
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
        Fault::EagerAfterGap,
        "eager-after-gap",
        "light-pedal minimum upshift speed",
        "with a light pedal it shifts up 5 km/h too early after a gap in the pedal's answers",
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
    card(
        Fault::ForgetsDescent,
        "forgets-descent",
        "keeps the gear downhill",
        "shifts up downhill with the foot off from the first gap in the pedal's answers on",
    ),
    card(
        Fault::WrongColumn,
        "wrong-column",
        "map as specified",
        "between the two middle pedal positions of its map it looks one column too far",
    ),
    card(Fault::LineOffByTwo, "line-off-by-two", "map as specified", "one downshift line is 2 km/h too low"),
];
