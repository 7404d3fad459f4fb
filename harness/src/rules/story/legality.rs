//! What the rules on shift legality look at: pulses, times at which no shift is legal, counts that are off, lugging.

use super::Story;
use super::pass::Pass;
use crate::recording::{Row, Truth};
use crate::rules::may_command::State;
use crate::signal::{Announcement, Direction, Lever};
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;

/// One closing and opening of one contact.
#[derive(Debug, Clone, Copy)]
pub struct Pulse {
    /// Which contact.
    pub direction: Direction,
    /// When it closed, ms.
    pub from_ms: u32,
    /// When it opened, ms.
    pub to_ms: u32,
    /// It opened within the recording.
    pub ended: bool,
    /// When something that ends an engagement came while it was closed, ms.
    pub cut_ms: Option<u32>,
}

/// What forbids shifts for a while.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Forbids {
    /// The speed read is that of a standstill.
    pub stopped: bool,
    /// The ignition is off, or the engine speed read is 0.
    pub off: bool,
    /// The lever isn't in the gate.
    pub out: bool,
    /// The engine doesn't run, in truth.
    pub off_true: bool,
    /// The vehicle rolls backwards, in truth.
    pub backwards: bool,
}

/// A stretch of time in which the same things forbid shifts.
#[derive(Debug, Clone, Copy)]
pub struct Stretch {
    /// From, ms.
    pub from_ms: u32,
    /// To, ms.
    pub to_ms: u32,
    /// What forbids.
    pub forbids: Forbids,
}

/// A stretch of time in which the counted gear was another than the gear, and the box could know that gear.
#[derive(Debug, Clone, Copy)]
pub struct Miscount {
    /// From, ms.
    pub from_ms: u32,
    /// To, ms.
    pub to_ms: u32,
    /// The gear counted, at last.
    pub counted: u8,
    /// The gear.
    pub gear: u8,
}

/// A stretch of time in which a loaded engine turned too slowly with a lower gear at hand.
#[derive(Debug, Clone, Copy)]
pub struct Lug {
    /// From, ms.
    pub from_ms: u32,
    /// To, ms.
    pub to_ms: u32,
    /// The gear.
    pub gear: u8,
    /// Engine speed at its end, nothing slipping, r/min.
    pub rpm: f64,
}

/// What the pass carries for these lists.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Carried {
    pulse: [Option<(usize, State)>; 2],
    forbidden_since: [Option<u32>; 3],
    pub gear_since_ms: u32,
    gear: u8,
    counted_change: bool,
    loaded_since: Option<u32>,
    lug: [Option<usize>; 2],
}

/// Rolling backwards slower than this is standing, km/h.
pub(super) const BACKWARDS_KMH: f64 = -0.5;
/// A down command that has not been obeyed shows for this long that a lower gear isn't to be had, ms (invented).
const ASKED_MS: u32 = 10_000;
/// Engine speeds up to this many times the lugging speed count as near it.
const NEAR_LUGGING: f64 = 1.3;

impl Story {
    pub(super) fn legality(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, tapped: bool) {
        self.pulse(pass, row, state, tapped);
        self.forbidden(pass, row);
        self.count(pass, row, state);
        self.lug(pass, row, state);
    }

    fn pulse(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, tapped: bool) {
        let ms = row.t_ms;
        let ends = row.restarted
            || !row.powered
            || row.engaged == Some(false)
            || matches!(row.announcement, Some(Announcement::Disengaged | Announcement::Fault))
            || !row.truth.engine_on
            || !row.inputs.ignition
            || row.inputs.lever != Lever::Gate
            || tapped;
        for (side, closed, direction) in [(0, row.contacts.up, Direction::Up), (1, row.contacts.down, Direction::Down)]
        {
            let open = pass.legal.pulse[side];
            if closed && open.is_none() {
                pass.legal.pulse[side] = Some((self.pulses.len(), state));
                self.pulses.push(Pulse { direction, from_ms: ms, to_ms: ms, ended: false, cut_ms: None });
            }
            let Some((at, began)) = pass.legal.pulse[side] else { continue };
            if let Some(pulse) = self.pulses.get_mut(at) {
                if ends || state != began {
                    pulse.cut_ms.get_or_insert(ms);
                }
                pulse.to_ms = ms + if closed { pass.spec.facts.tick.ms() } else { 0 };
                pulse.ended = !closed;
            }
            if !closed {
                pass.legal.pulse[side] = None;
            }
        }
    }

