//! What the map wants of the box: shifts that it plainly asks for while nothing lets a box wait.
//!
//! Plainly: at least 1 km/h (one count) beyond the line on the newest pair, so that a box which smooths or rounds the
//! other way has no less reason; and an upshift not while the speed read falls, a downshift only where it lands well
//! below the redline.
//!
//! A least time that a box must keep (dwell, blind time, quiet after engaging, plausible again) is no greatest time: a
//! careful maker takes more. Twice the least time is allowed here before the map's wish counts (invented).

use super::Story;
use super::pass::Pass;
use super::still::Still;
use crate::recording::Row;
use crate::rules::may_command::{Cause, State, Why};
use crate::signal::Direction;
use crate::spec::Spec;

/// A pedal read below this is closed, %.
pub const CLOSED_PCT: f64 = 3.0;

/// With the foot off, a box whose maker states up to which engine speed it does so may keep the gear that brakes.
pub fn may_brake(spec: &Spec, pedal: f64) -> bool {
    spec.limits.downhill_rpm.is_some() && pedal < CLOSED_PCT
}
/// Beyond the line by one count, km/h.
const PLAIN_KMH: f64 = 1.0;
/// So much above the standstill limit a box surely moves, km/h (invented).
pub(super) const MOVING_KMH: f64 = 3.0;

/// A shift that the map asked for.
#[derive(Debug, Clone, Copy)]
pub struct Want {
    /// Which way.
    pub direction: Direction,
    /// The gear it leaves.
    pub gear: u8,
    /// From when on it was plainly asked for with nothing in the way, ms; the command's own time where that came first.
    pub from_ms: u32,
    /// Until when: the command, or the end of the wish, ms.
    pub to_ms: u32,
    /// When the box had had the updates that it may take, ms; later than any recording before it has.
    pub updated_ms: u32,
    /// A command met it.
    pub met: bool,
    /// When it began, something let the box wait: dwell, running shift, old data...
    pub held: bool,
    /// The pedal asks for kickdown: read at the limit or above.
    pub kick: bool,
    /// The pedal is closed.
    pub closed: bool,
    /// The line at the beginning, km/h.
    pub line_kmh: f64,
    /// Speed read at the beginning, km/h.
    pub from_kmh: f64,
    /// Speed read at the end, km/h.
    pub to_kmh: f64,
    /// Strongest true slowing, m/s², 0 or more.
    pub slowing_mps2: f64,
}

impl Want {
    /// Time left of a limit when the command came, or when the wish ended without one, ms; `None` where it ended in
    /// time. A link that loses updates gives the box the time until it has had them.
    #[must_use]
    pub fn left_ms(&self, limit_ms: u32) -> Option<f64> {
        let took = f64::from(self.to_ms - self.from_ms);
        let left = f64::from(limit_ms) - took;
        let updates_left =
            if self.updated_ms == u32::MAX { 0.0 } else { f64::from(self.updated_ms) - f64::from(self.to_ms) };
        let left = left.max(updates_left);
        (self.met || left < 0.0).then_some(left)
    }
}

/// The pedal read came down to light.
#[derive(Debug, Clone, Copy)]
pub struct Lift {
    /// The gear known.
    pub gear: u8,
    /// Speed read, km/h.
    pub speed_kmh: f64,
}

/// What the map asks for on the newest pair in the gear known.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Wish {
    /// Gear known.
    gear: u8,
    /// (km/h beyond the line, the line) up.
    up: Option<(f64, f64)>,
    /// The same down.
    down: Option<(f64, f64)>,
    /// Speed and pedal read, and those read before.
    speed: f64,
    pedal: f64,
    /// The newest speed is lower than the one before.
    falling: bool,
    /// The pedal is at the kickdown limit or above.
    kick: bool,
    /// An upshift lands at the floor or above; a downshift well below the redline.
    lands: [bool; 2],
}

/// A command that no shift has followed yet, as far as the box can know.
#[derive(Debug, Clone, Copy)]
struct Unanswered {
    direction: Direction,
    at_ms: u32,
    /// The gear told by a gear signal when it came.
    told: Option<u8>,
}

/// What this part of the story carries from row to row.
#[derive(Debug, Default)]
pub(super) struct Wanting {
    wish: Option<Wish>,
    stale: bool,
    gear: Option<u8>,
    open: Option<Want>,
    updates: [u32; 2],
    engaged_since: Option<u32>,
    last_shift_end: Option<u32>,
    unanswered: Option<Unanswered>,
    refused: bool,
    held: bool,
    pub still: Still,
}

