//! Faults against the rules on data and the diagnostic port.

use super::super::Fault;
use super::{FaultCard, card, reading};
use crate::signal::Signal;

pub(super) const CARDS: &[FaultCard] = &[
    card(
        Fault::StaleCommands,
        "stale-commands",
        "fresh data at every command",
        "commands on data of any age until they count as lost",
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
];
