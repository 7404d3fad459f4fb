//! Rows in which nothing happens, as in nine of ten: all stands as in the row before, no answer has come that tells anything
//! else, and nothing that waits comes due. What has begun goes on in them, and nothing else.

use super::Story;
use super::due::HARD_MPS2;
use super::hand_over::Carry;
use super::legality::{BACKWARDS_KMH, may_lug};
use super::pass::Pass;
use crate::recording::{Recording, Row};

/// The kinds of motion that the story tells apart in each row.
fn motion(row: &Row) -> [bool; 2] {
    [row.truth.speed_kmh > 0.0, row.truth.speed_kmh < BACKWARDS_KMH]
}

/// All stands as in the row before, but for answers; a shift may run in both.
fn all_stands(was: &Row, row: &Row) -> bool {
    let (truth, before) = (&row.truth, &was.truth);
    row.still
        && (truth.gear, truth.target_gear, truth.shifting) == (before.gear, before.target_gear, before.shifting)
        && truth.engine_on == before.engine_on
        && motion(row) == motion(was)
}

/// The story has nothing new to look at in a row, but for answers.
pub(super) fn stands(pass: &Pass<'_>, was: &Row, row: &Row) -> bool {
    let truth = &row.truth;
    all_stands(was, row) && truth.accel_mps2 > -HARD_MPS2 && (truth.shifting || !may_lug(pass, truth))
}

impl Story {
    /// One row of rest.
    pub(super) fn pass_over(&mut self, pass: &mut Pass<'_>, recording: &Recording, row: &Row) {
        pass.rested += 1;
        if row.answers > 0 {
            pass.wanting.stays();
            self.stands(pass, row);
        }
        self.steady(row, recording.tick_ms);
    }

    /// What stood before the rows that were passed over has stood on in them.
    pub(super) fn rest(&mut self, pass: &mut Pass<'_>, hand: &mut Carry) {
        let rows = std::mem::take(&mut pass.rested);
        let Some(row) = pass.was.filter(|_| rows > 0) else { return };
        let (ms, tick_ms) = (row.t_ms, pass.spec.facts.tick.ms());
        if let Some(span) = self.spans.last_mut() {
            span.to_ms = ms + tick_ms;
        }
        if let Some(stretch) = self.stretches.last_mut() {
            stretch.to_ms = ms + tick_ms;
        }
        if row.truth.shifting {
            pass.wanting.shifts_on(ms);
            pass.legal.gear_since_ms = ms;
        }
        hand.rest(self, pass, row);
        self.due_stands(pass, row, hand.starting_up);
        pass.wanting.still.rest(ms, rows, tick_ms);
    }
}
