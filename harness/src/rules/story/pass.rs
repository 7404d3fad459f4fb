//! What the pass over a recording carries from row to row.

use super::legality::Carried;
use super::wants::Wanting;
use crate::recording::Row;
use crate::rules::alarm::Alarm;
use crate::rules::gear::GearSeen;
use crate::rules::may_command::Monitor;
use crate::signal::{SIGNALS, Signal};
use crate::spec::Spec;
use crate::spec::facts::TapWiring;
use std::cell::Cell;

/// After an implausible speed a box may hold back this long, ms (invented).
const DOUBT_MS: u32 = 500;

/// An engine speed within this share of a gear's tells that gear: a locked converter, and speeds read in whole km/h
/// (invented).
const RATIO_SHARE: f64 = 0.04;
/// On a shared wire a box may take what it reads this long after its own pulse for that pulse's bounce, ms (invented).
const ECHO_MS: u32 = 80;

/// State of the pass.
pub(super) struct Pass<'a> {
    pub spec: &'a Spec,
    /// What the story waits for; monitor and gear have their own.
    pub alarm: Alarm,
    pub monitor: Monitor,
    pub gear: GearSeen,
    pub speed: Option<(f64, u32, u32)>,
    pub pedal: Option<(f64, u32, u32)>,
    pub engine_rpm: Option<f64>,
    pub standing: Standing,
    pub was: Option<&'a Row>,
    /// A row that brings nothing new changes nothing before this time, ms.
    pub sleeps_until_ms: u32,
    /// Rows passed over since one was looked at.
    pub rested: u32,
    pub tap_visible: [bool; 2],
    /// Last time the box's own pulse was on each shared wire, ms.
    pub own_until_ms: [Option<u32>; 2],
    /// The driver taps beside the box's own pulse: it may notice or not.
    pub tap_in_doubt: bool,
    pub button: bool,
    /// In an earlier tick the box has shown itself engaged since it may have engaged.
    pub shown_before: bool,
    pub tap_at_ms: Option<u32>,
    pub by_itself: bool,
    pub lowest_recent: [(u32, f64); 8],
    pub due_since: Option<u32>,
    pub right_since: Option<u32>,
    pub edgeless_counted: bool,
    pub gear_arrived: Option<(u8, u32)>,
    pub stale: bool,
    pub leapt_ms: Option<u32>,
    pub engine_arrived_ms: u32,
    pub legal: Carried,
    pub plausible: Plausible,
    pub stopped_ms: Option<u32>,
    pub after_stop_since: Option<u32>,
    pub wanting: Wanting,
    /// As last asked: answers come at every tenth tick or so.
    due: Cell<Option<DueAt>>,
}

/// Whether a shift is due in a gear at a speed and a pedal read.
#[derive(Debug, Clone, Copy)]
struct DueAt {
    at: (u8, f64, f64),
    due: bool,
}

/// Since when all that is read has stood still.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Standing {
    values: [Option<f64>; SIGNALS.len()],
    since_ms: u32,
    engine_ms: u32,
}

impl Standing {
    /// Takes a valid value.
    pub fn take(&mut self, signal: Signal, value: f64, arrived_ms: u32) {
        if signal == Signal::EngineSpeed {
            self.engine_ms = arrived_ms;
        }
        if let Some(before) = self.values.get_mut(signal as usize)
            && *before != Some(value)
        {
            (*before, self.since_ms) = (Some(value), arrived_ms);
        }
    }

    /// For how long nothing has changed while the engine runs and its speed goes on being answered, ms.
    pub fn still_ms(&self) -> u32 {
        let runs = self.values[Signal::EngineSpeed as usize].is_some_and(|rpm| rpm > 0.0);
        if runs { self.engine_ms.saturating_sub(self.since_ms) } else { 0 }
    }
}

/// Which speeds read go on from those before.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Plausible {
    last: Option<(f64, u32)>,
    settled: Option<(f64, u32)>,
    leapt_ms: Option<u32>,
}

