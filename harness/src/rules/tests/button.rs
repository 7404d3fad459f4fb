//! Boxes that engage by a button: the monitor's truth table, and what the rules make of it.

use super::changes::{back_in_gate, both, button_box, into, let_go, no_speed, no_tap, out, press, reset, shown, tap};
use super::made::Made;
use super::may_command::Is::*;
use super::may_command::{Line, holds};
use crate::rules::may_command::Cause;
use crate::signal::{Announcement, Lever};
use crate::spec::facts::{CeilingBinds, OnCause, ReArm};

const MOVEMENT: &str = "engage on lever movement only";
const CEILING: &str = "engagement speed ceiling";
const REARM: &str = "re-arm needs lever cycle";

fn pressed_from_the_start(made: &mut Made) {
    button_box(made);
    into(made);
    press(made);
}
fn in_the_gate_from_the_start(made: &mut Made) {
    button_box(made);
    into(made);
}
fn data_pause(made: &mut Made) {
    button_box(made);
    made.spec.facts.lost_data = OnCause::PausesMs(500);
}
fn data_pause_from_the_start(made: &mut Made) {
    data_pause(made);
    into(made);
}

const TABLE: &[Line] = &[
    ("the lever alone is no take-over", button_box, &[], &[(1500, NoEdge), (5000, NoEdge)]),
    ("pressed in the gate", button_box, &[(1500, press), (1600, let_go)], &[(1490, NoEdge), (1700, May), (5000, May)]),
    (
        // 100 ms of telling a movement from a bounce and one tick: until then it may not have seen the lever in the gate.
        "pressed in the tick in which the lever arrives",
        button_box,
        &[(500, press), (600, let_go)],
        &[(490, NoEdge), (700, Unsettled), (5000, Unsettled)],
    ),
    (
        "pressed while the lever may bounce",
        button_box,
        &[(600, press), (700, let_go)],
        &[(800, Unsettled), (5000, Unsettled)],
    ),
    (
        "pressed when it can't bounce any more",
        button_box,
        &[(610, press), (710, let_go)],
        &[(600, NoEdge), (810, May), (5000, May)],
    ),
    ("pressed in D", button_box, &[(200, press), (300, let_go)], &[(400, NoEdge), (3000, NoEdge)]),
    (
        "tapped, then pressed again",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (2500, tap), (2600, no_tap), (4000, press)],
        &[(3500, After(Cause::Tap)), (4200, May)],
    ),
    // The box's first look is no edge.
    ("held as the box starts", pressed_from_the_start, &[(600, let_go)], &[(0, NoEdge), (700, NoEdge), (5000, NoEdge)]),
    (
        "pressed a tick after the start",
        in_the_gate_from_the_start,
        &[(10, press), (100, let_go)],
        &[(0, NoEdge), (180, NotRight), (210, May), (5000, May)],
    ),
    (
        "held over a reset, let go and pressed again",
        button_box,
        &[(1500, press), (1800, shown), (2000, reset), (2500, let_go), (4000, press)],
        &[(1990, May), (2000, NoEdge), (3900, NoEdge), (4200, May)],
    ),
    (
        "held as the box starts, data lost and back",
        |m| {
            data_pause(m);
            into(m);
            press(m);
        },
        &[(400, let_go), (1010, no_speed), (3000, both)],
        &[(2900, NoEdge), (3300, NoEdge), (6000, NoEdge)],
    ),
    // Speed arrives last at 2000 ms and is lost at 3000 ms; it is back at 5000 ms.
    (
        "lost data pause, the lever stays",
        data_pause,
        &[(1500, press), (1600, let_go), (1800, shown), (2010, no_speed), (5000, both)],
        &[(4000, After(Cause::Data)), (5400, After(Cause::Data)), (7000, May)],
    ),
    (
        "the lever leaves while lost data pause: that ends it",
        data_pause,
        &[
            (1500, press),
            (1600, let_go),
            (1800, shown),
            (2010, no_speed),
            (4000, out),
            (4500, into),
            (5000, both),
            (8000, press),
        ],
        &[(3900, After(Cause::Data)), (4200, After(Cause::Lever)), (7900, After(Cause::Lever)), (8200, May)],
    ),
    (
        "the lever only bounces while lost data pause",
        data_pause,
        &[(1500, press), (1600, let_go), (1800, shown), (2010, no_speed), (4000, out), (4020, into), (5000, both)],
        &[(4200, After(Cause::Data)), (5400, After(Cause::Data)), (7000, Allowed)],
    ),
    // Speed arrives last at 2000 ms: old at 2510 ms, when a careful box may let go, and lost at 3010 ms. A press between
    // the two may be a take-over, and the box engage anew when speed is back.
    (
        "pressed while data are old, before they are lost",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (2010, no_speed), (2700, press), (2800, let_go), (4000, both)],
        &[(2900, Unsettled), (3900, After(Cause::Data)), (4300, Unsettled), (5000, Unsettled)],
    ),
    (
        "pressed while data are fresh, then they are lost",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (2010, no_speed), (2300, press), (2400, let_go), (4000, both)],
        &[(2500, May), (3900, After(Cause::Data)), (4300, After(Cause::Data)), (5000, After(Cause::Data))],
    ),
    (
        // It has 2 s to start: a press before that it may have missed, and then the next one counts.
        "pressed while it starts and shows nothing, then again while lost data pause",
        data_pause_from_the_start,
        &[(1990, press), (2100, let_go), (4010, no_speed), (6000, both), (6050, press)],
        &[(3000, May), (5900, Allowed), (6300, Allowed), (9000, Allowed)],
    ),
    (
        "pressed when it must have started, then again while lost data pause",
        data_pause_from_the_start,
        &[(2000, press), (2100, let_go), (4010, no_speed), (6000, both), (6050, press)],
        &[(3000, May), (5900, After(Cause::Data)), (6300, After(Cause::Data)), (9000, May)],
    ),
    (
        "pressed while it starts and shown, then again while lost data pause",
        data_pause_from_the_start,
        &[(1990, press), (2100, let_go), (2400, shown), (4010, no_speed), (6000, both), (6050, press)],
        &[(3000, May), (5900, After(Cause::Data)), (6300, After(Cause::Data)), (9000, May)],
    ),
    // It must have let go 100 ms after the lever left; until then it may take it for a bounce.
    (
        "a lever out for 20 ms has bounced",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (3000, out), (3020, into)],
        &[(2990, May), (3010, Unsettled), (3020, May), (9000, May)],
    ),
    (
        "a lever out for 40 ms may have bounced",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (3000, out), (3040, into)],
        &[(3030, Unsettled), (3500, Unsettled), (9000, Unsettled)],
    ),
    (
        "a lever out for 100 ms may have bounced",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (3000, out), (3100, into)],
        &[(3090, Unsettled), (3200, Unsettled), (9000, Unsettled)],
    ),
    (
        "a lever out for 100 ms in a pause may have let go, and the next press engages it",
        |m| {
            button_box(m);
            m.spec.facts.driver_tap = OnCause::PausesMs(4000);
        },
        &[
            (1500, press),
            (1600, let_go),
            (1800, shown),
            (2500, tap),
            (2600, no_tap),
            (4000, out),
            (4100, into),
            (5000, press),
        ],
        &[(3900, After(Cause::Tap)), (4900, After(Cause::Tap)), (5200, Unsettled), (9000, Unsettled)],
    ),
    // Speed arrives last at 3000 ms: old at 3510 ms, lost at 4010 ms. What has let go has nothing left that this could pause.
    (
        "a lever out for 100 ms may have let go, and the next press waits for data that are lost",
        data_pause,
        &[
            (1500, press),
            (1600, let_go),
            (1800, shown),
            (2400, out),
            (2500, into),
            (3010, no_speed),
            (3600, press),
            (3700, let_go),
            (5000, both),
        ],
        &[(2300, May), (3500, Unsettled), (4500, Unsettled), (5400, Unsettled), (9000, Unsettled)],
    ),
    (
        "pressed while the lever bounces out of the gate",
        button_box,
        &[(3000, out), (3000, press), (3010, into), (3100, let_go)],
        &[(2990, NoEdge), (3300, Unsettled), (9000, Unsettled)],
    ),
    (
        "pressed when the lever has been out for longer than it bounces",
        button_box,
        &[(3000, out), (3110, press), (3200, into), (3300, let_go)],
        &[(2990, NoEdge), (3500, NoEdge), (9000, NoEdge)],
    ),
    (
        "a lever out for 110 ms has left",
        button_box,
        &[(1500, press), (1600, let_go), (1800, shown), (3000, out), (3110, into)],
        &[(3090, Unsettled), (3120, After(Cause::Lever)), (9000, After(Cause::Lever))],
    ),
    // Where the lever arms it once more: right since 3500 ms, held for 200 ms, a tick of tolerance.
    (
        "back in the gate",
        back_in_gate,
        &[(1500, press), (1600, let_go), (1800, shown), (3000, out), (3500, into)],
        &[(3400, After(Cause::Lever)), (3680, NotRight), (3700, May), (9000, May)],
    ),
    (
        "tapped, then out and back in the gate",
        back_in_gate,
        &[(1500, press), (1600, let_go), (1800, shown), (2500, tap), (2600, no_tap), (4000, out), (4500, into)],
        &[(3900, After(Cause::Tap)), (4400, After(Cause::Tap)), (4680, NotRight), (4700, May)],
    ),
    (
        "back in the gate after 250 ms: it may count or not",
        back_in_gate,
        &[(1500, press), (1600, let_go), (1800, shown), (3000, out), (3250, into)],
        &[(3200, After(Cause::Lever)), (5000, Unsettled)],
    ),
    ("back in the gate, never engaged", back_in_gate, &[(3000, out), (3500, into)], &[(5000, NoEdge), (9000, NoEdge)]),
    (
        "back in the gate after a reset that ended it",
        back_in_gate,
        &[(1500, press), (1600, let_go), (1800, shown), (2500, reset), (4000, out), (4500, into)],
        &[(3000, NoEdge), (5000, NoEdge), (9000, NoEdge)],
    ),
];

