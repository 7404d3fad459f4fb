//! One run: a drive, a controller and a vehicle, tick by tick, into a recording.
//!
//! Order in a tick: events; supply and reset; the link delivers; inputs are sampled; the controller; contacts; the
//! vehicle runs to the next tick. Once warm, nothing is allocated.

mod contacts;
mod events;
mod wires;

use crate::controller::{Port, alone};
use crate::drive::{Demand, Drive, Step};
use crate::driver::Driver;
use crate::link::{Link, Shown};
use crate::recording::{Recording, Row, Silence};
use crate::signal::{Answer, Contacts, Inputs, Lever, Output, Range, Request};
use crate::spec::Spec;
use crate::spec::facts::{Answers, TakeOver, TapWiring};
use crate::vehicle::{Body, Controls, Vehicle};
use contacts::Pulser;
use std::future::poll_fn;
use wires::{NO_CONTROLS, NO_INPUTS};

/// Below this supply the box is off (ISO 16750-2 supply dips; the number from memory).
pub const LEAST_SUPPLY_MV: u32 = 6000;
/// Supply when nothing dips.
const USUAL_SUPPLY_MV: u32 = 12_600;
/// The gearbox takes a lever position once it has stood this long, ms; the box is wired to the lever itself (common
/// practice, no source).
const GEARBOX_LEVER_MS: u32 = 30;

/// A step of the vehicle in a tick.
#[derive(Debug, Clone, Copy)]
struct Stride {
    /// Its beginning and its length, ms into the tick.
    from_ms: f64,
    ms: f64,
    /// What is asked for within it is asked for before this, ms into the tick.
    until_ms: u32,
}

#[derive(Debug, Clone, Copy, Default)]
struct Pending {
    due_ms: Option<u32>,
    fired_ms: Option<u32>,
}

/// The closed loop of one spec; runs one drive after the other, with the vehicle or with what takes its place.
pub struct ClosedLoop<B = Vehicle> {
    tick_ms: u32,
    /// The vehicle's steps in a tick.
    strides: Vec<Stride>,
    wiring: TapWiring,
    button_box: bool,
    range_wired: bool,
    tells_requests: bool,
    answers_with: Answers,
    speed_source: crate::spec::link::SpeedSource,
    vehicle: B,
    link: Link,
    driver: Driver,
    pending: Vec<Pending>,
    /// No event comes before this.
    next_event_ms: u32,
    /// After this, until the next event or step, wires and controls stand, but for clock and pedal.
    busy_until_ms: u32,
    inputs: Inputs,
    controls: Controls,
    recording: Recording,
    answers: Vec<Answer>,
    // State of the run.
    lever: Lever,
    lever_from_ms: u32,
    rocking: Option<events::Rocking>,
    gearbox_lever: Lever,
    range: Range,
    ignition: bool,
    supply_mv: u32,
    supply_until_ms: u32,
    tap_until_ms: [u32; 2],
    tap_edges: [u8; 2],
    button_until_ms: u32,
    lock_until_ms: u32,
    spin_until_ms: u32,
    spin_kmh: f64,
    reset_asked: bool,
    /// The gearbox takes the box's taps the other way round.
    swapped: bool,
    /// What the port shows of the road speed: 1 where it is right.
    speed_share: f64,
    contacts: Contacts,
    pulser: Pulser,
    requests: Vec<Request>,
}

impl ClosedLoop {
    /// The loop of a spec at a vehicle step.
    #[must_use]
    pub fn new(spec: &Spec, step_ms: f64) -> Self {
        Self::around(spec, step_ms, |step_ms| Vehicle::new(spec, &crate::drive::Start::default(), step_ms))
    }
}

impl<B: Body> ClosedLoop<B> {
    /// The loop of a spec around what `body` makes for the step that is taken.
    pub fn around(spec: &Spec, step_ms: f64, body: impl FnOnce(f64) -> B) -> Self {
        let tick_ms = spec.facts.tick.ms().max(1);
        // The vehicle's step must go into the tick: the longest that does, and isn't longer than asked for.
        let steps = (f64::from(tick_ms) / step_ms).ceil().max(1.0) as u32;
        Self {
            tick_ms,
            strides: strides(tick_ms, steps),
            wiring: spec.facts.tap_wiring,
            button_box: spec.facts.take_over == TakeOver::Button,
            range_wired: spec.facts.signals.range,
            tells_requests: spec.facts.sends_requests,
            answers_with: spec.facts.answers,
            speed_source: spec.link.speed_source,
            vehicle: body(f64::from(tick_ms) / f64::from(steps)),
            link: Link::new(spec),
            driver: Driver::new(tick_ms),
            pending: Vec::new(),
            next_event_ms: 0,
            busy_until_ms: 0,
            inputs: NO_INPUTS,
            controls: NO_CONTROLS,
            recording: Recording::default(),
            answers: Vec::with_capacity(32),
            lever: Lever::P,
            lever_from_ms: 0,
            rocking: None,
            gearbox_lever: Lever::P,
            range: Range::High,
            ignition: true,
            supply_mv: USUAL_SUPPLY_MV,
            supply_until_ms: 0,
            tap_until_ms: [0; 2],
            tap_edges: [0; 2],
            button_until_ms: 0,
            lock_until_ms: 0,
            spin_until_ms: 0,
            spin_kmh: 0.0,
            reset_asked: false,
            swapped: false,
            speed_share: 1.0,
            contacts: Contacts::OPEN,
            pulser: Pulser::default(),
            requests: Vec::new(),
        }
    }

