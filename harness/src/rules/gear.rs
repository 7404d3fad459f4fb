//! The gear as the box could know it: the gear signal where offered, else the entry rule and the accepted taps.

use super::alarm::Alarm;
use crate::recording::Row;
use crate::signal::Lever;
use crate::spec::Spec;
use crate::spec::facts::OutOfFirst;
use crate::spec::vehicle::{EntryGear, GateMeans};

/// A gear signal that arrives this long after the last tap tells the settled gear, ms (slowest shift 0.8 s, recognition
/// 0.15 s: common practice, no source).
const SETTLED_MS: u32 = 1000;
/// At standstill for this long, every box takes a gearbox that shifts down by itself to be in the lowest gear, ms
/// (invented). Until then some still count with the gear of before.
const STANDSTILL_MS: u32 = 3000;
/// A fall that brakes can't explain is believed only after this long, ms: locked wheels turn again before (invented).
const LOCKED_MS: u32 = 10_000;

/// The gear seen.
#[derive(Debug, Clone)]
pub struct GearSeen {
    /// What it waits for.
    pub alarm: Alarm,
    entry: EntryGear,
    means: GateMeans,
    top: u8,
    /// Where a gearbox that shifts down by itself comes to rest, as the box counts it.
    lowest: u8,
    downs_by_itself: bool,
    standstill_kmh: f64,
    least_tap_ms: u32,
    redline: f64,
    rpm_per_kmh: [f64; 10],

    gear: Option<u8>,
    signal: Option<(u8, u32)>,
    last_tap_ms: Option<u32>,
    /// Where the last tap should have led to, or the lever as it came.
    led: Option<u8>,
    fresh_ms: u32,
    confirmed_ms: u32,
    closed: [Option<(u32, bool)>; 2],
    still_since: Option<u32>,
    bounce_ms: u32,
    unseen_ms: u32,
    out_since: Option<u32>,
    entered_ms: Option<u32>,
    fall_kmh_per_ms: f64,
    last_speed: Option<(f64, u32)>,
    last_step_kmh: f64,
    false_still: bool,
    readable: bool,
    /// A tap has come of which nobody knows whether the gearbox took it.
    moved_in_doubt: bool,
    /// The gear told by the last speed read before the lever came, until the next one is read.
    told_on_entry: Option<u8>,
}

/// Why a box can't know its gear, if so: it reads none, and the gate enters another one from time to time.
#[must_use]
pub fn cant_be_known(spec: &Spec) -> Option<String> {
    let fixed = matches!(spec.vehicle.gearbox.gate.entry, EntryGear::Fixed(_));
    (!spec.facts.signals.gear && !fixed).then(|| {
        "the box reads no gear and the gate doesn't enter a fixed one, so it can't know the gear it is in".into()
    })
}

/// The gate sets a limit, below which the gearbox may stay, and the box reads no gear.
#[must_use]
pub fn unread_below_limit(spec: &Spec) -> bool {
    spec.vehicle.gearbox.gate.means == GateMeans::RangeLimit && !spec.facts.signals.gear
}

