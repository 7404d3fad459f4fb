//! Why an engaged box might let go. Everything that could be a cause is taken widely, so that no box is blamed for
//! caution.

use super::pass::Pass;
use super::{Command, Shift};
use crate::recording::{Delivered, Row};
use crate::rules::may_command::{Now, stands_still_ms};
use crate::signal::{Content, Lever, Range, SIGNALS};
use crate::spec::Spec;
use crate::spec::vehicle::GateMeans;

/// Below this supply a box may let go by itself, mV (invented).
const WEAK_SUPPLY_MV: u32 = 10_000;
/// A witness of live data may call readings that stand still for this long a freeze, ms (invented).
const STANDS_STILL_MS: u32 = 1000;
/// As far as this from the road speed and the pedal, what is read may tell of a freeze, km/h and % (invented).
const OFF_TRUTH: [f64; 2] = [3.0, 5.0];
/// A shift that hasn't come this long after its command may be called refused, ms (invented).
const REFUSED_MS: u32 = 1000;
/// A refusal excuses for this long, ms (invented).
const REFUSED_FOR_MS: u32 = 10_000;

/// When each kind of cause last stood, ms.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Excuses {
    /// The driver: lever, tap, button.
    pub driver_ms: Option<u32>,
    /// Speed or pedal older than fresh.
    pub data_ms: Option<u32>,
    /// Range, ignition, engine, supply, a link or a gearbox that behaves oddly.
    pub other_ms: Option<u32>,
    /// Speed and pedal stand still, rightly, for a box that has to tell that from a freeze: no cause.
    pub steady_ms: Option<u32>,
}

impl Excuses {
    /// The last time of any.
    #[must_use]
    pub fn last_ms(&self) -> Option<u32> {
        self.cause_ms().max(self.steady_ms)
    }

    /// The last time of a cause.
    #[must_use]
    pub fn cause_ms(&self) -> Option<u32> {
        self.driver_ms.max(self.data_ms).max(self.other_ms)
    }
}

/// How readings stand still.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stands {
    No,
    /// As they would in steady driving, with an engine speed that lives.
    Rightly,
    Oddly,
}

/// What it takes to tell.
#[derive(Debug, Clone, Default)]
pub(super) struct Watch {
    pub excuses: Excuses,
    arrived: [Option<u32>; SIGNALS.len()],
    read: [Option<f64>; 2],
    still_since_ms: u32,
    /// The link behaves oddly in this row.
    odd: bool,
    /// The row up to which the causes are told, ms.
    looked_ms: u32,
}

impl Watch {
    /// One row.
    pub fn row(&mut self, pass: &Pass<'_>, row: &Row, now: &Now, commands: &[Command], shifts: &[Shift]) {
        let ms = row.t_ms;
        self.looked_ms = ms;
        let inputs = &row.inputs;
        let tapped = row.truth.driver_up || row.truth.driver_down || now.tapped;
        if inputs.lever != Lever::Gate || tapped || inputs.button == Some(true) {
            self.excuses.driver_ms = Some(ms);
        }
        if !pass.fresh(ms) {
            self.excuses.data_ms = Some(ms);
        }
        if self.odd {
            // The next row isn't.
            pass.alarm.keep_awake();
        }
        let stands = self.stands_still(pass, row, now);
        if self.odd
            || stands == Stands::Oddly
            || inputs.range.is_some_and(|r| r != Range::High)
            || !inputs.ignition
            || now.engine_on == Some(false)
            || inputs.supply_mv < WEAK_SUPPLY_MV
            || pass.doubts_speed(ms)
            || self.gearbox_is_odd(pass, ms, commands, shifts)
        {
            self.excuses.other_ms = Some(ms);
        }
        if stands == Stands::Rightly {
            self.excuses.steady_ms = Some(ms);
        }
    }

    /// Rows up to this time in which all stands as in the one looked at before them: so do the causes.
    pub fn rest(&mut self, ms: u32) {
        let was_ms = std::mem::replace(&mut self.looked_ms, ms);
        let Excuses { driver_ms, data_ms, other_ms, steady_ms } = &mut self.excuses;
        for at_ms in [driver_ms, data_ms, other_ms, steady_ms] {
            *at_ms = at_ms.map(|at| if at == was_ms { ms } else { at });
        }
    }

