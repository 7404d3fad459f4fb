//! Faults against the rules on the legality of single shifts.

use super::super::Fault;
use super::{FaultCard, card, reading};
use crate::signal::Signal;

pub(super) const CARDS: &[FaultCard] = &[
    card(Fault::LowCell, "low-cell", "rpm floor after upshift", "one upshift line is 6 km/h too low below 15 % pedal"),
    reading(
        Signal::Gear,
        card(
            Fault::RetriesUnchecked,
            "retries-unchecked",
            "rpm floor after upshift",
            "asks for a refused upshift again without another look at the speed",
        ),
    ),
    card(
        Fault::BlindKickdown,
        "blind-kickdown",
        "over-rev after downshift",
        "at 90 % pedal it goes down from fourth and above whatever the speed",
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
        Fault::OneTooLow,
        "one-too-low",
        "never commands first",
        "goes one below the lowest gear when coasting at 6 km/h or less",
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
    // On the legality of shifts.
    card(Fault::TopTap, "top-tap", "gear range ends", "taps up once more, flat out in the top gear"),
    card(
        Fault::ForgetsTop,
        "forgets-top",
        "gear range ends",
        "after a gap in the pedal's answers it taps up once in the top gear",
    ),
    card(Fault::DoubleTap, "double-tap", "one step per tap", "a kickdown is tapped twice, 40 ms apart"),
    card(Fault::ShortPulse, "short-pulse", "one step per tap", "its pulse into the top gear lasts 30 ms"),
    card(Fault::BothContacts, "both-contacts", "one step per tap", "closes both contacts for a kickdown"),
    card(Fault::PulseWaits, "pulse-waits", "one step per tap", "ends a pulse only upon the next answer"),
    card(
        Fault::HastyKickdown,
        "hasty-kickdown",
        "not while shifting",
        "at 90 % pedal the second step down follows 300 ms after the first",
    ),
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
        Fault::BrakesAfterGap,
        "brakes-after-gap",
        "grip needed by a downshift",
        "after a gap in the pedal's answers it goes to second at up to 50 km/h with the foot off",
    ),
    card(
        Fault::StraightOnDown,
        "straight-on-down",
        "grip needed on a slippery road",
        "coasting into third it goes straight on into second",
    ),
    card(
        Fault::BrakesAfterSlip,
        "brakes-after-slip",
        "grip needed on a slippery road",
        "after a speed that leapt it goes to second at up to 50 km/h with the foot off",
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
];
