//! The rolling road: the box on a bench that turns the wheels at a speed of our choice, whatever the pedal says.
//!
//! It stands in the closed loop where the vehicle stands else, so the box meets the same link, ticks, contacts and
//! driver. Its gearbox is the vehicle's, with its shift time, entry gear and notion of a tap; but it holds the
//! commanded gear whatever the gate means, refuses nothing, and shifts nothing by itself in the gate, but for the way
//! down into first where the box commands out of it: what is measured is the box, and a line must be reached even where
//! this vehicle would never drive past it.

use super::pace::Pace;
use crate::drive::Start;
use crate::recording::Truth;
use crate::signal::{Contacts, Direction};
use crate::spec::Spec;
use crate::spec::link::SpeedSource;
use crate::spec::vehicle::{GateMeans, Protection};
use crate::units::rpm_per_kmh;
use crate::vehicle::{Body, Controls, Gearbox, View};

/// The port shows no speed beyond this, km/h.
pub(super) const TOP_KMH: f64 = 254.0;
/// Slower the road never turns on the way to a gear, km/h above the standstill limit.
const CREEP_KMH: f64 = 2.0;

/// What the road does with the speed once the driver has handed over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Task {
    /// Goes to a gear, waits there, then moves the speed slowly past a line.
    Past {
        /// The gear left.
        gear: u8,
        /// Up or down.
        way: Direction,
        /// The line's speed at this pedal, km/h.
        line_kmh: f64,
        /// Where the ramp begins, km/h.
        start_kmh: f64,
        /// Where it ends if nothing comes, km/h.
        end_kmh: f64,
    },
    /// Goes to a gear, then swings the speed to and fro twice.
    Swing {
        /// The gear below.
        gear: u8,
        /// Where it waits for the gear, km/h.
        wait_kmh: f64,
        /// The lower speed, km/h.
        low_kmh: f64,
        /// The higher speed, km/h.
        high_kmh: f64,
    },
    /// Stays until the driver has handed over and the time for it has passed, then raises the speed, so that a box that
    /// shows nothing gives itself away by a command.
    Engage {
        /// To here, km/h.
        raise_kmh: f64,
    },
}

/// How a task ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ended {
    /// As planned; for `Past`, with a command during the ramp.
    Done,
    /// The command asked for came before the ramp.
    Early,
    /// The ramp was driven to its end and held there; no command.
    NoCommand,
    /// The gear never stood where the ramp begins; the last one was this.
    NeverThere(u8),
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Stage {
    /// Until the driver has handed over and moved the pedal.
    Waiting,
    /// To gear and place.
    Going,
    /// There for this long, ms.
    Settling(f64),
    /// Along the ramp; at its end for this long, ms.
    Ramping(f64),
    /// On this leg of the swing, there for this long, ms.
    Swinging(u8, f64),
    /// Raising the speed; there for this long, ms.
    Raising(f64),
    Over(Ended),
}

/// The legs of a swing: up, down, up, down.
const LEGS: u8 = 4;

/// The bench.
#[derive(Debug, Clone)]
pub(super) struct RollingRoad {
    gearbox: Gearbox,
    wheel_radius_m: f64,
    idle_rpm: f64,
    standstill_kmh: f64,
    /// The lowest gear that the box commands: further down the gearbox goes by itself.
    lowest: u8,
    pace: Pace,
    task: Task,
    stage: Stage,
    speed_kmh: f64,
    accel_mps2: f64,
    now_ms: f64,
    contacts: Contacts,
    /// When the last contact closed, ms.
    closed_ms: f64,
    /// When the measurement proper began, ms.
    from_ms: Option<f64>,
}

impl RollingRoad {
    pub(super) fn new(spec: &Spec, pace: Pace) -> Self {
        let mut bench = spec.clone();
        bench.vehicle.gearbox.gate.means = GateMeans::HeldGear;
        bench.vehicle.gearbox.protection = Protection {
            refuse_down_above: None,
            refuse_up_below: None,
            down_below: None,
            launch_gear: 1,
            up_at_redline: false,
            blind_in_wheel_lock: true,
        };
        Self {
            gearbox: Gearbox::new(&bench),
            wheel_radius_m: spec.vehicle.wheel_radius.get(),
            idle_rpm: spec.vehicle.engine.idle.get(),
            standstill_kmh: spec.limits.standstill.0,
            lowest: spec.facts.lowest_gear,
            pace,
            task: Task::Engage { raise_kmh: 0.0 },
            stage: Stage::Waiting,
            speed_kmh: 0.0,
            accel_mps2: 0.0,
            now_ms: 0.0,
            contacts: Contacts::default(),
            closed_ms: 0.0,
            from_ms: None,
        }
    }