impl Plausible {
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// Takes a speed read. If it leaps from the one before, however the answers were timed: whether it fell, and the
    /// last speed that goes on from those before the leap.
    pub fn take(&mut self, spec: &Spec, kmh: f64, at_ms: u32) -> Option<(bool, f64)> {
        // Two answers are as far apart as they arrived, give or take what their ways may differ, and never less than
        // a poll.
        let link = &spec.link;
        let slack_ms = link.answer_most.ms() - link.answer_least.ms() + spec.facts.tick.ms();
        let beyond = |(before, at): (f64, u32)| {
            let s = f64::from((at_ms.saturating_sub(at) + slack_ms).max(link.period.ms())) / 1000.0;
            let limits = &spec.limits;
            let most = if kmh < before { limits.fall_limit.0 } else { limits.rise_limit.0 };
            (kmh - before).abs() > most * s + TWO_QUANTA_KMH
        };
        let leap = self.last.filter(|&last| beyond(last));
        let settled = self.settled.or(self.last).map_or(kmh, |(v, _)| v);
        if leap.is_some() {
            self.leapt_ms = Some(at_ms);
        }
        let calm = self.leapt_ms.is_none_or(|at| at_ms.saturating_sub(at) >= spec.limits.plausible_for.ms());
        if calm || self.settled.is_none_or(|before| !beyond(before)) {
            self.settled = Some((kmh, at_ms));
        }
        self.last = Some((kmh, at_ms));
        leap.map(|(before, _)| (kmh < before, settled))
    }
}

/// Two readings may differ by this much from rounding alone, km/h.
const TWO_QUANTA_KMH: f64 = 2.0;

impl<'a> Pass<'a> {
    pub fn new(spec: &'a Spec) -> Self {
        Self {
            spec,
            alarm: Alarm::default(),
            monitor: Monitor::new(spec),
            gear: GearSeen::new(spec),
            speed: None,
            pedal: None,
            engine_rpm: None,
            standing: Standing::default(),
            was: None,
            sleeps_until_ms: 0,
            rested: 0,
            tap_visible: [false; 2],
            own_until_ms: [None; 2],
            tap_in_doubt: false,
            button: false,
            shown_before: false,
            tap_at_ms: None,
            by_itself: true,
            lowest_recent: [(u32::MAX, f64::INFINITY); 8],
            due_since: None,
            right_since: None,
            edgeless_counted: false,
            gear_arrived: None,
            stale: false,
            leapt_ms: None,
            engine_arrived_ms: 0,
            legal: Carried::default(),
            plausible: Plausible::default(),
            stopped_ms: None,
            after_stop_since: None,
            wanting: Wanting::default(),
            due: Cell::new(None),
        }
    }
}