impl Wanting {
    /// The gear known, as of the last row.
    pub fn gear(&self) -> Option<u8> {
        self.gear
    }

    /// The box surely is engaged.
    pub fn engaged(&self) -> bool {
        self.engaged_since.is_some()
    }

    /// Since when it has been, ms.
    pub fn engaged_since(&self) -> Option<u32> {
        self.engaged_since
    }

    /// The map plainly asks for a shift, and nothing lets the box wait.
    pub fn asks(&self) -> bool {
        self.open.is_some()
    }

    /// A gear signal has stood still since the last command, which went this way.
    pub fn unseen_since(&self, direction: Direction) -> Option<u32> {
        self.unanswered.filter(|u| u.told.is_some() && u.direction == direction).map(|u| u.at_ms)
    }

    /// The gearbox has not followed the last command.
    pub fn refused(&self) -> bool {
        self.refused
    }

    /// The newest answer tells what was wished for before it too.
    pub fn stays(&mut self) {
        self.stale = false;
    }

    /// The shift that ran goes on.
    pub fn shifts_on(&mut self, ms: u32) {
        self.last_shift_end = Some(ms);
    }

    /// A speed or pedal has been read; `which` is 0 for speed.
    pub fn read(&mut self, which: usize) {
        self.stale = true;
        if let Some(count) = self.updates.get_mut(which) {
            *count += 1;
        }
    }
}

fn wish(pass: &Pass<'_>, story: &Story, gear: u8) -> Option<Wish> {
    let (spec, (speed, pedal)) = (pass.spec, (pass.speed?.0, pass.pedal?.0));
    let limits = &spec.limits;
    let up = spec.map.up_kmh(gear, pedal).map(|line| (speed - line, line));
    let down = spec.map.down_kmh(gear, pedal).map(|line| (line - speed, line));
    let red = spec.vehicle.engine.redline.get() - 2.0 * limits.redline_guard.0;
    Some(Wish {
        gear,
        up: up.filter(|_| gear < spec.gears()),
        down: down.filter(|_| gear > spec.facts.lowest_gear),
        speed,
        pedal,
        falling: story.falls(),
        kick: pedal >= limits.kickdown_pedal.0,
        lands: [
            spec.rpm_per_kmh(gear + 1) * speed >= limits.rpm_floor.0,
            spec.rpm_per_kmh(gear.saturating_sub(1)) * speed <= red,
        ],
    })
}

impl Story {
    /// The newest speed read is lower than the one before.
    pub(super) fn falls(&self) -> bool {
        matches!(self.speeds.as_slice(), [.., before, now] if now.value < before.value)
    }

    /// One row; `command` is what closes in it, before it is told as a command.
    pub(super) fn want(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, command: Option<Direction>) {
        let gear = pass.gear.gear();
        if pass.wanting.stale || pass.wanting.gear != gear {
            let now = gear.and_then(|gear| wish(pass, self, gear));
            let w = &mut pass.wanting;
            (w.wish, w.gear, w.stale) = (now, gear, false);
            self.stands(pass, row);
            self.lift(pass, row.t_ms);
        }
        self.follow(pass, row, state, command);
        self.settle(pass, row, command.is_some());
        self.open_or_close(pass, row, state, command);
    }

    fn lift(&mut self, pass: &Pass<'_>, ms: u32) {
        let light = pass.spec.limits.light_pedal.0;
        let Some(wish) = pass.wanting.wish.filter(|_| pass.wanting.engaged()) else { return };
        if let [.., before, now] = self.pedals.as_slice()
            && now.at_ms == ms
            && now.value <= light
            && before.value > light
        {
            self.lifts.push(Lift { gear: wish.gear, speed_kmh: wish.speed });
        }
    }

    /// The end of the recording ends every stretch.
    pub(super) fn end_wants(&mut self, pass: &mut Pass<'_>) {
        self.close(pass, self.end_ms, None);
        self.end_still(pass);
    }

