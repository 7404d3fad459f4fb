//! Rows in which nothing happens, as in two of three: no answer has come, all stands as in the row before, and nothing that
//! waits comes due. What has begun goes on in them, and nothing else.

use super::Story;
use super::due::HARD_MPS2;
use super::hand_over::Carry;
use super::legality::{BACKWARDS_KMH, may_lug};
use super::pass::Pass;
use crate::recording::{Recording, Row};
use crate::signal::{Contacts, Inputs};

/// The kinds of motion that the story tells apart in each row.
fn motion(row: &Row) -> [bool; 2] {
    [row.truth.speed_kmh > 0.0, row.truth.speed_kmh < BACKWARDS_KMH]
}

/// All stands as in the row before, but for answers.
fn all_stands(was: &Row, row: &Row) -> bool {
    let open = Contacts::default();
    let (truth, before) = (&row.truth, &was.truth);
    let taps = |row: &Row| {
        let (inputs, truth) = (&row.inputs, &row.truth);
        let edges = inputs.tap_up_edges > 0 || inputs.tap_down_edges > 0;
        edges || inputs.tap_up || inputs.tap_down || truth.driver_up || truth.driver_down
    };
    row.powered
        && was.powered
        && !(row.restarted || was.restarted)
        && row.inputs == Inputs { time_ms: row.inputs.time_ms, ..was.inputs }
        && !(taps(row) || taps(was))
        && (row.contacts, was.contacts) == (open, open)
        && (row.announcement, was.announcement) == (None, None)
        && (row.engaged, row.counted_gear) == (was.engaged, was.counted_gear)
        && !(truth.shifting || before.shifting)
        && (truth.gear, truth.target_gear, truth.engine_on) == (before.gear, before.target_gear, before.engine_on)
        && motion(row) == motion(was)
}

/// The story has nothing new to look at in a row, but for answers.
pub(super) fn stands(pass: &Pass<'_>, was: &Row, row: &Row) -> bool {
    all_stands(was, row) && row.truth.accel_mps2 > -HARD_MPS2 && !may_lug(pass, &row.truth)
}

impl Story {
    /// One row of rest: what stood in the row before stands on.
    pub(super) fn rest(&mut self, pass: &mut Pass<'_>, hand: &mut Carry, recording: &Recording, was: &Row, row: &Row) {
        let (ms, tick_ms) = (row.t_ms, pass.spec.facts.tick.ms());
        let Some(span) = self.spans.last_mut() else { return };
        span.to_ms = ms + tick_ms;
        let state = span.state;
        if let Some(stretch) = self.stretches.last_mut() {
            stretch.to_ms = ms + tick_ms;
        }
        hand.rest(self, pass, was, row);
        self.due(pass, row, state, hand.starting_up);
        pass.wanting.still.rest(ms, tick_ms);
        self.steady(row, recording.tick_ms);
    }
}