    /// For how long speed and pedal have stood still, rightly, ms.
    pub fn steady_for(&self, ms: u32) -> u32 {
        if self.excuses.steady_ms == Some(ms) { ms - self.still_since_ms } else { 0 }
    }

    /// Takes in the answers of a row. Whether the link behaves oddly: negative answers, or two answers of one signal where
    /// one is due.
    pub fn hear(&mut self, spec: &Spec, answers: &[Delivered]) -> bool {
        self.odd = false;
        for d in answers {
            let Some(last) = self.arrived.get_mut(d.answer.signal as usize) else { continue };
            self.odd |= matches!(d.answer.content, Content::Negative(_))
                || last.is_some_and(|at| d.arrived_ms.saturating_sub(at) < spec.link.period.ms() / 2);
            *last = Some(d.arrived_ms);
        }
        self.odd
    }

    /// Whether speed and pedal stand still for so long that a box with a witness may call them frozen.
    fn stands_still(&mut self, pass: &Pass<'_>, row: &Row, now: &Now) -> Stands {
        let read = [pass.speed.map(|(v, _, _)| v), pass.pedal.map(|(v, _, _)| v)];
        if read != self.read {
            (self.read, self.still_since_ms) = (read, row.t_ms);
        }
        let facts = &pass.spec.facts;
        if !facts.signals.engine_speed || !pass.alarm.passed(row.t_ms, self.still_since_ms, STANDS_STILL_MS) {
            return if facts.notices_stuck && now.still_ms >= stands_still_ms(&pass.spec.limits) {
                Stands::Oddly
            } else {
                Stands::No
            };
        }
        // From here on it hangs on what the vehicle does in each row.
        pass.alarm.keep_awake();
        let truth = [row.truth.speed_kmh.abs(), row.truth.pedal_pct];
        let near = read
            .iter()
            .zip(truth)
            .zip(OFF_TRUTH)
            .all(|((read, truth), off)| read.is_some_and(|read| (read - truth).abs() <= off));
        let live = now.still_ms < stands_still_ms(&pass.spec.limits);
        if facts.notices_stuck && near && live { Stands::Rightly } else { Stands::Oddly }
    }

    /// A shift that a box with a witness can see refused, one that came by itself, or one that goes the other way than the
    /// last command.
    fn gearbox_is_odd(&self, pass: &Pass<'_>, ms: u32, commands: &[Command], shifts: &[Shift]) -> bool {
        let signals = &pass.spec.facts.signals;
        if !(signals.gear || signals.engine_speed) {
            return false;
        }
        let refused = commands.len().checked_sub(1).is_some_and(|at| {
            let since = |least_ms: u32| pass.alarm.passed(ms, commands[at].at_ms, least_ms);
            // What is read goes on telling the gear of before, as where it has frozen, or no shift has come.
            let told = |read: Option<(u8, u32)>| read.map(|(gear, _)| gear);
            let reads_so = || told(pass.gear_read()).is_some_and(|gear| told(commands[at].gear_told) == Some(gear));
            since(REFUSED_MS) && !since(REFUSED_FOR_MS) && (shifts.iter().all(|s| s.command != Some(at)) || reads_so())
        });
        let held = pass.spec.vehicle.gearbox.gate.means == GateMeans::HeldGear;
        // What is read comes later than the shift: the next one may have begun meanwhile.
        let mut recent = shifts.iter().rev().take_while(|s| !pass.alarm.passed(ms, s.from_ms, REFUSED_FOR_MS));
        let odd = recent.any(|shift| {
            // On entering the gate, and before, the gearbox shifts as it should.
            let engaged = pass.monitor.opened_ms().is_some_and(|opened| opened <= shift.from_ms);
            let contrary =
                commands.last().is_some_and(|c| shift.way() != c.direction && (!shift.ended || shift.to_ms >= c.at_ms));
            engaged && shift.command.is_none() || contrary
        });
        refused || held && odd
    }
}