impl Pass<'_> {
    fn alarms(&self) -> [&Alarm; 3] {
        [&self.alarm, &self.monitor.alarm, &self.gear.alarm]
    }

    /// A row is looked at; `again`: it brings nothing new.
    pub fn begin(&self, now_ms: u32, again: bool) {
        let data_ms = self.data_ms();
        self.alarms().iter().for_each(|alarm| alarm.begin(now_ms, data_ms, again));
    }

    /// A row has been looked at, or answers have been taken in: notes until when nothing changes.
    pub fn set_sleep(&mut self) {
        let data_ms = self.data_ms();
        self.sleeps_until_ms = self.alarms().iter().map(|alarm| alarm.sleeps_until_ms(data_ms)).min().unwrap_or(0);
    }

    /// Newer data that tell the same change something.
    pub fn heeds_age(&self) -> bool {
        self.alarms().iter().any(|alarm| alarm.heeds_age())
    }

    /// When the older of speed and pedal arrived, ms.
    fn data_ms(&self) -> Option<u32> {
        Some(self.speed?.1.min(self.pedal?.1))
    }

    /// Whether more time has passed since the older of speed and pedal arrived, ms.
    pub fn older_than(&self, ms: u32, most_ms: u32) -> Option<bool> {
        self.data_ms().map(|at| self.alarm.aged(ms, at, most_ms.saturating_add(1)))
    }

    /// Keeps the speed that a row has brought among the last ones.
    pub fn keep_speed(&mut self) {
        if let Some((v, arrived, _)) = self.speed
            && self.lowest_recent[7].0 != arrived
        {
            self.lowest_recent.rotate_left(1);
            self.lowest_recent[7] = (arrived, v);
        }
    }

    /// Speed and pedal are fresh.
    pub fn fresh(&self, ms: u32) -> bool {
        self.older_than(ms, self.spec.limits.data_fresh.ms()) == Some(false)
    }

    /// The gear that the gear signal tells, while its answers are fresh.
    pub fn told_gear(&self, ms: u32) -> Option<u8> {
        let (gear, at) = self.gear_arrived?;
        (!self.alarm.exceeded(ms, at, self.spec.limits.data_fresh.ms())).then_some(gear)
    }

    /// The gear that was read, by the gear signal or else by the ratio of engine speed and road speed, and when.
    pub fn gear_read(&self) -> Option<(u8, u32)> {
        if self.spec.facts.signals.gear {
            return self.gear_arrived;
        }
        let (rpm, (kmh, at, _)) = (self.engine_rpm?, self.speed?);
        let fits = |gear: &u8| {
            let expected = self.spec.rpm_per_kmh(*gear) * kmh;
            (rpm - expected).abs() <= RATIO_SHARE * expected
        };
        // Neighbours are further apart than that; below a walking pace the ratio tells nothing.
        let gear = (1..=self.spec.gears()).find(fits).filter(|_| kmh >= 10.0)?;
        Some((gear, at.min(self.engine_arrived_ms)))
    }

    /// Whether the driver taps, as far as the box can tell it from its own pulse: (edge, level).
    pub fn taps(&mut self, row: &Row, was: Option<&Row>) -> (bool, bool) {
        if self.spec.facts.tap_wiring == TapWiring::Separate {
            let inputs = &row.inputs;
            return (inputs.tap_up_edges > 0 || inputs.tap_down_edges > 0, inputs.tap_up || inputs.tap_down);
        }
        // In parallel with the contacts: what the box's own pulse and its bounce hide, it can't know.
        let own = was.map(|w| w.contacts).unwrap_or_default();
        let inputs = &row.inputs;
        let wires = [
            (own.up, inputs.tap_up || inputs.tap_up_edges > 0, row.truth.driver_up),
            (own.down, inputs.tap_down || inputs.tap_down_edges > 0, row.truth.driver_down),
        ];
        let mut visible = [false; 2];
        self.tap_in_doubt = false;
        for ((own, closed, driver), (visible, own_until)) in
            wires.into_iter().zip(visible.iter_mut().zip(&mut self.own_until_ms))
        {
            if own {
                *own_until = Some(row.t_ms);
            }
            let bounces = own_until.is_some_and(|until| row.t_ms < until + ECHO_MS);
            *visible = closed && !own && !bounces;
            self.tap_in_doubt |= (closed && !own && bounces) || (own && driver);
        }
        let edge = (0..2).any(|i| visible[i] && !self.tap_visible[i]);
        self.tap_visible = visible;
        (edge, visible[0] || visible[1])
    }

    /// A speed read that is implausible after the one before.
    pub fn leaps(&self, kmh: f64, arrived_ms: u32) -> bool {
        let limits = &self.spec.limits;
        self.speed.is_some_and(|(before, at, _)| {
            let s = f64::from(arrived_ms.saturating_sub(at)) / 1000.0;
            before - kmh > limits.fall_limit.0 * s + 2.0 || kmh - before > limits.rise_limit.0 * s + 2.0
        })
    }

    /// The speed read has leapt a short while ago: to wait is right then.
    pub fn doubts_speed(&self, ms: u32) -> bool {
        self.leapt_ms.is_some_and(|at| !self.alarm.passed(ms, at, DOUBT_MS))
    }

    pub fn beyond_kmh(&self, gear: u8) -> Option<f64> {
        let (v, p) = (self.speed?.0, self.pedal?.0);
        let map = &self.spec.map;
        let up = map.up_kmh(gear, p).map(|line| v - line);
        let down = map.down_kmh(gear, p).map(|line| line - v);
        match (up, down) {
            (Some(up), Some(down)) => Some(up.max(down)),
            (one, other) => one.or(other),
        }
    }

    pub fn shift_due(&self) -> bool {
        let (Some(gear), Some((v, ..)), Some((p, ..))) = (self.gear.gear(), self.speed, self.pedal) else {
            return false;
        };
        if let Some(last) = self.due.get().filter(|last| last.at == (gear, v, p)) {
            return last.due;
        }
        let due = self.beyond_kmh(gear).is_some_and(|beyond| beyond >= 0.0);
        self.due.set(Some(DueAt { at: (gear, v, p), due }));
        due
    }

    /// 3 km/h below the downshift line of the gear, and above standstill.
    pub fn down_plainly_due(&self) -> bool {
        let (Some((v, ..)), Some((p, ..)), Some(gear)) = (self.speed, self.pedal, self.gear.gear()) else {
            return false;
        };
        gear > self.spec.facts.lowest_gear
            && v > self.spec.limits.standstill.0 + 3.0
            && self.spec.map.down_kmh(gear, p).is_some_and(|line| line - v >= 3.0)
    }

    /// 3 km/h beyond a line of the gear.
    pub fn plainly_due(&self) -> bool {
        self.gear.gear().and_then(|gear| self.beyond_kmh(gear)).is_some_and(|beyond| beyond >= 3.0)
    }
}