    fn forbidden(&mut self, pass: &mut Pass<'_>, row: &Row) {
        let ms = row.t_ms;
        let limits = &pass.spec.limits;
        let (tick_ms, bounce_ms) = (pass.spec.facts.tick.ms(), limits.lever_bounce.ms());
        let unseen_ms = limits.unseen_out().ms();
        let dead = pass.spec.facts.signals.engine_speed && pass.engine_rpm == Some(0.0);
        let now = [
            (pass.speed.is_some_and(|(v, ..)| v < limits.standstill.0), tick_ms),
            (!row.inputs.ignition || dead, tick_ms.max(bounce_ms)),
            (row.inputs.lever != Lever::Gate, tick_ms.max(unseen_ms)),
        ];
        // What has come only just now may not have been looked at yet.
        let mut lasts = [false; 3];
        for ((since, last), (holds, least_ms)) in pass.legal.forbidden_since.iter_mut().zip(&mut lasts).zip(now) {
            *since = holds.then(|| since.unwrap_or(ms));
            *last = since.is_some_and(|at| pass.alarm.passed(ms, at, least_ms));
        }
        let forbids = Forbids {
            stopped: lasts[0],
            off: lasts[1],
            out: lasts[2],
            off_true: !row.truth.engine_on,
            backwards: row.truth.speed_kmh < BACKWARDS_KMH,
        };
        match self.stretches.last_mut() {
            Some(last) if last.forbids == forbids => last.to_ms = ms + tick_ms,
            _ => self.stretches.push(Stretch { from_ms: ms, to_ms: ms + tick_ms, forbids }),
        }
    }

    fn count(&mut self, pass: &mut Pass<'_>, row: &Row, state: State) {
        let ms = row.t_ms;
        let truth = &row.truth;
        if truth.gear != pass.legal.gear || truth.shifting {
            pass.legal.gear_since_ms = ms;
            pass.legal.counted_change = true;
        }
        pass.legal.gear = truth.gear;
        let engaged = row.engaged.unwrap_or(state == State::May);
        // By what it reads, or by what follows from its own taps: where the two agree with the gear, it could know.
        let limit = pass.spec.vehicle.gearbox.gate.means == GateMeans::RangeLimit;
        let told = if pass.spec.facts.signals.gear { pass.told_gear(ms) } else { pass.gear.gear().filter(|_| !limit) };
        if !engaged || truth.shifting || told != Some(truth.gear) {
            return;
        }
        let settles_ms = pass.spec.limits.count_settles.ms();
        if pass.legal.counted_change && pass.alarm.passed(ms, pass.legal.gear_since_ms, settles_ms) {
            pass.legal.counted_change = false;
            self.settled_counts += 1;
        }
        let Some(counted) = row.counted_gear else { return };
        self.counts = true;
        // The gearbox launches in a gear below the one commanded: either may be told.
        let lowest = pass.spec.facts.lowest_up_from();
        if counted == truth.gear || (truth.gear < lowest && counted == lowest) {
            return;
        }
        let to_ms = ms + pass.spec.facts.tick.ms();
        pass.alarm.keep_awake();
        // With each command it has its time anew: the count goes ahead of the gear.
        let commanded = self.commands.last().is_some_and(|c| c.at_ms == ms);
        match self.miscounts.last_mut() {
            Some(last) if last.to_ms == ms && last.gear == truth.gear && !commanded => {
                (last.to_ms, last.counted) = (to_ms, counted)
            }
            _ => self.miscounts.push(Miscount { from_ms: ms, to_ms, counted, gear: truth.gear }),
        }
    }

