//! The monitor's truth table, written from the words of the design: *may* opens when a take-over edge since power-up
//! and the last disengagement exists and all conditions, the ceiling included, have held long enough at some tick
//! since. Unsettled: within a tick, a reaction time, or a lever excursion under 30 ms.

use super::changes::{
    any_time, as_is, both, dark, fast, freeze, high, into, light, no_pedal, no_speed, no_tap, notices, out, reset,
    running, shown, slow, tap, transit,
};
use super::made::Made;
use crate::rules::may_command::{Cause, State, Why};
use crate::rules::story::Story;
use crate::spec::facts::OnCause;

/// What the table expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Is {
    Off,
    NoEdge,
    Ceiling,
    NotRight,
    After(Cause),
    Unsettled,
    May,
    /// May or unsettled: the words leave open which, and forbid only to blame.
    Allowed,
    /// Any of the must-nots: the words say only that it must not.
    MustNot,
}
use Is::*;

fn is(state: State, expected: Is) -> bool {
    match expected {
        Off => state == State::MustNot(Why::Off),
        NoEdge => state == State::MustNot(Why::NoEdge),
        Ceiling => state == State::MustNot(Why::Ceiling),
        NotRight => state == State::MustNot(Why::NotAllRight),
        After(cause) => matches!(state, State::MustNot(Why::After(c, _)) if c == cause),
        Unsettled => state == State::Unsettled,
        May => state == State::May,
        Allowed => !matches!(state, State::MustNot(_)),
        MustNot => matches!(state, State::MustNot(_)),
    }
}

/// A change at a time.
pub(super) type Change = (u32, fn(&mut Made));

