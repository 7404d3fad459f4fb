//! When the may-command monitor opens, to the tick: lines of its truth table about conditions that hold just long enough,
//! take-overs that count or don't, and engagements that have surely begun.

use super::changes::{
    any_time, as_is, back_in_gate, binds_the_first, both, button_box, fast, high, into, let_go, no_speed, no_tap, out,
    press, shown, slow, tap, transit,
};
use super::may_command::Is::*;
use super::may_command::{Line, holds};
use crate::rules::may_command::Cause;
use crate::spec::facts::AfterEdge;
use crate::units::Ms;

/// Into the gate at 500 ms; all must hold for 200 ms, one tick is allowed.
const LEVER: &[Line] = &[
    (
        // The tap is over in the tick at 650 ms: held for 190 ms at 840 ms.
        "a tap held while the conditions are being held: they count from its end",
        as_is,
        &[(600, tap), (650, no_tap)],
        &[(640, NotRight), (830, NotRight), (840, Allowed)],
    ),
    // After 100 ms out of the gate no box takes it for a bounce any more.
    (
        "out for 100 ms as all would have held",
        as_is,
        &[(590, out)],
        &[(680, NotRight), (690, NotRight), (1000, NotRight)],
    ),
    (
        // Who counts on has engaged at 690 ms, and lets go 100 ms after the lever left, a tick allowed.
        "out for 90 ms as all would have held",
        as_is,
        &[(600, out)],
        &[(680, NotRight), (690, Unsettled), (700, Unsettled), (710, After(Cause::Lever))],
    ),
    (
        "the second take-over above a ceiling that binds each",
        as_is,
        &[(800, shown), (2000, out), (2200, fast), (2500, into)],
        &[(1990, May), (2690, Ceiling), (5000, Ceiling)],
    ),
    (
        "the second take-over above a ceiling that binds the first",
        binds_the_first,
        &[(800, shown), (2000, out), (2200, fast), (2500, into)],
        &[(1990, May), (2680, NotRight), (2700, May), (5000, May)],
    ),
    (
        "the first above a ceiling that binds the first",
        binds_the_first,
        &[(0, fast)],
        &[(800, Ceiling), (5000, Ceiling)],
    ),
    // The window of 1.5 s is over at 2000 ms. Out for longer than it bounces the lever may have left, and its return hand
    // over anew, within which all is right.
    (
        "too fast at the take-over, then out for 70 ms",
        as_is,
        &[(0, fast), (3000, slow), (4000, out), (4070, into)],
        &[(3900, NotRight), (4060, NotRight), (4080, Unsettled), (9000, Unsettled)],
    ),
    (
        "too fast at the take-over, then out for 20 ms",
        as_is,
        &[(0, fast), (3000, slow), (4000, out), (4020, into)],
        &[(3900, NotRight), (4030, NotRight), (9000, NotRight)],
    ),
    // Speed was last read at 100 ms. Fresh means 500 ms, one poll of 100 ms and a tick are allowed.
    (
        "data 610 ms old as all has held",
        any_time,
        &[(110, no_speed), (500, out), (520, into)],
        &[(700, NotRight), (710, May)],
    ),
    (
        "data 620 ms old as all would have held",
        any_time,
        &[(110, no_speed), (500, out), (530, into)],
        &[(710, NotRight), (720, NotRight), (1100, NotRight)],
    ),
    // The window is over at 2000 ms; what holds then has 200 ms to have held, and a tick.
    (
        "high again just so early that it has held in time",
        as_is,
        &[(0, transit), (2020, high)],
        &[(2200, NotRight), (2210, Allowed)],
    ),
    (
        "high again a tick too late",
        as_is,
        &[(0, transit), (2030, high)],
        &[(2210, NotRight), (2220, NotRight), (5000, NotRight)],
    ),
    (
        // Slow enough at 2500 ms, long after the first take-over and 280 ms after what may have been another.
        "too fast at the take-over, then out for 220 ms",
        as_is,
        &[(0, fast), (2000, out), (2220, into), (2500, slow)],
        &[(1900, Ceiling), (2680, MustNot), (2690, Unsettled), (5000, Unsettled)],
    ),
    // Right since 2500 ms: held at 2700 ms, engaged at 3700 ms at the latest, and a tick. Before that a tap may have met
    // nothing, and the box engage after it.
    (
        "tapped in the last tick in which it need not have engaged",
        as_is,
        &[(500, out), (2500, into), (3710, tap), (3750, no_tap)],
        &[(3700, May), (4500, Unsettled)],
    ),
    (
        "tapped in the first tick in which it must have engaged",
        as_is,
        &[(500, out), (2500, into), (3720, tap), (3760, no_tap)],
        &[(3710, May), (4500, After(Cause::Tap)), (9000, After(Cause::Tap))],
    ),
];

