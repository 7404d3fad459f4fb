//! A maker's own crate: a small shift controller, as its firmware would be written, and tests that drive it.
//!
//! It looks up one table, made at its start: for each gear and each half percent of pedal the speeds at which to shift.

use sprag::controller::Controller;
use sprag::signal::{Action, Announcement, Answer, Contacts, Content, Inputs, Lever, Output, Range, Signal};
use sprag::spec::Spec;

/// The lever counts where it has stood for this long, ms.
const STEADY_MS: u64 = 30;
/// It engages no more often than this in ten seconds.
const MOST_ENGAGEMENTS: usize = 5;
/// Everything must be right for this long before it engages, ms.
const RIGHT_MS: u64 = 250;
/// It engages this long after the lever's movement or not at all, ms.
const WINDOW_MS: u64 = 1500;
/// The range must have been high for this long again, ms.
const RANGE_MS: u64 = 1000;
/// It commands on data up to this age, ms.
const FRESH_MS: u64 = 450;
/// After this age data are lost, ms.
const LOST_MS: u64 = 1000;
/// A contact is closed for this long, ms.
const PULSE_MS: u64 = 120;
/// From command to command, ms.
const NEXT_MS: u64 = 1200;
/// From command to opposite command, ms.
const TURN_MS: u64 = 2100;
/// After a leap of the speed it waits this long, ms.
const DOUBT_MS: u64 = 1000;
/// Wheels may stand still on a moving vehicle: this long after the doubt a standstill is believed, ms.
const LOCKED_MS: u64 = 3000;
/// Slower than this it leaves all to the gearbox, km/h.
const CRAWL_KMH: f64 = 3.0;

/// A value read, and when it arrived, in ms since power-up.
#[derive(Debug, Clone, Copy, Default)]
struct Reading(f64, u64);

/// Speeds at which a gear is left, km/h.
#[derive(Debug, Clone, Copy)]
struct Leave {
    up: f64,
    down: f64,
}

/// The controller.
#[derive(Debug)]
pub struct TableBox {
    /// By gear from 1 on, then by pedal in half percents.
    table: Vec<Vec<Leave>>,
    rpm_per_kmh: Vec<f64>,
    redline_rpm: f64,
    ceiling_kmh: f64,
    lowest: usize,
    tick_ms: u64,
    now: Now,
}

/// What it remembers; all times in ms since power-up.
#[derive(Debug, Clone, Copy, Default)]
struct Now {
    ms: u64,
    speed: Option<Reading>,
    pedal: Option<Reading>,
    /// The last reading was below the one before: the vehicle brakes, and an upshift would land lower than it looks.
    falling: bool,
    /// The speed has leapt.
    doubt_until: u64,
    lever_was_gate: bool,
    lever_since: u64,
    in_gate: bool,
    /// The lever came into the gate from elsewhere and the box hasn't used that yet.
    handed_over: Option<u64>,
    wrong_at: u64,
    engaged: bool,
    /// When it last engaged, the newest first.
    engagements: [Option<u64>; MOST_ENGAGEMENTS],
    gear: usize,
    up_at: Option<u64>,
    down_at: Option<u64>,
    hold_until: u64,
    /// When the range will have been high for long enough again.
    range_back_at: Option<u64>,
}

impl TableBox {
    /// The box for the map and the numbers of a spec.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let map = &spec.map;
        // Lines rise with the pedal: each half percent takes the side on which it shifts later. A whole percent would be
        // too coarse: where a line rises by more than 1 km/h in one, it would be a whole count late.
        let leave = |gear: u8, half: u8| Leave {
            up: map.up_kmh(gear, f64::from(half + 1) / 2.0).unwrap_or(f64::INFINITY),
            down: map.down_kmh(gear, f64::from(half) / 2.0).unwrap_or(f64::NEG_INFINITY),
        };
        Self {
            table: (1..=map.top_gear()).map(|gear| (0..=200).map(|half| leave(gear, half)).collect()).collect(),
            rpm_per_kmh: (1..=map.top_gear()).map(|gear| spec.rpm_per_kmh(gear)).collect(),
            redline_rpm: spec.vehicle.engine.redline.get(),
            ceiling_kmh: spec.limits.engagement_speed_ceiling.0,
            lowest: usize::from(spec.facts.lowest_gear),
            tick_ms: u64::from(spec.facts.tick.ms()),
            now: Now::default(),
        }
    }

    /// Takes in what arrived; anything that is no possible value is as good as no answer.
    fn read(&mut self, clock_ms: u64, answers: &[Answer]) {
        let now = &mut self.now;
        for answer in answers {
            let at = now.ms.saturating_sub(clock_ms.wrapping_sub(answer.arrival_ms));
            match (answer.signal, answer.content) {
                (Signal::Speed, Content::Value(kmh)) if (0.0..=255.0).contains(&kmh) => {
                    if let Some(Reading(before, was)) = now.speed {
                        let most = if kmh < before { 0.040 } else { 0.025 } * ms(at.saturating_sub(was));
                        if (kmh - before).abs() > most + 2.0 {
                            now.doubt_until = at + DOUBT_MS;
                        }
                        // An answer that comes twice says nothing of where the speed goes.
                        if kmh != before || at.saturating_sub(was) > 50 {
                            now.falling = kmh < before;
                        }
                    }
                    now.speed = Some(Reading(kmh, at));
                }
                (Signal::Pedal, Content::Value(pct)) if (0.0..=100.0).contains(&pct) => {
                    now.pedal = Some(Reading(pct, at));
                }
                _ => {}
            }
        }
    }

    /// The lever without its bounce; a steady movement into the gate hands over, one out of it takes back.
    fn watch_lever(&mut self, gate: bool, first: bool) {
        let now = &mut self.now;
        if first {
            (now.lever_was_gate, now.in_gate) = (gate, gate);
        }
        if gate != now.lever_was_gate {
            (now.lever_was_gate, now.lever_since) = (gate, now.ms);
        }
        if gate != now.in_gate && now.ms - now.lever_since >= STEADY_MS {
            now.in_gate = gate;
            now.handed_over = gate.then_some(now.lever_since);
            if let (true, Some(Reading(kmh, _))) = (gate, now.speed) {
                let fits = |gear: &usize| self.rpm_per_kmh.get(gear - 1).is_some_and(|r| r * kmh <= self.redline_rpm);
                now.gear = (self.lowest..=self.table.len()).find(fits).unwrap_or(self.table.len());
            }
        }
    }

    /// -1, 0 or 1: the step that the table asks for in this tick.
    fn step_due(&self, kmh: f64, pct: f64) -> i8 {
        let now = &self.now;
        let leave = self.table.get(now.gear.wrapping_sub(1)).and_then(|row| row.get(halves(pct)));
        let Some(leave) = leave else { return 0 };
        let waited = |since: Option<u64>, ms: u64| since.is_none_or(|at| now.ms - at >= ms);
        if kmh >= leave.up && !now.falling && waited(now.up_at, NEXT_MS) && waited(now.down_at, TURN_MS) {
            1
        } else if kmh <= leave.down
            && now.gear > self.lowest
            && waited(now.down_at, NEXT_MS)
            && waited(now.up_at, TURN_MS)
        {
            -1
        } else {
            0
        }
    }
}

