//! Causes that end or pause an engagement.

use super::{Cause, Closing, Edge, Monitor, Now};
use crate::signal::{Lever, Range};
use crate::spec::facts::OnCause;

/// The gravest first.
const CAUSES: [Cause; 6] = [Cause::Ignition, Cause::Data, Cause::Stuck, Cause::Range, Cause::Lever, Cause::Tap];

impl Monitor {
    /// Causes, the gravest first: the one that is present closes an open engagement. Whether there is one.
    pub(super) fn take_causes(&mut self, now: &Now) -> bool {
        if self.older_than(now, self.times.fresh) || now.still_ms >= self.times.still {
            // A careful box may have let go already.
            self.doubt = true;
            self.perhaps_let_go |= self.on_data == OnCause::Disengages;
        }
        let unseen_ms = self.times.unseen;
        let lever_out =
            now.lever != Lever::Gate && self.out_since.is_some_and(|since| self.alarm.passed(now.ms, since, unseen_ms));
        let lost = self.older_than(now, self.times.lost);
        let stuck = self.is_stuck(now);
        let range = now.range.is_some_and(|r| r != Range::High);
        let taps = now.tapped || now.tap_held;
        let any = !now.ignition || lost || stuck || range || lever_out || taps;
        let cause = if any { self.gravest([!now.ignition, lost, stuck, range, lever_out, taps]) } else { None };
        if let Some(cause) = cause {
            if self.opened.is_some() {
                self.alarm.keep_awake();
            }
            let at_ms = if cause == Cause::Lever { self.out_since.unwrap_or(now.ms) } else { now.ms };
            self.close(cause, at_ms, now.ms);
        }
        if let (true, Edge::Fresh(at)) = (now.tap_in_doubt, self.edge) {
            self.edge = Edge::Doubtful(at);
            self.doubt = true;
            self.perhaps_paused = self.opened.is_some() && matches!(self.on_tap, OnCause::PausesMs(_));
        }
        cause.is_some()
    }

    pub(super) fn note_range(&mut self, now: &Now) {
        if now.range.is_some_and(|r| r != Range::High) {
            (self.range_was_low, self.range_back_ms) = (true, None);
        } else if self.range_was_low {
            self.range_back_ms.get_or_insert(now.ms);
        }
    }

    /// The range hasn't been high for long enough since it last was not: a box may wait for that, or let a take-over go.
    #[must_use]
    pub fn range_settles(&self, now_ms: u32) -> bool {
        let settled = |at: u32| self.alarm.exceeded(now_ms, at, self.times.range_high + self.times.tick);
        self.range_was_low && !self.range_back_ms.is_some_and(settled)
    }

    /// Since when the range is high again, ms; `None` where it always was since power-up, or isn't now.
    #[must_use]
    pub fn range_back_ms(&self) -> Option<u32> {
        self.range_back_ms
    }

    /// The gravest of those that are present, in the order of `CAUSES`: one that only pauses doesn't hide one that
    /// ends.
    fn gravest(&self, present: [bool; CAUSES.len()]) -> Option<Cause> {
        let present = || CAUSES.into_iter().zip(present).filter(|(_, present)| *present).map(|(cause, _)| cause);
        present().find(|cause| self.policy(*cause) == OnCause::Disengages).or_else(|| present().next())
    }

    pub(super) fn is_stuck(&self, now: &Now) -> bool {
        self.times.stuck.is_some_and(|stuck| now.still_ms >= stuck)
    }

    fn policy(&self, cause: Cause) -> OnCause {
        match cause {
            Cause::Tap => self.on_tap,
            Cause::Data => self.on_data,
            Cause::Ignition | Cause::Range | Cause::Lever | Cause::Stuck => OnCause::Disengages,
        }
    }

    fn close(&mut self, cause: Cause, at_ms: u32, now_ms: u32) {
        if self.opened.is_none() {
            if let (Cause::Tap, Edge::Fresh(at)) = (cause, self.edge) {
                // The driver shifts by hand before the box has engaged: it may leave the gear to the driver.
                self.edge = Edge::Doubtful(at);
            }
            return;
        }
        let sure = self.shown || self.sure;
        if let OnCause::PausesMs(ms) = self.policy(cause) {
            if !sure || self.perhaps_anew {
                // There may be nothing yet that it could pause, or a new hand-over that waits.
                if let Edge::Fresh(at) = self.edge {
                    self.edge = Edge::Doubtful(at);
                }
                (self.due_from, self.perhaps_paused) = (None, true);
                return;
            }
            if self.pause_until.is_none_or(|until| now_ms >= until) {
                self.closing = Some(Closing { cause, at_ms, sure, pauses: true });
                self.closed = Some((cause, at_ms));
            }
            self.pause_until = Some(now_ms + ms);
            return;
        }
        self.closing = Some(Closing { cause, at_ms, sure, pauses: false });
        self.closed = Some((cause, at_ms));
        self.edge = match self.edge {
            Edge::Fresh(at) | Edge::Doubtful(at) if !sure || self.perhaps_anew => Edge::Doubtful(at),
            _ => Edge::None,
        };
        self.opened = None;
        self.due_from = None;
        self.sure = false;
        self.shown = false;
        self.right_since = None;
        self.strictly_since = None;
        self.pause_until = None;
    }
}