/// Situation; what differs in the spec; changes; the states at some ticks. Always into the gate at 500 ms, at 20 km/h
/// in high range with speed and pedal polled: right since 500 ms, held for 200 ms at 700 ms.
pub(super) type Line = (&'static str, fn(&mut Made), &'static [Change], &'static [(u32, Is)]);

const TABLE: &[Line] = &[
    ("no lever movement: stays out", as_is, &[(500, out)], &[(490, NoEdge), (500, NoEdge), (3000, NoEdge)]),
    (
        "all right: held for less than, just, more",
        as_is,
        &[],
        &[
            (490, NoEdge),
            (500, NotRight),
            (680, NotRight), // The tick that is allowed.
            (690, Allowed),
            (700, May),
            (710, May),
            (5000, May),
        ],
    ),
    ("pedal missing", as_is, &[(0, no_pedal)], &[(600, NotRight), (1500, NotRight), (5000, NotRight)]),
    ("speed missing", as_is, &[(0, no_speed)], &[(1500, NotRight)]),
    ("pedal arrives within the window", as_is, &[(0, no_pedal), (1700, both)], &[(1800, NotRight), (1900, May)]),
    (
        "pedal arrives in the window, has held only after its end: read either way",
        as_is,
        &[(0, no_pedal), (1900, both)],
        &[(1900, NotRight), (2080, NotRight)],
    ),
    ("pedal arrives after the window", as_is, &[(0, no_pedal), (2100, both)], &[(2500, NotRight), (5000, NotRight)]),
    ("pedal arrives late, box waits", any_time, &[(0, no_pedal), (3000, both)], &[(3180, NotRight), (3200, May)]),
    (
        "speed read is lost at the edge",
        any_time,
        &[(10, no_speed), (500, out), (2000, into)],
        &[(2300, NotRight), (5000, NotRight)],
    ),
    ("range not high at the edge", as_is, &[(0, transit)], &[(1500, NotRight)]),
    ("ceiling never met", as_is, &[(0, fast)], &[(800, Ceiling), (5000, Ceiling)]),
    ("ceiling never met, box waits", any_time, &[(0, fast)], &[(800, Ceiling), (5000, Ceiling)]),
    ("ceiling met, then left", as_is, &[(900, fast)], &[(700, May), (1500, May), (5000, May)]),
    (
        "ceiling met late for a while, box waits",
        any_time,
        &[(0, fast), (3000, slow), (3500, fast)],
        &[(2990, Ceiling), (3100, MustNot), (3200, May), (5000, May)],
    ),
    ("ceiling met late, box has a window", as_is, &[(0, fast), (3000, slow)], &[(3500, MustNot), (5000, MustNot)]),
    (
        "bounce of 20 ms",
        as_is,
        &[(800, shown), (2000, out), (2020, into)],
        &[(1990, May), (2000, Unsettled), (2010, Unsettled), (2020, Allowed), (2300, May)],
    ),
    (
        // It must have let go 100 ms after the lever left; until then it may take it for a bounce and go on.
        "out for 40 ms may be a bounce or a movement",
        as_is,
        &[(800, shown), (2000, out), (2040, into)],
        &[(2020, Unsettled), (2040, Unsettled), (2160, Unsettled), (5000, Unsettled)],
    ),
    (
        // The box has not seen it out for 30 ms yet when it is back: one tick more or less decides.
        "out for 30 ms may be a bounce",
        as_is,
        &[(800, shown), (2000, out), (2030, into)],
        &[(2020, Unsettled), (2150, May), (2240, May)],
    ),
    (
        "out for 100 ms",
        as_is,
        &[(800, shown), (2000, out), (2100, into)],
        &[(2090, Unsettled), (2120, Unsettled), (5000, Unsettled)],
    ),
    (
        // To arm again a box may ask for 300 ms out of the gate; until then both are innocent.
        "out for 110 ms is a movement",
        as_is,
        &[(800, shown), (2000, out), (2110, into)],
        &[(2100, Unsettled), (2230, NotRight), (2320, Unsettled)],
    ),
    (
        // In the gate from 500 ms on, for 200 ms, a tick of tolerance: who takes it for a bounce counts on.
        "out for 60 ms while the conditions are being held",
        as_is,
        &[(600, out), (660, into)],
        &[(590, NotRight), (680, NotRight), (700, Unsettled), (5000, Unsettled)],
    ),
    (
        "out for 220 ms",
        as_is,
        &[(800, shown), (2000, out), (2220, into)],
        &[(2150, After(Cause::Lever)), (2300, NotRight), (2420, Unsettled)],
    ),
    (
        "out for 300 ms",
        as_is,
        &[(800, shown), (2000, out), (2300, into)],
        &[(2150, After(Cause::Lever)), (2380, NotRight), (2500, May)],
    ),
    (
        "out of the gate",
        as_is,
        &[(800, shown), (2000, out)],
        &[(2000, Unsettled), (2100, Unsettled), (2110, After(Cause::Lever)), (5000, After(Cause::Lever))],
    ),
    (
        "driver's tap",
        as_is,
        &[(800, shown), (2000, tap), (2100, no_tap)],
        &[(1990, May), (2000, Unsettled), (2100, Unsettled), (2110, After(Cause::Tap)), (9000, After(Cause::Tap))],
    ),
    (
        "driver's tap, then a lever cycle",
        as_is,
        &[(800, shown), (2000, tap), (2100, no_tap), (3000, out), (3300, into)],
        &[(3200, After(Cause::Tap)), (3400, NotRight), (3500, May)],
    ),
    (
        // Let go of in the tick at 2090 ms: until 5090 ms, a tick less allowed, and then it has 1 s to go on.
        "driver's tap pauses 3 s",
        |m| m.spec.facts.driver_tap = OnCause::PausesMs(3000),
        &[(800, shown), (2000, tap), (2100, no_tap)],
        &[
            (2100, Unsettled),
            (2110, After(Cause::Tap)),
            (5070, After(Cause::Tap)),
            (5080, Unsettled),
            (6090, Unsettled),
            (6100, May),
        ],
    ),
    (
        "tap before all has held is no disengagement",
        as_is,
        &[(600, tap), (650, no_tap)],
        &[(640, NotRight), (1000, Allowed)],
    ),
    (
        "tap in the tick of the edge",
        as_is,
        &[(500, tap), (550, no_tap)],
        &[(500, NotRight), (680, NotRight), (1000, Allowed)],
    ),
    (
        "tap just after opening, engagement not shown",
        any_time,
        &[(750, tap), (800, no_tap)],
        &[(1500, Allowed), (5000, Allowed)],
    ),
    (
        "tap just after opening, engagement shown",
        as_is,
        &[(720, shown), (750, tap), (800, no_tap)],
        &[(1500, After(Cause::Tap))],
    ),
    (
        "range leaves in the tick in which all has held",
        any_time,
        &[(700, transit), (2000, high)],
        &[(1500, MustNot), (2300, Allowed)],
    ),
    (
        "low range in the tick of the edge",
        as_is,
        &[(500, transit), (520, high)],
        &[(500, NotRight), (700, NotRight), (720, May)],
    ),
    (
        "range transit",
        as_is,
        &[(800, shown), (2000, transit)],
        &[(2000, Unsettled), (2230, After(Cause::Range)), (5000, After(Cause::Range))],
    ),
    (
        "range glitch of 50 ms",
        as_is,
        &[(800, shown), (2000, transit), (2050, high)],
        &[(2300, After(Cause::Range)), (5000, After(Cause::Range))],
    ),
    (
        "range back high, then a lever cycle",
        as_is,
        &[(800, shown), (2000, transit), (3000, high), (5000, out), (5300, into)],
        &[(4900, After(Cause::Range)), (5500, May)],
    ),
    // Speed arrives last at 2000 ms.
    ("data between fresh and lost", as_is, &[(800, shown), (2010, no_speed)], &[(2510, May), (2600, May), (3000, May)]),
    (
        "data lost",
        as_is,
        &[(800, shown), (2010, no_speed), (5000, both)],
        &[(3010, Unsettled), (3240, After(Cause::Data)), (6000, After(Cause::Data))],
    ),
    (
        "pedal lost, then a lever cycle",
        as_is,
        &[(800, shown), (2010, no_pedal), (4000, both), (5000, out), (5300, into)],
        &[(4500, After(Cause::Data)), (5500, May)],
    ),
    (
        "data pause",
        |m| m.spec.facts.lost_data = OnCause::PausesMs(500),
        &[(800, shown), (2010, no_speed), (5000, both)],
        &[(4000, After(Cause::Data)), (5600, Allowed), (7000, May)],
    ),
    ("ignition off", as_is, &[(800, shown), (2000, |m| m.ignition = false)], &[(3000, After(Cause::Ignition))]),
    (
        "supply dips in the gate",
        as_is,
        &[(800, shown), (2000, dark), (2100, light)],
        &[(2000, Off), (2090, Off), (2100, NoEdge), (5000, NoEdge)],
    ),
    ("reset in the gate", as_is, &[(800, shown), (2000, reset)], &[(1990, May), (2000, NoEdge), (5000, NoEdge)]),
    (
        "reset in the gate, then a lever cycle",
        as_is,
        &[(800, shown), (2000, reset), (3000, out), (3300, into)],
        &[(2900, NoEdge), (3500, May)],
    ),
    (
        "engine read as standing",
        |m| m.spec.facts.signals.engine_speed = true,
        &[(0, |m| m.engine_rpm_read = Some(0.0))],
        &[(1500, NotRight)],
    ),
    (
        "engine read as running",
        |m| m.spec.facts.signals.engine_speed = true,
        &[(0, |m| m.engine_rpm_read = Some(800.0))],
        &[(1500, May)],
    ),
    (
        "all readings stand still from the last change at 2000 ms on, and it is to notice within 3 s",
        notices,
        &[(0, running), (800, shown), (2010, freeze)],
        &[(4990, May), (5000, Unsettled), (5100, Unsettled), (5120, After(Cause::Stuck)), (9000, After(Cause::Stuck))],
    ),
    (
        "they stand still for a box that need not notice",
        |m| m.spec.facts.signals.engine_speed = true,
        &[(0, running), (800, shown), (2010, freeze)],
        &[(5200, May), (9000, May)],
    ),
    ("speed and pedal alone stand still", notices, &[(0, running), (800, shown)], &[(5200, May), (9000, May)]),
    (
        "all stand still, then a lever cycle with live readings",
        notices,
        &[(0, running), (800, shown), (2010, freeze), (6000, running), (6500, out), (7000, into)],
        &[(5900, After(Cause::Stuck)), (7300, May)],
    ),
    (
        "all stand still before the lever comes in again",
        notices,
        &[(0, running), (550, out), (1010, freeze), (4500, into)],
        &[(5000, NotRight), (9000, NotRight)],
    ),
];

#[test]
fn the_truth_table() {
    holds(TABLE);
}

/// Each line of a table holds.
#[track_caller]
pub(super) fn holds(table: &[Line]) {
    let mut wrong = Vec::new();
    for (situation, differs, changes, expected) in table {
        let mut made = Made::van();
        differs(&mut made);
        let mut all: Vec<Change> = changes.to_vec();
        all.insert(0, (500, into));
        all.sort_by_key(|(ms, _)| *ms);
        for (ms, change) in all {
            made.until(ms);
            change(&mut made);
        }
        made.until(10_000);
        let mut story = Story::default();
        story.tell(&made.spec, &made.recorded());
        for &(ms, state) in *expected {
            let span = story.spans.iter().find(|s| (s.from_ms..s.to_ms).contains(&ms));
            let got = span.map(|s| s.state);
            if !got.is_some_and(|got| is(got, state)) {
                wrong.push(format!("{situation}: at {ms} ms {got:?} where {state:?} is right"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
