//! The gearbox: the course of a shift, what the gate's lever means, and what it refuses or does by itself.

use super::schedule::Schedule;
use super::shift::{Course, Running, Timing};
use super::taps::Taps;
use crate::drive::Start;
use crate::signal::{Contacts, Direction, Lever};
use crate::spec::Spec;
use crate::spec::facts::OutOfFirst;
use crate::spec::vehicle::{EntryGear, GateMeans, Protection, TapInShift};

/// By itself the gearbox shifts no sooner than this after its last shift, ms (invented).
const SETTLE_MS: f64 = 1000.0;

/// The gearbox decides so often on shifts of its own, ms (invented): a control unit does its work in fixed cycles. On a
/// grid of their own these shifts begin at the same time whatever the vehicle's step is.
const CYCLE_MS: f64 = 10.0;

/// From the launch gear it goes up to the commanded gear when that would turn this much faster than the speed at which
/// it shifts down by itself (invented).
const LAUNCHED: f64 = 1.6;

/// What the gearbox sees at a step.
#[derive(Debug, Clone, Copy)]
pub struct View {
    /// Speed of its output side, km/h, unsigned; times the low-range ratio.
    pub speed_kmh: f64,
    /// The engine runs.
    pub engine_on: bool,
    /// The engine is at its limiter.
    pub at_limiter: bool,
    /// Pedal that the engine obeys, 0 to 1.
    pub pedal: f64,
    /// Lever position.
    pub lever: Lever,
    /// Contacts of box and driver taken together.
    pub contacts: Contacts,
}

/// A gearbox in action.
#[derive(Debug, Clone)]
pub struct Gearbox {
    /// Total ratio and r/min per km/h of each forward gear.
    gears: Vec<(f64, f64)>,
    timing: Timing,
    protection: Protection,
    means: GateMeans,
    entry: EntryGear,
    /// What it holds goes down to first with the gear, and stays there until a tap.
    holds_first: bool,
    in_shift: TapInShift,
    redline_rpm: f64,
    /// A tap's recognition that is left when the tap has counted.
    recognition_ms: f64,
    schedule: Schedule,
    taps: Taps,
    gear: u8,
    running: Option<Running>,
    /// Held gear or limit, by what the gate means.
    commanded: u8,
    lever: Lever,
    waiting: i8,
    settled_ms: f64,
    refuse: u8,
    self_shift: Option<u8>,
    /// Time to its next decision, ms.
    cycle_ms: f64,
}