#[test]
fn the_truth_table_of_the_button() {
    holds(TABLE);
}

/// Pressed at 1500 ms, engaged at 1800 ms, out of the gate from 3000 to 3500 ms, and never pressed again; from 3750 ms on
/// it is engaged again, or never.
fn back_without_a_press(re_arm: ReArm, engages: bool) -> Made {
    let mut made = Made::van();
    back_in_gate(&mut made);
    made.spec.facts.re_arm = re_arm;
    made.flag = Some(false);
    made.until(500);
    into(&mut made);
    made.until(1500);
    press(&mut made);
    made.until(1600);
    let_go(&mut made);
    made.until(1800);
    made.flag = Some(true);
    shown(&mut made);
    made.until(3000);
    out(&mut made);
    made.run(50);
    made.flag = Some(false);
    made.say(Announcement::Disengaged);
    made.until(3500);
    into(&mut made);
    made.until(3750);
    made.flag = Some(engages);
    if engages {
        shown(&mut made);
    }
    made.until(7000);
    made
}

/// The press lies 1.5 s before the lever left the gate. What one policy asks for, the other forbids.
#[test]
fn armed_by_the_lever_or_by_a_press_alone() {
    let broken = back_without_a_press(ReArm::TakeOver, true);
    assert_eq!(broken.seen(REARM, -1.5).at_ms, 3750);
    assert_eq!(broken.broken(), [REARM]);
    let waits = back_without_a_press(ReArm::TakeOver, false);
    assert_eq!((waits.broken(), waits.measure(REARM).reached[3]), (vec![], 0));
    let armed = back_without_a_press(ReArm::BackInGate, true);
    assert_eq!((armed.broken(), armed.measure(REARM).reached[3]), (vec![], 1));
    let silent = back_without_a_press(ReArm::BackInGate, false);
    assert_eq!((silent.broken(), silent.measure(REARM).reached[3]), (vec!["engages when it should"], 0));
}