impl GearSeen {
    /// For a spec.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let gearbox = &spec.vehicle.gearbox;
        let mut rpm_per_kmh = [0.0; 10];
        for (at, slot) in (1..).zip(rpm_per_kmh.iter_mut()).take(usize::from(spec.gears().min(10))) {
            *slot = spec.rpm_per_kmh(at);
        }
        Self {
            alarm: Alarm::default(),
            entry: gearbox.gate.entry,
            means: gearbox.gate.means,
            top: spec.gears(),
            lowest: match spec.facts.out_of_first {
                OutOfFirst::ByItself => spec.facts.lowest_gear,
                OutOfFirst::Commanded => gearbox.protection.launch_gear,
            },
            downs_by_itself: gearbox.protection.down_below.is_some(),
            standstill_kmh: spec.limits.standstill.0,
            least_tap_ms: gearbox.gate.least_tap.ms(),
            redline: spec.vehicle.engine.redline.get(),
            rpm_per_kmh,
            gear: None,
            signal: None,
            last_tap_ms: None,
            led: None,
            fresh_ms: spec.limits.data_fresh.ms(),
            confirmed_ms: spec.limits.shift_confirmed.ms(),
            closed: [None; 2],
            still_since: None,
            bounce_ms: spec.limits.lever_bounce.ms(),
            unseen_ms: spec.limits.unseen_out().ms(),
            out_since: None,
            entered_ms: None,
            fall_kmh_per_ms: spec.limits.fall_limit.0 / 1000.0,
            last_speed: None,
            last_step_kmh: 0.0,
            false_still: false,
            readable: true,
            moved_in_doubt: false,
            told_on_entry: None,
        }
    }

    /// The gear, if it can be known.
    #[must_use]
    pub fn gear(&self) -> Option<u8> {
        self.gear.filter(|_| self.readable)
    }

    /// Engine speed over road speed in a gear with nothing slipping, (r/min)/(km/h); 0 above the top gear.
    #[must_use]
    pub fn rpm_per_kmh(&self, gear: u8) -> f64 {
        self.rpm_per_kmh.get(usize::from(gear.max(1)) - 1).copied().unwrap_or(0.0)
    }

    /// A gear signal arrived.
    pub fn signal(&mut self, value: f64, arrived_ms: u32) {
        if value >= 1.0 && value <= f64::from(self.top) {
            self.signal = Some((value as u8, arrived_ms));
        }
    }

    /// Whether a gear signal has shown the gear that the taps so far should have led to, since a command.
    #[must_use]
    pub fn confirmed_since(&self, command_ms: u32, arrived: Option<(u8, u32)>) -> bool {
        arrived.is_some_and(|(gear, at)| at > command_ms && Some(gear) == self.gear)
    }

    /// A speed arrived: one that falls faster than tyres can brake is no standstill.
    pub fn speed(&mut self, kmh: f64, arrived_ms: u32) {
        if let Some((before, at)) = self.last_speed {
            let fell = before - kmh > self.fall_kmh_per_ms * f64::from(arrived_ms - at) + 2.0;
            self.last_step_kmh = (before - kmh).abs();
            self.false_still = (self.false_still || fell) && kmh <= self.standstill_kmh;
        }
        self.last_speed = Some((kmh, arrived_ms));
        // Between two readings lies what the gearbox went by as the lever came. Where the reading after tells another
        // gear than the one before, as when locked wheels turn again, nobody can tell which it took.
        if let (Some(told), EntryGear::Fixed(gear)) = (self.told_on_entry.take(), self.entry)
            && self.gear_on_entry(gear, kmh) != Some(told)
        {
            self.gear = None;
        }
    }

    /// One row, with what the box read and whether the driver tapped.
    pub fn row(&mut self, row: &Row, speed_seen: Option<f64>, driver_tapped: bool, was: Option<&Row>) {
        let ms = row.t_ms;
        if !row.powered || row.restarted {
            // The box has forgotten what it counted and what it was told.
            (self.gear, self.signal) = (None, None);
            self.still_since = None;
            self.told_on_entry = None;
            self.entered_ms = None;
        }
        if row.inputs.lever != Lever::Gate {
            let since = *self.out_since.get_or_insert(ms);
            // A shorter excursion is contact bounce: the gear stays.
            if self.alarm.passed(ms, since, self.bounce_ms) {
                (self.gear, self.told_on_entry) = (None, None);
            }
            if row.contacts.up || row.contacts.down || row.truth.driver_up || row.truth.driver_down {
                // A pulse over a bounce: whether the gearbox took it as a tap, none, or two, nobody can know.
                self.gear = None;
            }
            self.closed = [None; 2];
            return;
        }
        let excursion_ms = self.out_since.take().map(|since| ms - since);
        if let (Some(_), Some(out_ms)) = (was, excursion_ms.filter(|&out| out >= self.bounce_ms)) {
            self.gear = match self.entry {
                // The box may not have seen it leave: it keeps its count then.
                EntryGear::Fixed(_) | EntryGear::OneBelow if out_ms <= self.unseen_ms => None,
                EntryGear::Fixed(gear) => speed_seen.and_then(|v| self.gear_on_entry(gear, v)),
                EntryGear::Current => self.signal.map(|(gear, _)| gear),
                EntryGear::OneBelow => self.signal.map(|(gear, _)| gear.saturating_sub(1).max(1)),
            };
            (self.told_on_entry, self.led) = (self.gear, self.gear);
            self.last_tap_ms = Some(ms);
            (self.readable, self.moved_in_doubt) = (true, false);
            self.entered_ms = Some(ms);
        }
        let closed = [row.contacts.up || row.truth.driver_up, row.contacts.down || row.truth.driver_down];
        if self.entered_ms.is_some_and(|entered| ms <= entered + self.bounce_ms) && (closed[0] || closed[1]) {
            // A tap is a contact that closes in the gate. Whether one that is closed as the lever comes, or closes while
            // it may still bounce, has done so for the gearbox, nobody can know.
            self.closed = closed.map(|closed| closed.then_some((ms, true)));
            (self.gear, self.told_on_entry, self.last_tap_ms) = (None, None, Some(ms));
            self.moved_in_doubt |= self.signal.is_none();
        }
        // What was read comes before what is tapped in the same tick: a box decides on it.
        if let Some((gear, arrived_ms)) = self.signal {
            let before = (self.gear, self.readable);
            self.told_after_entry(gear, arrived_ms);
            let settled = self.last_tap_ms.is_none_or(|tap| arrived_ms >= tap + SETTLED_MS);
            match self.means {
                GateMeans::HeldGear if settled => {
                    let known = self.led == Some(gear) || !self.may_have_come_since(arrived_ms, ms);
                    self.gear = known.then_some(gear);
                }
                // Under a range limit the gearbox may stay below it as it likes; then the limit can't be read.
                GateMeans::RangeLimit if settled && self.gear.is_some_and(|limit| gear > limit) => {
                    self.gear = Some(gear)
                }
                GateMeans::RangeLimit if settled => self.readable = self.gear == Some(gear) && !self.moved_in_doubt,
                // Until it has settled, what was known before the tap and the tap itself tell.
                _ => {}
            }
            if (self.gear, self.readable) != before {
                self.alarm.keep_awake();
            }
        }
        let short = (0..2).any(|at| self.is_cut_short(at, closed[at]));
        let up = self.tap_counts(0, closed[0], ms);
        let down = self.tap_counts(1, closed[1], ms);
        if let Some(gear) = self.gear {
            if up && !down {
                self.gear = Some((gear + 1).min(self.top));
            } else if down && !up {
                self.gear = Some(gear.saturating_sub(1).max(1));
            }
        }
        if up || down {
            self.led = self.gear;
        }
        // Settled is counted from when the contact closes, as a box does that closes it.
        let closes = |side: usize| self.closed[side].is_some_and(|(since, _)| since == ms);
        if closes(0) || closes(1) || driver_tapped {
            self.last_tap_ms = Some(ms);
        }
        if driver_tapped || short {
            // Whether the gearbox took the driver's tap or refused it, or a pulse that the box cut short: the gear below a
            // limit doesn't tell, nor does anything else where no gear is read.
            self.moved_in_doubt |= self.means == GateMeans::RangeLimit || self.signal.is_none();
            self.readable &= self.means != GateMeans::RangeLimit;
        }
        if self.moved_in_doubt && self.signal.is_none() {
            self.gear = None;
        }
        if self.signal.is_some() {
            return;
        }
        if speed_seen.is_some_and(|v| v <= self.standstill_kmh) && self.downs_by_itself && !self.moved_in_doubt {
            let since = *self.still_since.get_or_insert(ms);
            let least_ms = if self.false_still { LOCKED_MS } else { STANDSTILL_MS };
            let long = self.alarm.passed(ms, since, least_ms);
            self.gear = match self.gear {
                _ if long => Some(self.lowest),
                Some(gear) if gear > self.lowest => None,
                same => same,
            };
        } else {
            self.still_since = None;
        }
    }

    /// A shift that ran as the lever came may end with it, and then the gear told before wasn't the one that the gearbox
    /// went by: before any tap, readings tell.
    fn told_after_entry(&mut self, told: u8, arrived_ms: u32) {
        let untapped = self.entered_ms.is_some_and(|at| arrived_ms > at) && self.entered_ms == self.last_tap_ms;
        let Some(known) = self.gear.filter(|_| untapped) else { return };
        match (self.entry, self.means) {
            (EntryGear::Fixed(_), _) => {}
            // One that keeps its gear is in the one told now, or under a limit that is as high.
            (EntryGear::Current, GateMeans::HeldGear) => self.gear = Some(told),
            (EntryGear::Current, GateMeans::RangeLimit) if told > known => self.gear = Some(told),
            // One that enters one below leaves the gear of then for it: neither a higher one was that, nor a lower one.
            (EntryGear::OneBelow, _) if told > known + 1 => self.gear = None,
            (EntryGear::OneBelow, GateMeans::HeldGear) if told < known => self.gear = None,
            // It may have gone down below the limit, or the limit is lower.
            (_, GateMeans::RangeLimit) if told < known => self.readable = false,
            _ => {}
        }
    }

    /// The gear was told last, long ago, when the shift that the last tap asked for might still come.
    fn may_have_come_since(&self, arrived_ms: u32, ms: u32) -> bool {
        let early = self.last_tap_ms.is_some_and(|tap| arrived_ms < tap + self.confirmed_ms);
        early && self.alarm.exceeded(ms, arrived_ms, self.fresh_ms)
    }

    /// A contact opens that hasn't been closed for the least time of a tap, or only just.
    fn is_cut_short(&self, at: usize, closed: bool) -> bool {
        !closed && matches!(self.closed.get(at), Some(Some((_, false))))
    }

    /// A contact counts as a tap once, when it has been closed for the least time.
    fn tap_counts(&mut self, at: usize, closed: bool, ms: u32) -> bool {
        if !closed {
            self.closed[at] = None;
            return false;
        }
        let (since, counted) = self.closed[at].unwrap_or((ms, false));
        let counts = !counted && ms - since >= self.least_tap_ms;
        self.closed[at] = Some((since, counted || counts));
        counts
    }

    /// The gear that the gearbox goes to on entering the gate at a speed read. It goes by its own speed in its own
    /// moment: where one count more or less, or an update more, gives another gear, nobody can tell.
    fn gear_on_entry(&self, gear: u8, speed_kmh: f64) -> Option<u8> {
        let off_kmh = 1.0 + self.last_step_kmh;
        let least = self.lowest_legal(gear, speed_kmh - off_kmh);
        (least == self.lowest_legal(gear, speed_kmh + off_kmh)).then_some(least)
    }

    fn lowest_legal(&self, gear: u8, speed_kmh: f64) -> u8 {
        (gear..self.top)
            .find(|&g| self.rpm_per_kmh[usize::from(g.clamp(1, 10)) - 1] * speed_kmh <= self.redline)
            .unwrap_or(self.top)
    }
}
