//! The gearbox: how a shift runs, what the gate means, what it refuses and does by itself.

use crate::drive::Start;
use crate::signal::{Contacts, Direction, Lever, Range};
use crate::spec::vehicle::{EntryGear, Gate, GateMeans, Gearbox as Spec, HeldTap, Protection, TapInShift};

/// Least time between shifts of the gearbox's own making, ms (invented).
const OWN_PAUSE_MS: f64 = 1000.0;
/// The gearbox takes a lever position once it has stood this long, ms (common practice, no source).
const LEVER_MS: f64 = 30.0;
/// Most taps that wait for a shift to end.
const MOST_WAITING: u8 = 8;

/// What the gearbox looks at in one step.
#[derive(Debug, Clone, Copy)]
pub struct Around {
    /// Lever position.
    pub lever: Lever,
    /// Transfer case.
    pub range: Range,
    /// Closed contacts, the box's and the driver's together.
    pub contacts: Contacts,
    /// Speed by which protections judge, km/h.
    pub speed_kmh: f64,
    /// Pedal share.
    pub pedal: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Contact {
    closed_ms: f64,
    counted: u32,
}

/// The gearbox's numbers and state.
#[derive(Debug, Clone)]
pub struct Gearbox {
    ratios: Vec<f64>,
    rpm_per_kmh: Vec<f64>,
    final_drive: f64,
    low_range: f64,
    /// Efficiency from converter to wheel.
    pub efficiency: f64,
    recognition_ms: f64,
    fill_ms: f64,
    change_ms: f64,
    torque_up: f64,
    torque_down: f64,
    gate: Gate,
    protection: Protection,
    idle_rpm: f64,
    redline_rpm: f64,
    entry_limit_rpm: f64,

    /// The gear; the old one while a shift runs.
    pub gear: u8,
    /// The gear a running shift leads to, else the gear.
    pub target: u8,
    shift_ms: Option<f64>,
    slower_ms: f64,
    /// Held gear or highest gear allowed, in the gate.
    held: u8,
    waiting: [u8; 2],
    contact: [Contact; 2],
    refuse: u8,
    lever: Lever,
    lever_ms: f64,
    own_ms: f64,
}

impl Gearbox {
    /// The gearbox of a spec.
    #[must_use]
    pub fn new(spec: &Spec, wheel_radius_m: f64, idle_rpm: f64, redline_rpm: f64) -> Self {
        let ratios: Vec<f64> = spec.ratios.iter().map(crate::spec::known::Known::get).collect();
        let final_drive = spec.final_drive.get();
        Self {
            rpm_per_kmh: ratios.iter().map(|r| crate::units::rpm_per_kmh(r * final_drive, wheel_radius_m)).collect(),
            ratios,
            final_drive,
            low_range: spec.low_range.map_or(1.0, |r| r.get()),
            efficiency: spec.efficiency.get() / 100.0,
            recognition_ms: spec.shift.recognition.get(),
            fill_ms: spec.shift.fill.get(),
            change_ms: spec.shift.ratio_change.get().max(1.0),
            torque_up: spec.shift.torque_up.get() / 100.0,
            torque_down: spec.shift.torque_down.get() / 100.0,
            gate: spec.gate.clone(),
            protection: spec.protection.clone(),
            idle_rpm,
            redline_rpm,
            entry_limit_rpm: redline_rpm,
            gear: 1,
            target: 1,
            shift_ms: None,
            slower_ms: 0.0,
            held: 1,
            waiting: [0; 2],
            contact: [Contact::default(); 2],
            refuse: 0,
            lever: Lever::P,
            lever_ms: 0.0,
            own_ms: 0.0,
        }
    }

    fn top(&self) -> u8 {
        u8::try_from(self.ratios.len()).unwrap_or(u8::MAX)
    }

    /// Back to a start state.
    pub fn restart(&mut self, start: &Start) {
        self.gear = start.gear.clamp(1, self.top());
        self.target = self.gear;
        self.shift_ms = None;
        self.slower_ms = 0.0;
        self.held = self.gear;
        self.waiting = [0; 2];
        self.contact = [Contact::default(); 2];
        self.refuse = 0;
        self.lever = start.lever;
        self.lever_ms = 0.0;
        self.own_ms = OWN_PAUSE_MS;
    }

    /// The next taps are refused.
    pub fn refuse_taps(&mut self, taps: u8) {
        self.refuse = taps;
    }

    /// Shifts take longer from now on.
    pub fn slow_shifts(&mut self, more_ms: f64) {
        self.slower_ms = more_ms;
    }

