//! What changes in a drive at a time, or in a spec: the verbs of the truth tables.

use super::made::Made;
use crate::signal::{Announcement, Contacts, Lever, Range};
use crate::spec::facts::{AfterEdge, CeilingBinds, ReArm, TakeOver};

pub(super) fn as_is(_: &mut Made) {}

pub(super) fn any_time(made: &mut Made) {
    made.spec.facts.after_edge = AfterEdge::AnyTime;
}

pub(super) fn shown(made: &mut Made) {
    made.say(Announcement::Engaged);
}

pub(super) fn out(made: &mut Made) {
    made.lever = Lever::D;
}

pub(super) fn notices(made: &mut Made) {
    made.spec.facts.signals.engine_speed = true;
    made.spec.facts.notices_stuck = true;
}

pub(super) fn running(made: &mut Made) {
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.0), true);
}

pub(super) fn freeze(made: &mut Made) {
    // As it was in the answer at 2000 ms or 1000 ms, both even ones.
    (made.engine_rpm_read, made.engine_lives) = (Some(1500.25), false);
}

pub(super) fn into(made: &mut Made) {
    made.lever = Lever::Gate;
}

pub(super) fn tap(made: &mut Made) {
    made.taps = Contacts { up: true, down: false };
}

pub(super) fn no_tap(made: &mut Made) {
    made.taps = Contacts::default();
}

pub(super) fn transit(made: &mut Made) {
    made.range = Range::Transit;
}

pub(super) fn high(made: &mut Made) {
    made.range = Range::High;
}

pub(super) fn no_speed(made: &mut Made) {
    made.link[0] = false;
}

pub(super) fn no_pedal(made: &mut Made) {
    made.link[1] = false;
}

pub(super) fn both(made: &mut Made) {
    made.link = [true; 2];
}

pub(super) fn fast(made: &mut Made) {
    made.speed = 50.0;
}

pub(super) fn slow(made: &mut Made) {
    made.speed = 30.0;
}

pub(super) fn reset(made: &mut Made) {
    made.restart = true;
}

pub(super) fn dark(made: &mut Made) {
    made.powered = false;
}

pub(super) fn light(made: &mut Made) {
    (made.powered, made.restart) = (true, true);
}

pub(super) fn button_box(made: &mut Made) {
    made.spec.facts.take_over = TakeOver::Button;
    made.spec.facts.after_edge = AfterEdge::AnyTime;
    made.button = Some(false);
}

pub(super) fn back_in_gate(made: &mut Made) {
    button_box(made);
    made.spec.facts.re_arm = ReArm::BackInGate;
}

pub(super) fn press(made: &mut Made) {
    made.button = Some(true);
}

pub(super) fn let_go(made: &mut Made) {
    made.button = Some(false);
}

pub(super) fn binds_the_first(made: &mut Made) {
    made.spec.facts.ceiling_binds = CeilingBinds::First;
}
