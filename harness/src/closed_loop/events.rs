//! The events of a drive: when each comes, and what it does.

use super::{ClosedLoop, GEARBOX_LEVER_MS, Pending, REST};
use crate::drive::{Condition, Drive, Happening, When};
use crate::driver::Pedals;
use crate::signal::{Contacts, Direction, Lever};
use crate::spec::facts::TapWiring;
use crate::vehicle::Body;

/// What the conditions of events look at: the tick before.
#[derive(Debug, Clone, Copy)]
struct Before {
    speed_kmh: f64,
    gear: u8,
    shifting: bool,
    contacts: Contacts,
    contacts_before: Contacts,
    was_shifting: bool,
}

/// The lever goes to and fro.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rocking {
    first: Lever,
    second: Lever,
    every_ms: u32,
    from_ms: u32,
    until_ms: u32,
}

impl<B: Body> ClosedLoop<B> {
    /// What is due in this tick, and what waits for a state of the tick before.
    #[inline]
    pub(super) fn events(&mut self, drive: &Drive, now_ms: u32) {
        if now_ms >= self.next_event_ms {
            self.look_for_events(drive, now_ms);
        }
    }

    fn look_for_events(&mut self, drive: &Drive, now_ms: u32) {
        let before = self.before();
        let mut next_ms = u32::MAX;
        for (at, event) in drive.events.iter().enumerate() {
            let pending = self.pending[at];
            if pending.fired_ms.is_some() {
                continue;
            }
            let due_ms = match event.when {
                When::At(ms) => Some(ms),
                When::After(condition, delay_ms) => pending.due_ms.or_else(|| {
                    before.as_ref().filter(|b| holds(condition, b)).map(|_| now_ms.saturating_add(delay_ms))
                }),
            };
            match due_ms {
                Some(due_ms) if due_ms <= now_ms => {
                    self.pending[at] = Pending { due_ms: Some(due_ms), fired_ms: Some(now_ms) };
                    self.happen(event.what, due_ms, now_ms, drive);
                }
                Some(due_ms) => {
                    self.pending[at].due_ms = Some(due_ms);
                    next_ms = next_ms.min(due_ms);
                }
                // Its condition may hold in any tick.
                None => next_ms = 0,
            }
        }
        self.next_event_ms = next_ms;
    }

    /// The tick before, and of the one before that what has changed.
    fn before(&self) -> Option<Before> {
        let rows = &self.recording.rows;
        let last = rows.last()?;
        let earlier = rows.len().checked_sub(2).and_then(|at| rows.get(at));
        // A box that starts afresh has both contacts open.
        let contacts_before = earlier.filter(|_| !last.restarted).map_or_else(Contacts::default, |row| row.contacts);
        Some(Before {
            speed_kmh: last.truth.speed_kmh,
            gear: last.truth.gear,
            shifting: last.truth.shifting,
            was_shifting: earlier.is_some_and(|row| row.truth.shifting),
            contacts: last.contacts,
            contacts_before,
        })
    }

    /// The lever goes to and fro where it is told to.
    pub(super) fn rock(&mut self, now_ms: u32) {
        let Some(rocking) = self.rocking.filter(|r| now_ms < r.until_ms) else { return };
        let turns = now_ms.saturating_sub(rocking.from_ms) / rocking.every_ms;
        let lever = if turns.is_multiple_of(2) { rocking.first } else { rocking.second };
        if lever != self.lever {
            self.move_lever(lever, now_ms);
        }
    }

    fn move_lever(&mut self, lever: Lever, now_ms: u32) {
        self.lever = lever;
        self.lever_from_ms = now_ms;
        self.busy_to(now_ms + GEARBOX_LEVER_MS);
    }

    /// When something ends that was due at an instant and lasts so long, ms.
    fn end_ms(&mut self, due_ms: u32, ms: u16) -> u32 {
        let end_ms = due_ms.saturating_add(u32::from(ms));
        self.busy_to(end_ms);
        end_ms
    }