    /// The gearbox goes to a gear by itself.
    pub fn self_shift(&mut self, gear: u8) {
        let gear = gear.clamp(1, self.top());
        if self.shift_ms.is_none() && gear != self.gear {
            self.held = gear;
            self.begin(gear);
        }
    }

    /// A shift runs.
    #[must_use]
    pub fn shifting(&self) -> bool {
        self.shift_ms.is_some()
    }

    fn rpm(&self, gear: u8, speed_kmh: f64) -> f64 {
        self.rpm_per_kmh.get(usize::from(gear.max(1)) - 1).copied().unwrap_or(0.0) * speed_kmh.abs()
    }

    fn ratio_of(&self, gear: u8) -> f64 {
        self.ratios.get(usize::from(gear.max(1)) - 1).copied().unwrap_or(1.0)
    }

    /// Total ratio from turbine to wheel and share of torque passed on; `None` with no drive.
    #[must_use]
    pub fn drive(&self, lever: Lever, range: Range) -> Option<(f64, f64)> {
        let low = match range {
            Range::High => 1.0,
            Range::Low => self.low_range,
            Range::Transit => return None,
        };
        match lever {
            Lever::P | Lever::N => None,
            Lever::R => Some((-self.ratio_of(1) * self.final_drive * low, 1.0)),
            Lever::D | Lever::Gate => {
                let (ratio, share) = self.moving_ratio();
                Some((ratio * self.final_drive * low, share))
            }
        }
    }

    fn moving_ratio(&self) -> (f64, f64) {
        let from = self.ratio_of(self.gear);
        let Some(ms) = self.shift_ms else { return (from, 1.0) };
        let into = ms - self.recognition_ms - self.fill_ms - self.slower_ms;
        if into <= 0.0 {
            return (from, 1.0);
        }
        let x = (into / self.change_ms).min(1.0);
        let smooth = x * x * (3.0 - 2.0 * x);
        let to = self.ratio_of(self.target);
        let share = if self.target > self.gear { self.torque_up } else { self.torque_down };
        (from + (to - from) * smooth, share)
    }

    fn begin(&mut self, gear: u8) {
        self.target = gear;
        self.shift_ms = Some(0.0);
        self.own_ms = 0.0;
    }

    /// One step.
    pub fn step(&mut self, around: &Around, dt_ms: f64) {
        self.own_ms += dt_ms;
        if let Some(ms) = self.shift_ms {
            let ms = ms + dt_ms;
            self.shift_ms = Some(ms);
            if ms >= self.recognition_ms + self.fill_ms + self.slower_ms + self.change_ms {
                self.gear = self.target;
                self.shift_ms = None;
            }
        }
        self.lever_ms = if around.lever == self.lever { 0.0 } else { self.lever_ms + dt_ms };
        let moved = self.lever_ms >= LEVER_MS;
        let entered = moved && around.lever == Lever::Gate;
        if moved {
            self.waiting = [0; 2];
            self.lever = around.lever;
            self.lever_ms = 0.0;
        }
        match self.lever {
            Lever::Gate => {
                if entered {
                    self.enter(around);
                }
                self.taps(around, dt_ms);
                self.in_gate(around);
            }
            Lever::D => self.automatic(around),
            Lever::P | Lever::R | Lever::N => {
                if around.speed_kmh.abs() < 5.0 && self.shift_ms.is_none() && self.gear != 1 {
                    self.begin(1);
                }
            }
        }
    }

    fn enter(&mut self, around: &Around) {
        let gear = match self.gate.entry {
            EntryGear::Current => self.target,
            EntryGear::OneBelow => self.target.saturating_sub(1).max(1),
            EntryGear::Fixed(gear) => gear,
        };
        let top = self.top();
        self.held = (gear..top).find(|&g| self.rpm(g, around.speed_kmh) <= self.entry_limit_rpm).unwrap_or(top);
    }

    /// Contacts closed long enough are taps.
    fn taps(&mut self, around: &Around, dt_ms: f64) {
        let both = around.contacts.up && around.contacts.down;
        for (at, closed, direction) in
            [(0, around.contacts.up, Direction::Up), (1, around.contacts.down, Direction::Down)]
        {
            if !closed || both {
                self.contact[at] = Contact::default();
                continue;
            }
            self.contact[at].closed_ms += dt_ms;
            let Contact { closed_ms, counted } = self.contact[at];
            let due_ms = match self.gate.held_tap {
                HeldTap::OneStep if counted > 0 => f64::INFINITY,
                HeldTap::OneStep => self.gate.least_tap.0,
                HeldTap::Repeats(ms) => self.gate.least_tap.0 + f64::from(counted) * f64::from(ms.max(1)),
            };
            if closed_ms >= due_ms {
                self.contact[at].counted += 1;
                self.tap(direction, around);
            }
        }
        if self.shift_ms.is_none() {
            for (at, direction) in [(0, Direction::Up), (1, Direction::Down)] {
                if self.waiting[at] > 0 && self.shift_ms.is_none() {
                    self.waiting[at] -= 1;
                    self.obey(direction, around);
                }
            }
        }
    }