impl Gearbox {
    /// For a spec, in a start state.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let gearbox = &spec.vehicle.gearbox;
        let (idle, redline) = (spec.vehicle.engine.idle.get(), spec.vehicle.engine.redline.get());
        let total =
            |gear: u8| gearbox.ratios.get(usize::from(gear) - 1).map_or(1.0, |r| r.get()) * gearbox.final_drive.get();
        Self {
            gears: (1..=spec.gears().max(1)).map(|gear| (total(gear), spec.rpm_per_kmh(gear))).collect(),
            timing: Timing::new(&gearbox.shift),
            protection: gearbox.protection.clone(),
            means: gearbox.gate.means,
            entry: gearbox.gate.entry,
            holds_first: spec.facts.out_of_first == OutOfFirst::Commanded,
            in_shift: gearbox.gate.tap_in_shift,
            redline_rpm: redline,
            recognition_ms: (gearbox.shift.recognition.get() - gearbox.gate.least_tap.get()).max(0.0),
            schedule: Schedule::new(idle, redline),
            taps: Taps::new(&gearbox.gate),
            gear: 1,
            running: None,
            commanded: 1,
            lever: Lever::P,
            waiting: 0,
            settled_ms: 0.0,
            refuse: 0,
            self_shift: None,
            cycle_ms: 0.0,
        }
    }

    /// Back to a start state; `speed_kmh` as in the view.
    pub fn restart(&mut self, start: &Start, speed_kmh: f64) {
        self.taps.restart();
        self.gear = start.gear.clamp(1, self.top());
        self.commanded = self.gear;
        self.lever = start.lever;
        self.running = None;
        self.waiting = 0;
        self.settled_ms = SETTLE_MS;
        self.refuse = 0;
        self.timing.more_ms = 0.0;
        self.self_shift = None;
        self.cycle_ms = 0.0;
        if self.lever == Lever::Gate && self.means == GateMeans::HeldGear {
            // Where it would have shifted down by itself, it already has.
            while let Some(lower) = self.too_slow(speed_kmh) {
                self.gear = lower;
            }
        }
    }

    /// The gear; the old one until a shift has ended.
    #[must_use]
    pub fn gear(&self) -> u8 {
        self.gear
    }

    /// Where a running shift leads, else the gear.
    #[must_use]
    pub fn target(&self) -> u8 {
        self.running.map_or(self.gear, |r| r.to)
    }

    /// A shift runs.
    #[must_use]
    pub fn shifting(&self) -> bool {
        self.running.is_some()
    }

    /// The ratio has begun to move or is about to: the lock-up clutch is open.
    #[inline]
    #[must_use]
    pub fn opens_lockup(&self) -> bool {
        self.running.is_some_and(|run| run.recognised())
    }

    /// Sees the locked wheels instead of the road speed.
    #[must_use]
    pub fn blind(&self) -> bool {
        self.protection.blind_in_wheel_lock
    }

    /// Blocks this many taps.
    pub fn refuse_taps(&mut self, taps: u8) {
        self.refuse = self.refuse.saturating_add(taps);
    }

    /// Makes shifts last longer.
    pub fn slow_shifts(&mut self, more_ms: f64) {
        self.timing.more_ms += more_ms.max(0.0);
    }

    /// Goes to a gear by itself as soon as no shift runs.
    pub fn shift_by_itself(&mut self, gear: u8) {
        self.self_shift = Some(gear.clamp(1, self.top()));
    }

    /// What it passes on this long after now. First gear's ratio serves reverse.
    #[inline]
    #[must_use]
    pub fn course(&self, later_ms: f64) -> Course {
        let ratio = |gear| self.of(gear).0;
        if self.lever == Lever::R {
            return Course::whole(-ratio(1));
        }
        match &self.running {
            Some(run) => self.timing.course(run, later_ms, ratio(self.gear), ratio(run.to)),
            None => Course::whole(ratio(self.gear)),
        }
    }

    /// One step: what begins at this instant, then time passes.
    #[inline]
    pub fn step(&mut self, view: &View, step_ms: f64) {
        let tap = self.taps.step(view.contacts, step_ms);
        if self.lever != Lever::Gate {
            // A tap is a contact that closes in the gate (common practice, no source): one closed before is none.
            self.taps.pass_over();
        }
        if view.lever != self.lever {
            self.lever = view.lever;
            self.waiting = 0;
            if view.lever == Lever::Gate {
                self.enter_gate(view);
            }
        }
        if let Some(direction) = tap
            && view.lever == Lever::Gate
            && view.engine_on
        {
            self.tapped(direction, view);
        }
        // At the step nearest to the cycle's beginning.
        if self.cycle_ms < 0.5 * step_ms {
            self.cycle_ms += CYCLE_MS;
            if self.running.is_none() && view.engine_on {
                self.begin(view);
            }
        }
        self.cycle_ms -= step_ms;
        self.settled_ms += step_ms;
        if let Some(run) = &mut self.running
            && run.step(step_ms)
        {
            self.gear = run.to;
            self.running = None;
            self.settled_ms = 0.0;
        }
    }

    fn top(&self) -> u8 {
        u8::try_from(self.gears.len()).unwrap_or(u8::MAX)
    }

    #[inline]
    fn of(&self, gear: u8) -> (f64, f64) {
        self.gears.get(usize::from(gear.max(1)) - 1).copied().unwrap_or((1.0, 1.0))
    }

    /// Engine speed in a gear with nothing slipping.
    #[inline]
    fn rpm(&self, gear: u8, speed_kmh: f64) -> f64 {
        self.of(gear).1 * speed_kmh
    }

    fn enter_gate(&mut self, view: &View) {
        let now = self.target();
        let wanted = match self.entry {
            EntryGear::Current => now,
            EntryGear::OneBelow => now.saturating_sub(1),
            EntryGear::Fixed(gear) => gear,
        };
        let wanted = wanted.clamp(1, self.top());
        self.commanded =
            (wanted..self.top()).find(|&gear| self.rpm(gear, view.speed_kmh) <= self.redline_rpm).unwrap_or(self.top());
    }

    fn tapped(&mut self, direction: Direction, view: &View) {
        if self.refuse > 0 {
            self.refuse -= 1;
            return;
        }
        if self.running.is_none() {
            self.command(direction, view, self.recognition_ms);
            return;
        }
        let one = if direction == Direction::Up { 1 } else { -1 };
        match self.in_shift {
            TapInShift::Dropped => {}
            TapInShift::OneKept if self.waiting != 0 => {}
            TapInShift::OneKept | TapInShift::Queued => self.waiting = self.waiting.saturating_add(one),
        }
    }

    /// A tap takes effect, unless a protection or the end of the gears refuses it.
    fn command(&mut self, direction: Direction, view: &View, recognition_ms: f64) {
        let held = self.means == GateMeans::HeldGear;
        let to = match direction {
            Direction::Up if self.commanded < self.top() => self.commanded + 1,
            Direction::Down if self.commanded > 1 => self.commanded - 1,
            _ => return,
        };
        let rpm = self.rpm(to, view.speed_kmh);
        let refused = match direction {
            Direction::Up => held && self.protection.refuse_up_below.is_some_and(|least| rpm < least.0),
            Direction::Down => {
                (held || self.gear > to) && self.protection.refuse_down_above.is_some_and(|most| rpm > most.0)
            }
        };
        if refused {
            return;
        }
        self.commanded = to;
        if held {
            let undone = self.protection.down_below.is_some_and(|least| rpm < least.0);
            // Near standstill the launch gear stays, and `begin` climbs when it can.
            if to != self.gear && !(undone && to > self.gear) {
                self.start(to, recognition_ms);
            }
        } else {
            // The schedule may act on the new limit at once.
            self.settled_ms = SETTLE_MS;
        }
    }

    fn start(&mut self, to: u8, recognition_ms: f64) {
        self.running = Some(self.timing.start(to, recognition_ms));
    }

    /// The gear below, where the gearbox goes down by itself.
    fn too_slow(&mut self, speed_kmh: f64) -> Option<u8> {
        let least = self.protection.down_below?;
        let lowest = self.protection.launch_gear.max(1);
        if self.gear <= lowest || self.rpm(self.gear, speed_kmh) >= least.0 {
            return None;
        }
        // The command goes down along; not below second where first is only for launching.
        if self.commanded == self.gear {
            let least = if self.holds_first { 1 } else { 2 };
            self.commanded = (self.gear - 1).max(lowest).max(least).min(self.commanded);
        }
        Some(self.gear - 1)
    }

    /// Begins what is due while no shift runs.
    fn begin(&mut self, view: &View) {
        if let Some(to) = self.self_shift.take() {
            self.commanded = to;
            self.go(to);
            return;
        }
        if self.waiting != 0 {
            let direction = if self.waiting > 0 { Direction::Up } else { Direction::Down };
            self.waiting -= self.waiting.signum();
            self.command(direction, view, 0.0);
            if self.running.is_some() {
                return;
            }
        }
        match (view.lever, self.means) {
            (Lever::Gate, GateMeans::HeldGear) => self.hold(view),
            (Lever::Gate, GateMeans::RangeLimit) => self.keep_limit(view),
            (Lever::D | Lever::N, _) if self.settled_ms >= SETTLE_MS => {
                let rpm = |gear| self.rpm(gear, view.speed_kmh);
                let to = self.schedule.wants(self.gear, self.top(), view.pedal, rpm);
                self.go(to);
            }
            _ => {}
        }
    }

    /// Shifts by itself, unless it is there already.
    fn go(&mut self, to: u8) {
        if to != self.gear {
            self.start(to, 0.0);
        }
    }

    /// The schedule under the limit.
    fn keep_limit(&mut self, view: &View) {
        let settled = self.settled_ms >= SETTLE_MS;
        if self.protection.up_at_redline && view.at_limiter && settled && self.commanded < self.top() {
            self.commanded += 1;
        }
        let rpm = |gear| self.rpm(gear, view.speed_kmh);
        let to = if self.gear > self.commanded {
            // Down to the limit, or as near as the redline allows.
            (self.commanded..self.gear).find(|&gear| rpm(gear) <= self.redline_rpm).unwrap_or(self.gear)
        } else if settled {
            self.schedule.wants_under(self.gear, self.commanded, view.pedal, rpm)
        } else {
            self.gear
        };
        self.go(to);
    }

    /// The held gear, and the launch gear below it.
    fn hold(&mut self, view: &View) {
        if let Some(lower) = self.too_slow(view.speed_kmh) {
            self.start(lower, 0.0);
        } else if self.gear > self.commanded {
            self.start(self.commanded, 0.0);
        } else if self.gear < self.commanded {
            let next = self.gear + 1;
            let launched = if self.holds_first { 1.0 } else { LAUNCHED };
            let enough = self.protection.down_below.map_or(0.0, |least| launched * least.0);
            if self.rpm(next, view.speed_kmh) >= enough {
                self.start(next, 0.0);
            } else if self.holds_first {
                // Too slow for what was asked for: nothing is left of it.
                self.commanded = self.gear;
            }
        } else if self.protection.up_at_redline && view.at_limiter && self.gear < self.top() {
            self.commanded = self.gear + 1;
            self.start(self.commanded, 0.0);
        }
    }
}