#[test]
fn when_a_box_with_a_lever_may() {
    holds(LEVER);
}

/// In the gate from 500 ms on.
const BUTTON: &[Line] = &[
    (
        "pressed where all has long held: it may at once",
        button_box,
        &[(1500, press), (1600, let_go)],
        &[(1490, NoEdge), (1500, May), (1600, May)],
    ),
    // Out since its first look: that lever hasn't left the gate, so it doesn't bounce.
    (
        "pressed in D just after the start",
        button_box,
        &[(50, press), (90, let_go)],
        &[(60, NoEdge), (400, NoEdge), (3000, NoEdge)],
    ),
    // The last speed came at 2000 ms, the next comes at 2500 ms. Where data are old a careful box may let go, and a press
    // would engage it anew.
    (
        "pressed after data were just as old as they may be",
        |m| {
            button_box(m);
            m.spec.limits.data_fresh = Ms::new(490.0);
        },
        &[(1500, press), (1600, let_go), (1800, shown), (2010, no_speed), (2490, both), (2700, press), (2800, let_go)],
        &[(2490, May), (2900, May), (5000, May)],
    ),
    (
        "pressed after data were a tick older than they may be",
        |m| {
            button_box(m);
            m.spec.limits.data_fresh = Ms::new(480.0);
        },
        &[(1500, press), (1600, let_go), (1800, shown), (2010, no_speed), (2490, both), (2700, press), (2800, let_go)],
        &[(2490, May), (2900, Unsettled), (5000, Unsettled)],
    ),
    (
        // It may forget the press as the lever leaves, or wait for the ceiling; slow enough at 4000 ms.
        "pressed above the ceiling, then out and back",
        button_box,
        &[(0, fast), (1500, press), (1600, let_go), (3000, out), (3500, into), (4000, slow)],
        &[(2900, Ceiling), (4180, MustNot), (4190, Unsettled), (9000, Unsettled)],
    ),
    (
        // The window of 1.5 s ends at 3000 ms, and its conditions have 210 ms more; the lever's return is no press.
        "pressed above the ceiling, then out and back, and slow only after the window",
        |m| {
            button_box(m);
            m.spec.facts.after_edge = AfterEdge::WithinMs(1500);
        },
        &[(0, fast), (1500, press), (1600, let_go), (2500, out), (3000, into), (3300, slow)],
        &[(2400, Ceiling), (3290, MustNot), (3500, MustNot), (9000, MustNot)],
    ),
    // A movement takes 30 ms, a tick allowed; less is a bounce for any box.
    (
        "tapped, then out for 20 ms where the lever arms it",
        back_in_gate,
        &[(1500, press), (1600, let_go), (1800, shown), (2500, tap), (2600, no_tap), (4000, out), (4020, into)],
        &[(3900, After(Cause::Tap)), (4300, Unsettled), (9000, Unsettled)],
    ),
    (
        "tapped, then out for 10 ms where the lever arms it",
        back_in_gate,
        &[(1500, press), (1600, let_go), (1800, shown), (2500, tap), (2600, no_tap), (4000, out), (4010, into)],
        &[(3900, After(Cause::Tap)), (4300, After(Cause::Tap)), (9000, After(Cause::Tap))],
    ),
];

#[test]
fn when_a_box_with_a_button_may() {
    holds(BUTTON);
}