    /// What is driven.
    pub fn body(&mut self) -> &mut B {
        &mut self.vehicle
    }

    /// The recording of the last run.
    #[must_use]
    pub fn recording(&self) -> &Recording {
        &self.recording
    }

    /// When each event of the last drive came, ms; `None` for one that never did.
    pub fn fired(&self) -> impl Iterator<Item = Option<u32>> + '_ {
        self.pending.iter().map(|p| p.fired_ms)
    }

    fn restart(&mut self, drive: &Drive) {
        let start = &drive.start;
        self.vehicle.restart(start);
        self.link.restart(start.link_key, start.poll_phase_ms);
        self.driver.restart(f64::from(start.speed) / 10.0);
        self.pending.clear();
        self.pending.resize(drive.events.len(), Pending::default());
        self.next_event_ms = 0;
        self.busy_until_ms = 0;
        self.recording.clear();
        self.recording.tick_ms = self.tick_ms;
        self.recording.grip_pct = start.grip;
        self.recording.rows.reserve((drive.length_ms() / self.tick_ms) as usize + 2);
        self.lever = start.lever;
        self.lever_from_ms = 0;
        self.rocking = None;
        self.gearbox_lever = start.lever;
        self.range = start.range;
        self.ignition = true;
        self.supply_mv = USUAL_SUPPLY_MV;
        self.supply_until_ms = 0;
        self.tap_until_ms = [0; 2];
        self.tap_edges = [0; 2];
        self.button_until_ms = 0;
        self.lock_until_ms = 0;
        self.spin_until_ms = 0;
        self.spin_kmh = 0.0;
        self.reset_asked = true;
        self.swapped = false;
        self.speed_share = 1.0;
        self.contacts = Contacts::OPEN;
        self.pulser = Pulser::default();
    }

    /// Runs a drive; the recording tells all, also when the controller fell silent.
    pub fn run(&mut self, drive: &Drive, port: &mut dyn Port) -> &Recording {
        alone(self.run_in_turn(drive, port));
        &self.recording
    }

    /// The same beside other drives, all of which take turns with one process at each tick.
    pub async fn run_in_turn(&mut self, drive: &Drive, port: &mut dyn Port) {
        self.restart(drive);
        let mut now_ms = 0;
        let mut powered = false;
        let mut speed_kmh = f64::from(drive.start.speed) / 10.0;
        let mut told = (None, None);
        let (mut step_at, mut step_from_ms, mut steady_from_ms) = (0, 0, 0);
        if !drive.steps.is_empty() {
            self.driver.begin_step();
        }
        while let Some(step) = drive.steps.get(step_at).filter(|_| !self.vehicle.is_over()) {
            self.rock(now_ms);
            self.events(drive, now_ms);
            let clock_ms = drive.start.clock_ms;
            let into_ms = now_ms - step_from_ms;
            let pedals = self.driver.pedals(step, into_ms, speed_kmh);
            self.inputs.time_ms = clock_ms + u64::from(now_ms);
            (self.controls.pedal_pct, self.controls.torque_pedal_pct) = (pedals.shown_pct, pedals.torque_pct);
            let mut restarted = false;
            if now_ms <= self.busy_until_ms {
                if now_ms >= self.lever_from_ms + GEARBOX_LEVER_MS {
                    self.gearbox_lever = self.lever;
                }
                if now_ms >= self.supply_until_ms {
                    self.supply_mv = USUAL_SUPPLY_MV;
                }
                let powered_before = std::mem::replace(&mut powered, self.supply_mv >= LEAST_SUPPLY_MV);
                restarted = powered && (!powered_before || self.reset_asked);
                self.reset_asked = false;
                if restarted {
                    self.busy_to(now_ms);
                    self.contacts = Contacts::OPEN;
                    self.pulser = Pulser::default();
                    if let Err(why) = poll_fn(|_| port.poll_reset()).await {
                        self.recording.silence = Some(why);
                        break;
                    }
                }
                self.controls = self.controls_now(step, pedals, now_ms);
                self.inputs = self.inputs_now(self.inputs.time_ms, now_ms);
            }

            let answers_from = u32::try_from(self.recording.delivered.len()).unwrap_or(u32::MAX);
            let mut output = Output::OPEN;
            let mut answers = 0;
            if powered {
                answers = self.link.deliver(now_ms, &mut self.recording.delivered);
                self.answers.clear();
                if answers > 0 {
                    self.answers.extend(self.recording.delivered[answers_from as usize..].iter().map(|d| d.answer));
                }
                match poll_fn(|_| port.poll_step(&self.inputs, &self.answers)).await {
                    Ok(given) => output = given,
                    Err(why) => {
                        self.recording.silence = Some(why);
                        break;
                    }
                }
                if self.tells_requests
                    && let Err(why) = self.note_requests(port, now_ms)
                {
                    self.recording.silence = Some(why);
                    break;
                }
            } else {
                self.link.drop_under_way(now_ms);
            }
            let contacts = if powered { self.act(output.action, now_ms) } else { Contacts::OPEN };
            if contacts != Contacts::OPEN || output.announcement.is_some() {
                // They act on the wires of the next tick, and from the one after that on no more.
                self.busy_to(now_ms + self.tick_ms);
            }
            let tells = (output.engaged, output.counted_gear);
            let still = powered && now_ms > self.busy_until_ms && tells == told;
            told = tells;
            if contacts != self.contacts {
                self.contacts = contacts;
                self.controls.contacts = self.tapped(contacts);
            }
            let truth = self.vehicle.truth(&self.controls);
            let steady_ms = match step.demand {
                Demand::PedalTo(_) => 0,
                Demand::InTurn(_, _, every_ms) => (now_ms - steady_from_ms).min(into_ms % u32::from(every_ms.max(1))),
                _ => now_ms - steady_from_ms,
            };
            self.recording.rows.push(Row {
                t_ms: now_ms,
                powered,
                restarted,
                still,
                inputs: self.inputs,
                answers_from,
                answers,
                steady_ms,
                truth,
                contacts,
                announcement: output.announcement,
                engaged: output.engaged,
                counted_gear: output.counted_gear,
            });
            speed_kmh = truth.speed_kmh;

            self.drive_on(now_ms, clock_ms);
            now_ms += self.tick_ms;
            while drive.steps.get(step_at).is_some_and(|s| now_ms - step_from_ms >= s.ms) {
                let ended = drive.steps[step_at];
                self.busy_to(now_ms);
                step_from_ms += ended.ms;
                step_at += 1;
                if let Some(next) = drive.steps.get(step_at) {
                    self.driver.begin_step();
                    if !same_demand(&ended, next) {
                        steady_from_ms = now_ms;
                    }
                }
            }
        }
    }

    /// Notes what the box has asked for on the diagnostic port.
    fn note_requests(&mut self, port: &mut dyn Port, now_ms: u32) -> Result<(), Silence> {
        self.requests.clear();
        port.requests(&mut self.requests)?;
        self.recording.requests.extend(self.requests.iter().map(|&request| (now_ms, request)));
        Ok(())
    }

    /// The vehicle runs to the next tick; the link asks on the way.
    fn drive_on(&mut self, now_ms: u32, clock_ms: u64) {
        for at in 0..self.strides.len() {
            let Stride { from_ms, ms, until_ms } = self.strides[at];
            let until_ms = now_ms + until_ms;
            if self.link.next_request(until_ms).is_none() {
                self.vehicle.run(&self.controls, ms);
                continue;
            }
            // Asked within a step: what stands at that instant, by a straight line.
            let before = self.shown(&self.controls);
            self.vehicle.run(&self.controls, ms);
            let after = self.shown(&self.controls);
            while let Some(due_ms) = self.link.next_request(until_ms) {
                let part = (f64::from(due_ms.saturating_sub(now_ms)) - from_ms) / ms;
                self.link.request(between(before, after, part.clamp(0.0, 1.0)), clock_ms);
            }
        }
    }

    fn shown(&self, controls: &Controls) -> Shown {
        let (engine_rpm, gear) = self.vehicle.engine_rpm_and_gear(controls);
        Shown {
            speed_kmh: self.vehicle.shown_speed_kmh(self.speed_source, controls) * self.speed_share,
            pedal_pct: controls.pedal_pct,
            engine_rpm,
            gear,
        }
    }
}

/// The steps that a tick is driven in.
fn strides(tick_ms: u32, steps: u32) -> Vec<Stride> {
    let end_ms = |step: u32| f64::from(tick_ms) * f64::from(step) / f64::from(steps);
    (0..steps)
        .map(|step| {
            let (from_ms, to_ms) = (end_ms(step), end_ms(step + 1));
            Stride { from_ms, ms: to_ms - from_ms, until_ms: (to_ms + 0.5) as u32 }
        })
        .collect()
}

/// What stands between two instants; the gear is that of the first.
fn between(before: Shown, after: Shown, part: f64) -> Shown {
    Shown {
        speed_kmh: before.speed_kmh + (after.speed_kmh - before.speed_kmh) * part,
        engine_rpm: before.engine_rpm + (after.engine_rpm - before.engine_rpm) * part,
        ..before
    }
}

const REST: Step = Step { ms: 0, demand: Demand::Pedal(0), brake: 0, grade: 0 };

fn same_demand(a: &Step, b: &Step) -> bool {
    a.demand == b.demand && a.brake == b.brake && a.grade == b.grade
}