/// Pressed at 1.1 s, while it may still be starting, and shown; too fast from 1.2 s and slow enough again from 1.7 s on. A
/// second press at 3 s, into the engagement, makes nothing due.
#[test]
fn a_press_into_an_engagement_makes_nothing_due() {
    let mut made = Made::van();
    in_the_gate_from_the_start(&mut made);
    made.flag = Some(false);
    made.until(1100);
    press(&mut made);
    made.flag = Some(true);
    made.until(1200);
    let_go(&mut made);
    made.speed = 42.0;
    made.until(1700);
    made.speed = 39.0;
    made.until(3000);
    press(&mut made);
    made.until(6000);
    made.nothing("engages when it should");
}

/// Pressed this long after the start, ms, until 600 ms; shown at 1000 ms.
fn pressed_at(ms: Option<u32>) -> Made {
    let mut made = Made::van();
    in_the_gate_from_the_start(&mut made);
    if let Some(ms) = ms {
        made.until(ms);
        press(&mut made);
        made.until(600);
        let_go(&mut made);
        made.until(1000);
        shown(&mut made);
    }
    made.run(500);
    made
}

/// 5 s at once: there was no take-over. A tick later it is one, 0.99 s before it engages.
#[test]
fn a_button_held_as_the_box_starts() {
    assert_eq!(pressed_at(Some(0)).seen(MOVEMENT, -5.0).at_ms, 1000);
    assert_eq!(pressed_at(Some(0)).broken(), [MOVEMENT]);
    assert_eq!(pressed_at(Some(10)).broken(), [""; 0]);
    pressed_at(None).nothing(CEILING);
}