    fn happen(&mut self, what: Happening, due_ms: u32, now_ms: u32, drive: &Drive) {
        self.busy_to(now_ms);
        match what {
            Happening::Lever(lever) => {
                self.rocking = None;
                self.move_lever(lever, now_ms);
            }
            Happening::LeverInTurn(first, second, every_ms, ms) => {
                let every_ms = u32::from(every_ms.max(1));
                self.rocking =
                    Some(Rocking { first, second, every_ms, from_ms: now_ms, until_ms: now_ms.saturating_add(ms) });
                self.rock(now_ms);
            }
            Happening::Tap(direction, ms) => {
                let at = usize::from(direction == Direction::Down);
                self.tap_until_ms[at] = self.end_ms(due_ms, ms);
                let own = if at == 0 { self.contacts.up } else { self.contacts.down };
                // In parallel with a contact that is closed already there is no edge.
                if !(own && self.wiring == TapWiring::Shared) {
                    self.tap_edges[at] = self.tap_edges[at].saturating_add(1);
                }
            }
            Happening::Button(ms) => self.button_until_ms = self.end_ms(due_ms, ms),
            Happening::Range(range) => self.range = range,
            Happening::Ignition(on) => {
                self.ignition = on;
                self.vehicle.set_engine(on);
            }
            Happening::Engine(on) => self.vehicle.set_engine(on),
            Happening::Supply(mv, ms) => {
                self.supply_mv = u32::from(mv);
                self.supply_until_ms = self.end_ms(due_ms, ms);
            }
            Happening::Reset => self.reset_asked = true,
            Happening::WheelLock(ms) => self.lock_until_ms = self.end_ms(due_ms, ms),
            Happening::WheelSpin(by, ms) => {
                self.spin_kmh = f64::from(by) / 10.0;
                self.spin_until_ms = self.end_ms(due_ms, ms);
            }
            Happening::Refuse(taps) => self.vehicle.refuse_taps(taps),
            Happening::SlowShifts(ms) => self.vehicle.slow_shifts(f64::from(ms)),
            Happening::SelfShift(gear) => self.vehicle.self_shift(gear),
            Happening::Swapped(on) => self.swapped = on,
            Happening::SpeedOff(off) => self.speed_share = 1.0 + f64::from(off) / 1000.0,
            Happening::Lost(..)
            | Happening::Frozen(..)
            | Happening::Delayed(..)
            | Happening::Negative(..)
            | Happening::Garbled(..)
            | Happening::Duplicated(..)
            | Happening::SecondSpeed(..) => {
                let step = drive.steps.first().copied().unwrap_or(REST);
                let pedal_pct = self.recording.rows.last().map_or(0.0, |r| r.truth.pedal_pct);
                let pedals = Pedals { shown_pct: pedal_pct, torque_pct: pedal_pct };
                let shown = self.shown(&self.controls_now(&step, pedals, now_ms));
                self.link.fault(what, now_ms, shown);
            }
        }
    }
}

fn holds(condition: Condition, before: &Before) -> bool {
    match condition {
        Condition::SpeedAbove(speed) => before.speed_kmh >= f64::from(speed) / 10.0,
        Condition::SpeedBelow(speed) => before.speed_kmh <= f64::from(speed) / 10.0,
        Condition::Gear(gear) => before.gear == gear && !before.shifting,
        Condition::Closes(Direction::Up) => before.contacts.up && !before.contacts_before.up,
        Condition::Closes(Direction::Down) => before.contacts.down && !before.contacts_before.down,
        Condition::Opens(Direction::Up) => !before.contacts.up && before.contacts_before.up,
        Condition::Opens(Direction::Down) => !before.contacts.down && before.contacts_before.down,
        Condition::ShiftBegins => before.shifting && !before.was_shifting,
        Condition::ShiftEnds => !before.shifting && before.was_shifting,
    }
}