    /// Keeps what tells whether a box may act.
    fn follow(&self, pass: &mut Pass<'_>, row: &Row, state: State, command: Option<Direction>) {
        let ms = row.t_ms;
        let may = state == State::May && !pass.monitor.range_settles(ms);
        let engaged = may && row.engaged.unwrap_or_else(|| pass.monitor.shown_or_sure());
        let w = &mut pass.wanting;
        w.engaged_since = if engaged { w.engaged_since.or(Some(ms)) } else { None };
        if row.truth.shifting {
            w.last_shift_end = Some(ms);
        }
        // A box that reads the gear sees a shift by that alone: as long as the signal stands, so does the shift for it.
        let told = pass.gear_arrived.map(|(gear, _)| gear).filter(|_| pass.spec.facts.signals.gear);
        if w.unanswered.is_some_and(|u| if u.told.is_some() { told != u.told } else { row.truth.shifting }) {
            (w.unanswered, w.refused) = (None, false);
        }
        if w.unanswered.is_some_and(|u| pass.alarm.exceeded(ms, u.at_ms, pass.spec.limits.shift_confirmed.ms())) {
            w.refused = true;
        }
        if let Some(direction) = command {
            w.unanswered = Some(Unanswered { direction, at_ms: ms, told });
        }
        // A lever that only bounces leaves the box what it was: it may still know of the refusal. So may one that has lost
        // its data: the gearbox is as it was.
        let let_go = row.engaged == Some(false) && pass.fresh(ms) && !pass.monitor.paused();
        let forgets = matches!(state, State::MustNot(why) if !matches!(why, Why::After(Cause::Data, _)));
        if forgets || let_go {
            (pass.wanting.unanswered, pass.wanting.refused) = (None, false);
        }
    }

    /// The box is engaged and knows gear, speed and pedal as they are: nothing is in doubt for some time.
    fn can_act(&self, pass: &Pass<'_>, row: &Row, state: State) -> bool {
        let (w, spec, ms) = (&pass.wanting, pass.spec, row.t_ms);
        let limits = &spec.limits;
        let truth = &row.truth;
        let since = |at: u32, least_ms: u32| pass.alarm.passed(ms, at, least_ms);
        let poll_ms = spec.link.period.ms();
        let sees_gear = !spec.facts.signals.gear
            || pass
                .gear_arrived
                .is_some_and(|(gear, at)| Some(gear) == w.gear && !pass.alarm.exceeded(ms, at, 3 * poll_ms));
        // After a shift that it didn't ask for it has to find its gear first, and then waits as after a command.
        let surprised = self.shifts.last().is_some_and(|shift| shift.command.is_none());
        let settle_ms = if surprised {
            limits.count_settles.ms() + limits.shift_blind.ms()
        } else {
            2 * limits.shift_settle.ms() + 3 * poll_ms
        };
        state == State::May
            && w.engaged_since.is_some_and(|at| since(at, 2 * limits.quiet_after_engaging.ms()))
            && w.wish.is_some_and(|wish| wish.speed > limits.standstill.0 + MOVING_KMH)
            && pass.older_than(ms, 2 * poll_ms + spec.link.answer_most.ms()) == Some(false)
            && pass.leapt_ms.is_none_or(|at| since(at, 2 * limits.plausible_for.ms()))
            && !w.refused
            && truth.engine_on
            && truth.speed_kmh > 0.0
            && !truth.shifting
            && w.last_shift_end.is_none_or(|at| since(at, settle_ms))
            && w.gear == Some(truth.gear)
            && sees_gear
    }

    /// No least time between commands lets the box wait any longer.
    fn free(&self, pass: &Pass<'_>, row: &Row, direction: Direction) -> bool {
        let (limits, ms) = (&pass.spec.limits, row.t_ms);
        let since = |at: u32, least: u32| pass.alarm.passed(ms, at, 2 * least);
        let moved = self.commands.last().map(|c| c.at_ms).max(pass.tap_at_ms);
        let opposite = self.commands.iter().rev().take(8).find(|c| c.direction != direction);
        let downs = self.commands.iter().rev().take(usize::from(limits.cascade_steps));
        let cascade = direction == Direction::Down
            && downs.filter(|c| c.direction == direction && !since(c.at_ms, limits.cascade_window.ms())).count()
                >= usize::from(limits.cascade_steps);
        moved.is_none_or(|at| since(at, limits.shift_blind.ms().max(limits.entry_step.ms())))
            && opposite.is_none_or(|c| since(c.at_ms, limits.opposite_dwell.ms()))
            && !cascade
    }