    /// What to do in the next run.
    pub(super) fn set(&mut self, task: Task) {
        self.task = task;
    }

    /// How the last run ended; `None` where it was cut short.
    pub(super) fn ended(&self) -> Option<Ended> {
        match self.stage {
            Stage::Over(ended) => Some(ended),
            _ => None,
        }
    }

    /// When the ramp or swing began, ms.
    pub(super) fn began_ms(&self) -> Option<f64> {
        self.from_ms
    }

    /// The speed it stopped at, km/h.
    pub(super) fn speed_kmh(&self) -> f64 {
        self.speed_kmh
    }

    /// The contact that closes in this tick.
    fn closing(&mut self, now: Contacts) -> Option<Direction> {
        let before = std::mem::replace(&mut self.contacts, now);
        let closing = match (now.up && !before.up, now.down && !before.down) {
            (true, _) => Some(Direction::Up),
            (false, true) => Some(Direction::Down),
            _ => None,
        };
        if closing.is_some() {
            self.closed_ms = self.now_ms;
        }
        closing
    }

    /// Where the speed goes in this tick (km/h, km/h per s).
    fn steer(&mut self, closing: Option<Direction>) -> (f64, f64) {
        let stand = (self.speed_kmh, 0.0);
        if let Stage::Waiting = self.stage {
            if self.now_ms < self.pace.from_ms {
                return stand;
            }
            self.stage = match self.task {
                Task::Engage { .. } => Stage::Raising(0.0),
                Task::Past { .. } | Task::Swing { .. } => Stage::Going,
            };
        }
        match self.task {
            Task::Past { gear, way, line_kmh, start_kmh, end_kmh } => match self.stage {
                Stage::Ramping(at_end_ms) => self.ramp(closing, end_kmh, at_end_ms),
                _ => {
                    let before_kmh =
                        if way == Direction::Up { line_kmh - self.speed_kmh } else { self.speed_kmh - line_kmh };
                    // Away from the line the speed read lags on its side: only what is out of its reach is early.
                    let away = (way == Direction::Up) == (self.accel_mps2 < 0.0) && self.accel_mps2 != 0.0;
                    let reach_kmh = if away { self.pace.lag_kmh } else { 1.0 };
                    if closing == Some(way) && self.gearbox.target() == gear && before_kmh >= reach_kmh {
                        self.stage = Stage::Over(Ended::Early);
                        return stand;
                    }
                    self.go(gear, start_kmh, Stage::Ramping(0.0))
                }
            },
            Task::Swing { gear, wait_kmh, low_kmh, high_kmh } => match self.stage {
                Stage::Swinging(leg, there_ms) => self.swing(leg, there_ms, low_kmh, high_kmh),
                _ => self.go(gear, wait_kmh, Stage::Swinging(0, 0.0)),
            },
            Task::Engage { raise_kmh } => {
                let goal_kmh = raise_kmh.max(self.speed_kmh);
                if let Stage::Raising(there_ms) = self.stage
                    && self.speed_kmh >= goal_kmh
                {
                    self.stage = self.after(there_ms, self.pace.reply_ms, Stage::Raising, Stage::Over(Ended::Done));
                }
                (goal_kmh, self.pace.fast_kmh_per_s)
            }
        }
    }

    /// The stage with one more tick in it, or the next one when its time is up.
    fn after(&self, so_far_ms: f64, ms: f64, stage: impl Fn(f64) -> Stage, next: Stage) -> Stage {
        if so_far_ms >= ms { next } else { stage(so_far_ms + self.pace.tick_ms) }
    }