impl Controller for TableBox {
    fn reset(&mut self) {
        self.now = Now::default();
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let first = self.now.ms == 0;
        self.now.ms += self.tick_ms;
        self.read(inputs.time_ms, answers);
        self.watch_lever(inputs.lever == Lever::Gate, first);

        let ms = self.now.ms;
        let age = match (self.now.speed, self.now.pedal) {
            (Some(speed), Some(pedal)) => ms - speed.1.min(pedal.1),
            _ => u64::MAX,
        };
        let (kmh, pct) = (self.now.speed.map_or(0.0, |r| r.0), self.now.pedal.map_or(0.0, |r| r.0));
        let tapped = inputs.tap_up || inputs.tap_down || inputs.tap_up_edges > 0 || inputs.tap_down_edges > 0;
        let fault = !inputs.ignition || inputs.range != Some(Range::High) || age > LOST_MS;
        let now = &mut self.now;
        let was_engaged = now.engaged;
        let mut said = None;
        if now.engaged && (fault || tapped || !now.in_gate) {
            now.engaged = false;
            now.handed_over = None;
            said = Some(if fault { Announcement::Fault } else { Announcement::Disengaged });
        }
        if inputs.range != Some(Range::High) {
            now.range_back_at = Some(ms + RANGE_MS);
        }
        if tapped {
            // The tap may have moved the gear: only a new hand-over tells which one it is.
            now.handed_over = None;
        }
        let right = now.in_gate
            && now.lever_was_gate
            && !fault
            && !tapped
            && now.range_back_at.is_none_or(|at| ms >= at)
            && age <= FRESH_MS
            && kmh <= self.ceiling_kmh;
        if !right {
            now.wrong_at = ms;
        }
        let in_time = now.handed_over.is_some_and(|at| ms - at <= WINDOW_MS);
        let fidgets = now.engagements.last().copied().flatten().is_some_and(|at| ms - at < 10_000);
        if !was_engaged && in_time && !fidgets && ms - now.wrong_at >= RIGHT_MS {
            now.engagements.rotate_right(1);
            now.engagements[0] = Some(ms);
            (now.engaged, now.handed_over, said) = (true, None, Some(Announcement::Engaged));
            now.gear = now.gear.max(self.lowest);
            now.hold_until = ms + 500;
        }
        // At a standstill the gearbox has gone down by itself.
        if kmh < CRAWL_KMH && age <= FRESH_MS && ms >= now.doubt_until + LOCKED_MS {
            now.gear = now.gear.min(self.lowest);
        }

        let ready = ms >= now.hold_until.max(now.doubt_until) && age <= FRESH_MS && kmh >= CRAWL_KMH;
        if now.engaged && now.lever_was_gate && ready {
            match self.step_due(kmh, pct) {
                1 => (self.now.up_at, self.now.gear) = (Some(ms), self.now.gear + 1),
                -1 => (self.now.down_at, self.now.gear) = (Some(ms), self.now.gear - 1),
                _ => {}
            }
        }
        let now = &self.now;
        let closed = |since: Option<u64>| now.engaged && since.is_some_and(|at| ms - at < PULSE_MS);
        Output {
            action: Action::Contacts(Contacts { up: closed(now.up_at), down: closed(now.down_at) }),
            announcement: said,
            engaged: Some(now.engaged),
            counted_gear: None,
        }
    }
}

/// Milliseconds as a number.
#[expect(clippy::cast_precision_loss, reason = "times of one drive are small")]
fn ms(time: u64) -> f64 {
    time as f64
}

/// The half percents of a pedal position, 0 to 200.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within 0 to 100 when it was read")]
fn halves(pct: f64) -> usize {
    (pct * 2.0) as usize
}