    fn open_or_close(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, command: Option<Direction>) {
        let ms = row.t_ms;
        let Some(wish) = pass.wanting.wish else {
            self.close(pass, ms, None);
            return;
        };
        let plain = |side: Option<(f64, f64)>| side.is_some_and(|(beyond, _)| beyond >= PLAIN_KMH);
        let direction = if plain(wish.up) {
            Some(Direction::Up)
        } else if plain(wish.down) {
            Some(Direction::Down)
        } else {
            None
        };
        let downhill = may_brake(pass.spec, wish.pedal);
        let rightly = match direction {
            Some(Direction::Up) => !wish.falling && wish.lands[0] && !downhill,
            Some(Direction::Down) => wish.lands[1],
            None => false,
        };
        let kick = direction == Some(Direction::Down) && wish.kick;
        let asked = direction.filter(|_| rightly && self.can_act(pass, row, state));
        let free = asked.is_some_and(|direction| self.free(pass, row, direction));
        // A new stretch where another wish begins, the gear has changed, or the pedal has come to kickdown.
        if let Some(open) = &pass.wanting.open
            && (asked != Some(open.direction) || !free || open.gear != wish.gear || open.kick != kick)
        {
            self.close(pass, ms, None);
        }
        if let Some(direction) = asked {
            let closed = wish.pedal < CLOSED_PCT;
            if !free {
                pass.wanting.held = true;
            } else if pass.wanting.open.is_none() {
                let side = if direction == Direction::Up { wish.up } else { wish.down };
                let held = std::mem::take(&mut pass.wanting.held);
                pass.wanting.updates = [0; 2];
                pass.wanting.open = Some(Want {
                    direction,
                    gear: wish.gear,
                    from_ms: ms,
                    to_ms: ms,
                    updated_ms: u32::MAX,
                    met: false,
                    held,
                    kick,
                    closed,
                    line_kmh: side.map_or(wish.speed, |(_, line)| line),
                    from_kmh: wish.speed,
                    to_kmh: wish.speed,
                    slowing_mps2: 0.0,
                });
            }
            let updates =
                u32::from(if kick { pass.spec.limits.kickdown_updates } else { pass.spec.limits.response_updates });
            let had = pass.wanting.updates[0].min(pass.wanting.updates[1]) >= updates;
            // How fast it slows counts in each row.
            pass.alarm.keep_awake();
            if let Some(open) = &mut pass.wanting.open {
                (open.to_ms, open.to_kmh) = (ms, wish.speed);
                open.closed &= closed;
                open.slowing_mps2 = open.slowing_mps2.max(-row.truth.accel_mps2);
                if had && open.updated_ms == u32::MAX {
                    open.updated_ms = ms;
                }
            }
        } else if direction.is_some() {
            // Asked for, but something else is in the way.
            pass.wanting.held = true;
        } else {
            pass.wanting.held = false;
        }
        if let Some(direction) = command {
            self.meet(pass, &wish, row, direction);
        }
    }

    /// A command: it meets the open wish, or comes before it has become plain.
    fn meet(&mut self, pass: &mut Pass<'_>, wish: &Wish, row: &Row, direction: Direction) {
        let ms = row.t_ms;
        if pass.wanting.open.is_some_and(|open| open.direction == direction) {
            self.close(pass, ms, Some(direction));
            return;
        }
        self.close(pass, ms, None);
        let side = if direction == Direction::Up { wish.up } else { wish.down };
        let Some((beyond, line_kmh)) = side else { return };
        self.wants.push(Want {
            direction,
            gear: wish.gear,
            from_ms: ms,
            to_ms: ms,
            updated_ms: u32::MAX,
            met: true,
            held: beyond >= PLAIN_KMH,
            kick: direction == Direction::Down && wish.kick,
            closed: wish.pedal < CLOSED_PCT,
            line_kmh,
            from_kmh: wish.speed,
            to_kmh: wish.speed,
            slowing_mps2: (-row.truth.accel_mps2).max(0.0),
        });
    }

    fn close(&mut self, pass: &mut Pass<'_>, ms: u32, met: Option<Direction>) {
        if let Some(mut open) = pass.wanting.open.take() {
            open.to_ms = ms;
            open.met = met.is_some();
            self.wants.push(open);
        }
        if met.is_some() {
            pass.wanting.held = false;
        }
    }
}