    /// To a gear and a speed, and there until all is quiet.
    fn go(&mut self, wanted: u8, place_kmh: f64, next: Stage) -> (f64, f64) {
        let gear = self.gearbox.target();
        let least_kmh = self.standstill_kmh + CREEP_KMH;
        if self.now_ms - self.pace.from_ms >= self.pace.give_up_ms {
            self.stage = Stage::Over(Ended::NeverThere(gear));
        }
        let moved = self.now_ms - self.closed_ms < self.pace.breath_ms || self.gearbox.shifting();
        let goal_kmh = match gear.cmp(&wanted) {
            _ if moved && gear != wanted => self.speed_kmh,
            std::cmp::Ordering::Less => TOP_KMH,
            std::cmp::Ordering::Greater => least_kmh,
            std::cmp::Ordering::Equal => place_kmh,
        };
        let there = self.speed_kmh == goal_kmh && !moved;
        if there && wanted < self.lowest && gear == self.lowest {
            self.gearbox.shift_by_itself(wanted);
        }
        self.stage = match self.stage {
            Stage::Settling(ms) if there && gear == wanted => {
                self.after(ms, self.pace.settle_ms, Stage::Settling, next)
            }
            Stage::Over(ended) => Stage::Over(ended),
            // At an end of the road, and still not in the gear.
            Stage::Settling(ms) if there => {
                self.after(ms, self.pace.settle_ms, Stage::Settling, Stage::Over(Ended::NeverThere(gear)))
            }
            _ if there => Stage::Settling(0.0),
            _ => Stage::Going,
        };
        if self.stage == next {
            self.from_ms = Some(self.now_ms);
        }
        (goal_kmh, self.pace.fast_kmh_per_s)
    }

    fn ramp(&mut self, closing: Option<Direction>, end_kmh: f64, at_end_ms: f64) -> (f64, f64) {
        if closing.is_some() {
            self.stage = Stage::Over(Ended::Done);
        } else if self.speed_kmh == end_kmh {
            self.stage = self.after(at_end_ms, self.pace.reply_ms, Stage::Ramping, Stage::Over(Ended::NoCommand));
        }
        (end_kmh, self.pace.slow_kmh_per_s)
    }

    fn swing(&mut self, leg: u8, there_ms: f64, low_kmh: f64, high_kmh: f64) -> (f64, f64) {
        let goal_kmh = if leg.is_multiple_of(2) { high_kmh } else { low_kmh };
        if self.speed_kmh == goal_kmh {
            let next = if leg + 1 == LEGS { Stage::Over(Ended::Done) } else { Stage::Swinging(leg + 1, 0.0) };
            self.stage = self.after(there_ms, self.pace.settle_ms, |ms| Stage::Swinging(leg, ms), next);
        }
        (goal_kmh, self.pace.fast_kmh_per_s)
    }
}

impl Body for RollingRoad {
    fn restart(&mut self, start: &Start) {
        self.speed_kmh = f64::from(start.speed) / 10.0;
        self.gearbox.restart(start, self.speed_kmh);
        self.accel_mps2 = 0.0;
        self.now_ms = 0.0;
        self.contacts = Contacts::default();
        self.closed_ms = 0.0;
        self.from_ms = None;
        self.stage = Stage::Waiting;
    }

    fn run(&mut self, controls: &Controls, ms: f64) {
        let closing = self.closing(controls.contacts);
        let (goal_kmh, rate) = self.steer(closing);
        let view = View {
            speed_kmh: self.speed_kmh,
            engine_on: true,
            at_limiter: false,
            pedal: controls.torque_pedal_pct * 0.01,
            lever: controls.lever,
            contacts: Contacts {
                up: controls.contacts.up || controls.driver_taps.up,
                down: controls.contacts.down || controls.driver_taps.down,
            },
        };
        self.gearbox.step(&view, ms);
        let most = rate * ms / 1000.0;
        let change = (goal_kmh - self.speed_kmh).clamp(-most, most);
        // Exactly there, not nearly.
        self.speed_kmh = if (goal_kmh - self.speed_kmh).abs() <= most { goal_kmh } else { self.speed_kmh + change };
        self.accel_mps2 = change / 3.6 * 1000.0 / ms;
        self.now_ms += ms;
    }

    fn truth(&self, controls: &Controls) -> Truth {
        let turned = rpm_per_kmh(self.gearbox.course(0.0).ratio.abs(), self.wheel_radius_m) * self.speed_kmh;
        Truth {
            speed_kmh: self.speed_kmh,
            accel_mps2: self.accel_mps2,
            wheel_kmh: self.speed_kmh,
            engine_rpm: turned.max(self.idle_rpm),
            engine_on: true,
            load: controls.torque_pedal_pct * 0.01,
            gear: self.gearbox.gear(),
            target_gear: self.gearbox.target(),
            shifting: self.gearbox.shifting(),
            lever: controls.lever,
            range: controls.range,
            pedal_pct: controls.pedal_pct,
            brake_mps2: controls.brake_mps2,
            grade_pct: controls.grade_pct,
            driver_up: controls.driver_taps.up,
            driver_down: controls.driver_taps.down,
        }
    }

    fn shown_speed_kmh(&self, _: SpeedSource, _: &Controls) -> f64 {
        self.speed_kmh
    }

    fn is_over(&self) -> bool {
        matches!(self.stage, Stage::Over(_))
    }
}
