//! Recordings made by hand.

use crate::outcome::{Mark, Measure};
use crate::recording::{Delivered, Recording, Row, Truth};
use crate::rules::{Judge, find};
use crate::signal::{Announcement, Answer, Contacts, Content, Direction, Inputs, Lever, Range, Signal};
use crate::spec::Spec;
use std::path::Path;

/// A shipped spec.
pub fn spec(name: &str) -> Spec {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("specs").join(name);
    crate::spec::load(&path).unwrap_or_else(|errors| panic!("{errors}"))
}

/// Rules that measure how the box wakes, or how long ago that was: a box that wakes later has woken once more for them.
const WAKING: [&str; 3] = ["power-up quiet", "contacts open at rest", "every transition announced"];

/// A recording in the making: set what holds from now on, then let time run.
pub struct Made {
    pub spec: Spec,
    pub recording: Recording,
    pub lever: Lever,
    pub range: Range,
    pub ignition: bool,
    pub powered: bool,
    /// The box starts afresh in the next tick.
    pub restart: bool,
    /// Road speed; the speed read is the same cut down to a whole number.
    pub speed: f64,
    pub pedal: f64,
    /// Speed and pedal are answered every 100 ms, 20 ms after they were sampled.
    pub link: [bool; 2],
    pub contacts: Contacts,
    pub flag: Option<bool>,
    pub gear: u8,
    pub shifts_to: Option<u8>,
    /// Driver's taps held.
    pub taps: Contacts,
    pub button: Option<bool>,
    pub engine_rpm_read: Option<f64>,
    /// The engine speed read changes by a quarter from answer to answer.
    pub engine_lives: bool,
    pub gear_read: Option<f64>,
    pub steady: bool,
    /// Acceleration, m/s².
    pub accel: f64,
    say: Option<Announcement>,
    steady_ms: u32,
    taps_before: Contacts,
}

/// The box runs and nobody does anything: no contact is closed, nothing is said.
fn is_quiet(row: &Row) -> bool {
    let Row { inputs, truth, contacts, .. } = row;
    row.powered
        && !row.restarted
        && !(contacts.up || contacts.down || truth.driver_up || truth.driver_down)
        && !(inputs.tap_up || inputs.tap_down || inputs.tap_up_edges > 0 || inputs.tap_down_edges > 0)
        && row.announcement.is_none()
}

/// What `Row::still` says, by all that two rows hold.
pub fn is_still(was: &Row, row: &Row) -> bool {
    is_quiet(was)
        && is_quiet(row)
        && row.inputs == Inputs { time_ms: row.inputs.time_ms, ..was.inputs }
        && (row.engaged, row.counted_gear) == (was.engaged, was.counted_gear)
}

/// Notes which rows stand still, where they have been changed by hand.
pub fn note_still(rows: &mut [Row]) {
    for at in 1..rows.len() {
        rows[at].still = is_still(&rows[at - 1], &rows[at]);
    }
}

impl Made {
    /// Starts in D at 20 km/h and 20 % pedal, second gear, high range.
    pub fn of(spec: Spec) -> Self {
        Self {
            recording: Recording { tick_ms: spec.facts.tick.ms(), ..Recording::default() },
            spec,
            lever: Lever::D,
            range: Range::High,
            ignition: true,
            powered: true,
            restart: true,
            speed: 20.0,
            pedal: 20.0,
            link: [true; 2],
            contacts: Contacts::default(),
            flag: None,
            gear: 2,
            shifts_to: None,
            taps: Contacts::default(),
            button: None,
            engine_rpm_read: None,
            engine_lives: false,
            gear_read: None,
            steady: false,
            accel: 0.0,
            say: None,
            steady_ms: 0,
            taps_before: Contacts::default(),
        }
    }

    pub fn van() -> Self {
        Self::of(spec("van.toml"))
    }

    /// The van's box, engaged: into the gate at 500 ms, announced at 800 ms, now it is 1000 ms.
    pub fn engaged() -> Self {
        let mut made = Self::van();
        made.take_over();
        made
    }

    /// 500 ms in D, into the gate, announced 300 ms later, and 200 ms more.
    pub fn take_over(&mut self) {
        self.run(500);
        self.lever = Lever::Gate;
        self.run(300);
        self.say(Announcement::Engaged);
        self.run(200);
    }