/// Pressed while data are old but not lost; they are lost 100 ms later and back at 4000 ms. The flag rises at a speed at
/// 4500 ms for the first time, then at another after a lever cycle and another press.
fn engaging_at(speeds: [f64; 2]) -> Made {
    let mut made = Made::van();
    data_pause_from_the_start(&mut made);
    made.spec.facts.ceiling_binds = CeilingBinds::First;
    made.flag = Some(false);
    made.until(2010);
    no_speed(&mut made);
    made.until(2550);
    press(&mut made);
    made.until(2650);
    let_go(&mut made);
    made.until(4000);
    both(&mut made);
    made.run(400);
    made.speed = speeds[0];
    made.run(100);
    made.flag = Some(true);
    made.run(1000);
    made.lever = Lever::D;
    made.run(50);
    made.flag = Some(false);
    made.run(450);
    made.lever = Lever::Gate;
    made.speed = speeds[1];
    made.run(500);
    press(&mut made);
    made.run(300);
    made.flag = Some(true);
    made.run(500);
    made
}

/// The ceiling of 40 km/h binds the first engagement, and that is the one after data came back.
#[test]
fn the_first_engagement_is_no_going_on_after_a_pause() {
    assert_eq!(engaging_at([20.0, 45.0]).broken(), [""; 0]);
    engaging_at([40.0, 45.0]).seen(CEILING, 0.0);
    assert_eq!(engaging_at([41.0, 45.0]).seen(CEILING, -1.0).at_ms, 4500);
}

/// A box that shows nothing, engaged by the button; the lever leaves for this long at 5 s. From 6 s on at 50 km/h third is
/// due, and the box does nothing.
fn silent_after(out_ms: u32) -> Made {
    let mut made = Made::van();
    button_box(&mut made);
    made.spec.facts.announces = false;
    made.run(500);
    into(&mut made);
    made.until(2500);
    press(&mut made);
    made.until(2600);
    let_go(&mut made);
    made.until(5000);
    out(&mut made);
    made.run(out_ms);
    into(&mut made);
    made.until(6000);
    (made.speed, made.pedal) = (50.0, 5.0);
    made.run(5000);
    made
}

/// After any excursion of the lever a box with a button may wait for the next press.
#[test]
fn a_box_may_have_let_go_as_the_lever_bounced() {
    for out_ms in [10, 20, 40, 100, 110] {
        assert_eq!(silent_after(out_ms).broken(), [""; 0], "{out_ms}");
    }
    assert_eq!(silent_after(0).broken(), ["engages when it should", "response deadline", "settles on map gear"]);
}