    fn lug(&mut self, pass: &mut Pass<'_>, row: &Row, state: State) {
        let (ms, spec, truth) = (row.t_ms, pass.spec, &row.truth);
        let limits = &spec.limits;
        let refused = self.commands.last().is_some_and(|c| {
            c.direction == Direction::Down
                && !pass.alarm.exceeded(ms, c.at_ms, ASKED_MS)
                && self.shifts.last().is_none_or(|s| s.from_ms < c.at_ms)
        });
        let unseen =
            pass.wanting.unseen_since(Direction::Down).is_some_and(|at| !pass.alarm.exceeded(ms, at, ASKED_MS));
        let may = state == State::May
            && row.engaged != Some(false)
            && truth.engine_on
            && !truth.shifting
            && !refused
            && !unseen
            && !pass.doubts_speed(ms)
            && pass.fresh(ms);
        if !may {
            pass.legal.loaded_since = None;
            pass.legal.lug = [None; 2];
            return;
        }
        let loaded = limits.lugging_load.0 / 100.0;
        let seen = match (pass.gear.gear(), pass.speed, pass.pedal) {
            (Some(gear), Some((kmh, ..)), Some((pedal, ..))) => {
                let rpm = pass.gear.rpm_per_kmh(gear) * kmh;
                // Asked for last: only a slow engine can lug, and the share of load takes the longest.
                (rpm < limits.lugging_rpm.0 && may_go_down(pass, gear, kmh) && load_share(spec, rpm, pedal) > loaded)
                    .then_some((gear, rpm))
            }
            _ => None,
        };
        let real = labours(pass, truth);
        let near = real.is_some_and(|(_, rpm)| rpm < NEAR_LUGGING * limits.lugging_rpm.0);
        if near || seen.is_some() {
            pass.alarm.keep_awake();
        }
        match (near, pass.legal.loaded_since) {
            (true, None) => pass.legal.loaded_since = Some(ms),
            (true, Some(since)) if ms - since == 1000 / spec.facts.tick.ms() * spec.facts.tick.ms() => {
                self.near_lugging += 1;
            }
            (true, Some(_)) => {}
            (false, _) => pass.legal.loaded_since = None,
        }
        for (side, (list, now)) in [(&mut self.lugs_seen, seen), (&mut self.lugs_true, real)].into_iter().enumerate() {
            let Some((gear, rpm)) = now.filter(|&(_, rpm)| rpm < limits.lugging_rpm.0) else {
                pass.legal.lug[side] = None;
                continue;
            };
            let at = *pass.legal.lug[side].get_or_insert(list.len());
            if at == list.len() {
                list.push(Lug { from_ms: ms, to_ms: ms, gear, rpm });
            }
            if let Some(lug) = list.get_mut(at) {
                (lug.to_ms, lug.gear, lug.rpm) = (ms + spec.facts.tick.ms(), gear, rpm);
            }
        }
    }
}

/// The vehicle moves (at rest the converter slips: the engine runs free of the gear), and a lower gear is at hand.
fn may_go_down(pass: &Pass<'_>, gear: u8, kmh: f64) -> bool {
    let (spec, limits) = (pass.spec, &pass.spec.limits);
    let most = spec.vehicle.engine.redline.get() - limits.redline_guard.0;
    kmh > limits.standstill.0 && gear > spec.facts.lowest_gear && pass.gear.rpm_per_kmh(gear - 1) * kmh <= most
}

/// The gear and the engine speed, nothing slipping, of a loaded engine with a lower gear at hand, in truth.
fn labours(pass: &Pass<'_>, truth: &Truth) -> Option<(u8, f64)> {
    let (gear, kmh) = (truth.gear, truth.speed_kmh.max(0.0));
    let loaded = truth.load > pass.spec.limits.lugging_load.0 / 100.0;
    (loaded && may_go_down(pass, gear, kmh)).then(|| (gear, pass.gear.rpm_per_kmh(gear) * kmh))
}

/// A loaded engine comes near lugging, in truth.
pub(super) fn may_lug(pass: &Pass<'_>, truth: &Truth) -> bool {
    labours(pass, truth).is_some_and(|(_, rpm)| rpm < NEAR_LUGGING * pass.spec.limits.lugging_rpm.0)
}

/// Share of the full-load torque that a pedal asks for, by the engine's own pedal law.
fn load_share(spec: &Spec, rpm: f64, pedal_pct: f64) -> f64 {
    let engine = &spec.vehicle.engine;
    let drag_nm = engine.drag.get() + engine.drag_per_1000rpm.get() * rpm / 1000.0;
    let (p, k) = (pedal_pct / 100.0, engine.pedal_law.get());
    let share = p * (k - (k - 1.0) * p);
    let full_nm = full_load_nm(spec, rpm);
    if full_nm > 0.0 { share - (1.0 - share) * drag_nm / full_nm } else { share }
}

fn full_load_nm(spec: &Spec, rpm: f64) -> f64 {
    let curve = &spec.vehicle.engine.full_load;
    for pair in curve.windows(2) {
        if let [low, high] = pair
            && rpm <= high.speed.0
        {
            let share = ((rpm - low.speed.0) / (high.speed.0 - low.speed.0)).max(0.0);
            return low.torque.0 + share * (high.torque.0 - low.torque.0);
        }
    }
    curve.last().map_or(0.0, |point| point.torque.0)
}