    /// Announced in the next tick.
    pub fn say(&mut self, what: Announcement) {
        self.say = Some(what);
    }

    /// The time of the next tick, ms.
    pub fn now(&self) -> u32 {
        self.recording.rows.len() as u32 * self.recording.tick_ms
    }

    /// Until the tick of this time, exclusive.
    pub fn until(&mut self, ms: u32) {
        assert!(ms >= self.now());
        self.run(ms - self.now());
    }

    /// Closes a contact for a time.
    pub fn pulse(&mut self, direction: Direction, ms: u32) {
        self.contacts = Contacts { up: direction == Direction::Up, down: direction == Direction::Down };
        self.run(ms);
        self.contacts = Contacts::default();
    }

    /// A pulse of 100 ms, upon which the gearbox shifts from 100 to 700 ms after the closing.
    pub fn shift(&mut self, direction: Direction) {
        self.pulse(direction, 100);
        let to = if direction == Direction::Up { self.gear + 1 } else { self.gear - 1 };
        self.shifts_to = Some(to);
        self.run(600);
        (self.gear, self.shifts_to) = (to, None);
    }

    /// Lets time run.
    pub fn run(&mut self, ms: u32) {
        let tick = self.recording.tick_ms;
        assert_eq!(ms % tick, 0);
        for _ in 0..ms / tick {
            self.tick();
        }
    }

    fn tick(&mut self) {
        let t_ms = self.now();
        let answers_from = self.recording.delivered.len() as u32;
        if self.powered && t_ms.is_multiple_of(100) {
            let odd = t_ms.is_multiple_of(200);
            let values = [
                (Signal::Speed, self.link[0].then_some(self.speed.floor())),
                (Signal::Pedal, self.link[1].then_some(self.pedal)),
                (
                    Signal::EngineSpeed,
                    self.engine_rpm_read.map(|rpm| rpm + if odd && self.engine_lives { 0.25 } else { 0.0 }),
                ),
                (Signal::Gear, self.gear_read),
            ];
            for (signal, value) in values.into_iter().filter_map(|(signal, v)| Some((signal, v?))) {
                let answer = Answer { signal, content: Content::Value(value), arrival_ms: u64::from(t_ms) };
                let sampled_ms = t_ms.saturating_sub(20);
                self.recording.delivered.push(Delivered { answer, sampled_ms, arrived_ms: t_ms });
            }
        }
        let edge = |held: bool, before: bool| u8::from(held && !before);
        let inputs = Inputs {
            time_ms: u64::from(t_ms),
            lever: self.lever,
            range: self.spec.facts.signals.range.then_some(self.range),
            ignition: self.ignition,
            supply_mv: if self.powered { 12_600 } else { 3_000 },
            button: self.button,
            tap_up: self.taps.up,
            tap_down: self.taps.down,
            tap_up_edges: edge(self.taps.up, self.taps_before.up),
            tap_down_edges: edge(self.taps.down, self.taps_before.down),
        };
        self.taps_before = self.taps;
        let truth = Truth {
            speed_kmh: self.speed,
            accel_mps2: self.accel,
            wheel_kmh: self.speed,
            engine_rpm: 1500.0,
            engine_on: true,
            load: 0.3,
            gear: self.gear,
            target_gear: self.shifts_to.unwrap_or(self.gear),
            shifting: self.shifts_to.is_some(),
            lever: self.lever,
            range: self.range,
            pedal_pct: self.pedal,
            brake_mps2: 0.0,
            grade_pct: 0.0,
            driver_up: self.taps.up,
            driver_down: self.taps.down,
        };
        let mut row = Row {
            t_ms,
            powered: self.powered,
            restarted: std::mem::take(&mut self.restart),
            still: false,
            inputs,
            answers_from,
            answers: (self.recording.delivered.len() as u32 - answers_from) as u8,
            steady_ms: if self.steady { self.steady_ms } else { 0 },
            truth,
            contacts: self.contacts,
            announcement: self.say.take(),
            engaged: self.flag,
            counted_gear: None,
        };
        row.still = self.recording.rows.last().is_some_and(|was| is_still(was, &row));
        self.recording.rows.push(row);
        self.steady_ms = if self.steady { self.steady_ms + self.recording.tick_ms } else { 0 };
    }

