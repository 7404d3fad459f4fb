//! What is due of a box: engaging, and commands that nothing lets wait.

use super::pass::Pass;
use super::{AfterStop, Due, Story};
use crate::recording::Row;
use crate::rules::may_command::State;
use crate::signal::Direction;

/// From this deceleration on a stop is hard, m/s².
pub(super) const HARD_MPS2: f64 = 7.0;
/// A hard stop is looked back on for this long, ms.
const AFTER_STOP_MS: u32 = 12_000;

impl Story {
    /// After a hard stop that really was one, a downshift 3 km/h beyond its line with nothing else to wait for.
    pub(super) fn after_stop(&mut self, pass: &mut Pass<'_>, row: &Row, state: State) {
        let ms = row.t_ms;
        if row.truth.accel_mps2 <= -HARD_MPS2 {
            pass.stopped_ms = Some(ms);
        }
        let recent = pass.stopped_ms.is_some_and(|at| ms > at && ms - at <= AFTER_STOP_MS);
        if !recent {
            pass.after_stop_since = None;
            return;
        }
        pass.alarm.keep_awake();
        let limits = &pass.spec.limits;
        let wait_ms = |direction: Direction| match direction {
            Direction::Up => limits.opposite_dwell.ms().max(limits.shift_blind.ms()),
            Direction::Down => limits.shift_blind.ms(),
        };
        let earlier = || self.commands.iter().rev().filter(|c| c.at_ms < ms);
        let free = || earlier().take(2).all(|c| ms - c.at_ms >= wait_ms(c.direction));
        let quiet_ms = limits.quiet_after_engaging.ms() + limits.entry_step.ms();
        let settled = self.engagings.last().is_none_or(|e| ms - e.at_ms >= quiet_ms);
        let sure = state == State::May && pass.monitor.surely_engaged() && !pass.monitor.paused();
        let leapt = self.leaps.last().is_some_and(|l| ms - l.at_ms <= AFTER_STOP_MS);
        let gear_known = !row.truth.shifting && pass.gear.gear() == Some(row.truth.gear);
        let waits = leapt || pass.wanting.refused() || !free();
        // Whether it has let go rightly other rules tell.
        let holds = row.engaged != Some(false);
        let due = sure && holds && !waits && settled && gear_known && pass.down_plainly_due();
        match (due, pass.after_stop_since) {
            (true, None) => {
                pass.after_stop_since = Some(ms);
                self.after_stops.push(AfterStop { from_ms: ms, to_ms: ms });
            }
            (true, Some(_)) => {
                if let Some(last) = self.after_stops.last_mut() {
                    last.to_ms = ms;
                }
            }
            (false, _) => pass.after_stop_since = None,
        }
        if self.commands.last().is_some_and(|c| c.at_ms == ms) {
            pass.after_stop_since = None;
        }
    }

    /// All has stood up to this row: so does an obligation to engage. A command that is plainly due lets no row rest.
    pub(super) fn due_stands(&mut self, pass: &Pass<'_>, row: &Row, starting_up: bool) {
        let stands = self.declares && !starting_up && pass.monitor.due_from().is_some();
        if let Some(due) = self.dues.last_mut().filter(|_| stands) {
            due.until_ms = row.t_ms + pass.spec.facts.tick.ms();
        }
    }

    pub(super) fn due(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, starting_up: bool) {
        let ms = row.t_ms;
        let tick_ms = pass.spec.facts.tick.ms();
        if self.declares {
            let shows = row.engaged == Some(true) || self.engagings.last().is_some_and(|e| e.at_ms == ms);
            if let Some(from_ms) = pass.monitor.due_from().filter(|_| !starting_up) {
                if self.dues.last().is_none_or(|d| d.from_ms != from_ms) {
                    let engaged_ms = self.engagings.last().filter(|e| e.at_ms + 500 >= from_ms).map(|e| e.at_ms);
                    self.dues.push(Due { from_ms, engaged_ms, until_ms: ms });
                }
                if let Some(due) = self.dues.last_mut() {
                    due.until_ms = ms + tick_ms;
                    if shows {
                        due.engaged_ms.get_or_insert(ms);
                    }
                }
            }
            return;
        }
        // A box that shows nothing: a command is plainly due 3 km/h beyond a line for 3 s while it may, with no least time
        // to keep; and no upshift while the speed falls.
        let plain = state == State::May
            && pass.monitor.surely_engaged()
            && !starting_up
            && pass.plainly_due()
            && pass.wanting.asks()
            && !pass.doubts_speed(ms);
        let closed = row.contacts.up || row.contacts.down;
        if !plain || closed {
            if let (Some(_), Some(due)) = (pass.due_since, self.plainly_due.last_mut())
                && closed
            {
                due.engaged_ms.get_or_insert(ms);
            }
            pass.due_since = None;
            // A right box commands before it has become plain: its first command shows it engaged all the same.
            let sure = state == State::May && pass.monitor.surely_engaged() && !starting_up;
            let counted = |opened: u32| {
                self.plainly_due.last().is_some_and(|due| due.from_ms >= opened && due.engaged_ms.is_some())
            };
            if self.commands.last().is_some_and(|c| c.at_ms == ms)
                && sure
                && pass.monitor.opened_ms().is_some_and(|opened| !counted(opened))
            {
                self.plainly_due.push(Due { from_ms: ms, engaged_ms: Some(ms), until_ms: ms });
            }
            return;
        }
        if pass.due_since.is_none() {
            self.plainly_due.push(Due { from_ms: ms, engaged_ms: None, until_ms: ms });
        }
        pass.due_since.get_or_insert(ms);
        if let Some(due) = self.plainly_due.last_mut() {
            due.until_ms = ms + tick_ms;
        }
    }
}