    fn tap(&mut self, direction: Direction, around: &Around) {
        if self.refuse > 0 {
            self.refuse -= 1;
            return;
        }
        if self.shift_ms.is_none() {
            self.obey(direction, around);
            return;
        }
        let at = usize::from(direction == Direction::Down);
        match self.gate.tap_in_shift {
            TapInShift::Dropped => {}
            TapInShift::OneKept if self.waiting == [0; 2] => self.waiting[at] = 1,
            TapInShift::OneKept => {}
            TapInShift::Queued => self.waiting[at] = (self.waiting[at] + 1).min(MOST_WAITING),
        }
    }

    fn obey(&mut self, direction: Direction, around: &Around) {
        match direction {
            Direction::Up => {
                let to = self.held.saturating_add(1).min(self.top());
                let low = self.protection.refuse_up_below.is_some_and(|rpm| self.rpm(to, around.speed_kmh) < rpm.0);
                if !low {
                    self.held = to;
                }
            }
            Direction::Down => {
                let to = self.held.saturating_sub(1).max(1);
                let high = self.protection.refuse_down_above.is_some_and(|rpm| self.rpm(to, around.speed_kmh) > rpm.0);
                if !high {
                    self.held = to;
                }
            }
        }
    }

    /// Goes to the held gear, or to the best one under the limit; down by itself near standstill.
    fn in_gate(&mut self, around: &Around) {
        if self.shift_ms.is_some() {
            return;
        }
        let launch = self.protection.launch_gear.max(1);
        let down_below = self.protection.down_below.map_or(0.0, |rpm| rpm.0);
        let rpm_now = self.rpm(self.gear, around.speed_kmh);
        let slow = rpm_now < down_below && self.gear > launch;
        let redline = self.gear == self.held
            && self.protection.up_at_redline
            && rpm_now > self.redline_rpm
            && self.gear < self.top();
        if redline {
            self.held = self.gear + 1;
            self.begin(self.held);
            return;
        }
        if slow {
            let to = self.gear - 1;
            if self.gate.means == GateMeans::HeldGear {
                // A commanded second stays commanded: the gearbox only launches below it.
                self.held = self.held.min(to.max(2));
            }
            self.begin(to);
            return;
        }
        // Up again only when the higher gear turns well above the speed at which it would be left.
        let pulls_from_rpm = (1.6 * down_below).max(self.idle_rpm * 1.25);
        let pulls = self.rpm(self.gear + 1, around.speed_kmh) >= pulls_from_rpm;
        match self.gate.means {
            GateMeans::HeldGear => {
                let waits = self.gear < self.held && self.gear < 2 && !pulls;
                if self.gear != self.held && !waits {
                    let to = if self.gear < 2 && self.held > self.gear { self.gear + 1 } else { self.held };
                    self.begin(to);
                }
            }
            GateMeans::RangeLimit => {
                if self.gear > self.held {
                    let to = self.gear - 1;
                    self.begin(to);
                } else if self.gear < self.held && pulls && self.own_ms >= OWN_PAUSE_MS {
                    let to = self.gear + 1;
                    self.begin(to);
                }
            }
        }
    }

    /// The gearbox's own schedule in D: later with more pedal (invented).
    fn automatic(&mut self, around: &Around) {
        if self.shift_ms.is_some() || self.own_ms < OWN_PAUSE_MS {
            return;
        }
        let width = self.redline_rpm - self.idle_rpm;
        let up_rpm = self.idle_rpm + width * (0.30 + 0.55 * around.pedal);
        let down_rpm = self.idle_rpm * 1.2 + width * 0.20 * around.pedal;
        if self.gear < self.top() && self.rpm(self.gear, around.speed_kmh) > up_rpm {
            self.begin(self.gear + 1);
        } else if self.gear > 1
            && self.rpm(self.gear, around.speed_kmh) < down_rpm
            && self.rpm(self.gear - 1, around.speed_kmh) < up_rpm * 0.9
        {
            self.begin(self.gear - 1);
        }
    }
}