    /// The recording, also where a test has changed rows by hand.
    pub fn recorded(&self) -> Recording {
        let mut recording = self.recording.clone();
        note_still(&mut recording.rows);
        recording
    }

    /// What a rule measures; the same however late in a drive the box wakes.
    #[track_caller]
    pub fn measure(&self, rule: &str) -> Measure {
        let at = find(rule).unwrap_or_else(|| panic!("no rule {rule}"));
        let mut measures = Vec::new();
        let mut judge = Judge::default();
        judge.judge(&self.spec, &self.recorded(), &mut measures);
        let now = measures[at];
        if WAKING.contains(&rule) {
            return now;
        }
        judge.judge(&self.spec, &self.later(), &mut measures);
        let sooner = |mark: Option<Mark>| mark.map(|m| Mark { at_ms: m.at_ms.saturating_sub(self.asleep_ms()), ..m });
        let (seen, truth) = (sooner(measures[at].seen), sooner(measures[at].truth));
        assert_eq!((seen, truth), (now.seen, now.truth), "{rule}, in a drive in which the box wakes later");
        now
    }

    /// For how long the box sleeps in `later`: a time that no limit is, ms.
    fn asleep_ms(&self) -> u32 {
        743 * self.recording.tick_ms
    }

    /// The same after a time without supply.
    fn later(&self) -> Recording {
        let (by_ms, mut later) = (self.asleep_ms(), self.recorded());
        for row in &mut later.rows {
            row.t_ms += by_ms;
            row.inputs.time_ms += u64::from(by_ms);
        }
        for delivered in &mut later.delivered {
            delivered.answer.arrival_ms += u64::from(by_ms);
            delivered.sampled_ms += by_ms;
            delivered.arrived_ms += by_ms;
        }
        for (at_ms, _) in &mut later.requests {
            *at_ms += by_ms;
        }
        let Some(&first) = later.rows.first() else { return later };
        let asleep = |t_ms: u32| Row {
            t_ms,
            powered: false,
            restarted: false,
            answers: 0,
            steady_ms: 0,
            announcement: None,
            engaged: None,
            counted_gear: None,
            contacts: Contacts::default(),
            inputs: Inputs { time_ms: u64::from(t_ms), supply_mv: 3000, ..first.inputs },
            ..first
        };
        let before = (0..by_ms).step_by(self.recording.tick_ms as usize).map(asleep);
        later.rows.splice(0..0, before);
        later
    }

    /// The smallest margin on what was seen.
    #[track_caller]
    pub fn seen(&self, rule: &str, expected: f64) -> Mark {
        let mark = self.measure(rule).seen.unwrap_or_else(|| panic!("{rule} has no margin"));
        assert!((mark.margin - expected).abs() < 1e-9, "{rule}: {} where {expected} is right", mark.margin);
        mark
    }

    /// The smallest margin and its tolerance on what was true.
    #[track_caller]
    pub fn truth(&self, rule: &str, margin: f64, tolerance: f64) -> Mark {
        let mark = self.measure(rule).truth.unwrap_or_else(|| panic!("{rule} has no margin in truth"));
        let near = (mark.margin - margin).abs() < 1e-9 && (mark.tolerance - tolerance).abs() < 1e-9;
        assert!(near, "{rule}: {} within {} where {margin} within {tolerance} is right", mark.margin, mark.tolerance);
        mark
    }

    /// The rule wasn't reached, or nothing in it was measured.
    #[track_caller]
    pub fn nothing(&self, rule: &str) {
        let measure = self.measure(rule);
        assert!(measure.seen.is_none() && measure.truth.is_none(), "{rule}: {measure:?}");
        assert_eq!(measure.reached, [0; 6], "{rule}");
    }

    /// The names of all broken rules, by either view; but for the one that wants each transition announced, since a
    /// recording made by hand says only what its test lets it say.
    pub fn broken(&self) -> Vec<&'static str> {
        let mut measures = Vec::new();
        Judge::default().judge(&self.spec, &self.recorded(), &mut measures);
        let broken = |m: &Measure| m.seen.is_some_and(|m| m.broken()) || m.truth.is_some_and(|m| m.broken());
        let names = super::RULES.iter().zip(&measures).filter(|(_, m)| broken(m)).map(|(rule, _)| rule.card.name);
        names.filter(|name| *name != "every transition announced").collect()
    }
}
