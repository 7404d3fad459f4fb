//! A box as a state chart: out, armed, engaged. It knows the hello only, looks the map up by its own interpolation, and
//! shows nothing unless told to.

use sprag::controller::Controller;
use sprag::controller::hello::Hello;
use sprag::signal::{Action, Announcement, Answer, Contacts, Content, Direction, Inputs, Lever, Output, Range, Signal};
use sprag::spec::vehicle::EntryGear;

/// What the makers of such boxes choose for themselves, ms.
#[derive(Debug, Clone, Copy)]
pub struct Taste {
    pub shows: bool,
    pub waits_ms: u64,
    pub lost_ms: u64,
    pub fresh_ms: u64,
    pub dwell_ms: u64,
    pub next_ms: u64,
    pub pulse_ms: u64,
    /// Wrong: a pulse is finished whatever the lever does.
    pub finishes_pulses: bool,
    /// Wrong: only the pedal's age is looked at.
    pub forgets_speed_age: bool,
}

/// A cautious box that shows nothing.
pub const QUIET: Taste = Taste {
    shows: false,
    waits_ms: 300,
    lost_ms: 900,
    fresh_ms: 400,
    dwell_ms: 2200,
    next_ms: 1300,
    pulse_ms: 120,
    finishes_pulses: false,
    forgets_speed_age: false,
};

/// A box that engages at once, lets go early and turns late.
pub const EAGER: Taste =
    Taste { shows: true, waits_ms: 200, lost_ms: 600, dwell_ms: 3000, next_ms: 1100, pulse_ms: 80, ..QUIET };

#[derive(Debug, Clone, Copy, PartialEq)]
enum Chart {
    Out,
    Armed { right_since: Option<u64> },
    Engaged,
}

pub struct ChartBox {
    hello: Hello,
    taste: Taste,
    chart: Chart,
    now: u64,
    edge_at: u64,
    /// The last engagements.
    engaged_at: Vec<u64>,
    out_since: Option<u64>,
    first_tick: bool,
    speed: Option<(f64, u64)>,
    pedal: Option<(f64, u64)>,
    falling: bool,
    wild_until: u64,
    still_since: Option<u64>,
    false_still: bool,
    gear: u8,
    pulse: Option<(Direction, u64)>,
    last: Option<(Direction, u64)>,
    /// When the range was last seen other than high.
    low_at: Option<u64>,
}

impl ChartBox {
    pub fn new(hello: Hello, taste: Taste) -> Self {
        Self {
            hello,
            taste,
            chart: Chart::Out,
            now: 0,
            edge_at: 0,
            engaged_at: Vec::new(),
            out_since: None,
            first_tick: true,
            speed: None,
            pedal: None,
            falling: false,
            wild_until: 0,
            still_since: None,
            false_still: false,
            gear: 2,
            pulse: None,
            last: None,
            low_at: None,
        }
    }

    fn line(&self, from: u8, to: u8, pedal: f64) -> Option<f64> {
        let map = &self.hello.map;
        let speeds = &map.lines.iter().find(|l| l.from == from && l.to == to)?.speed_kmh;
        let right = map.pedal_pct.iter().position(|p| *p >= pedal).unwrap_or(speeds.len() - 1).max(1);
        let (p0, p1) = (map.pedal_pct[right - 1], map.pedal_pct[right]);
        Some(speeds[right - 1] + (speeds[right] - speeds[right - 1]) * ((pedal - p0) / (p1 - p0)))
    }

    fn read(&mut self, answers: &[Answer]) {
        for answer in answers {
            let Content::Value(value) = answer.content else { continue };
            match answer.signal {
                Signal::Speed if (0.0..=255.0).contains(&value) => {
                    if let Some((before, at)) = self.speed {
                        let s = answer.arrival_ms.saturating_sub(at) as f64 / 1000.0;
                        let fell = before - value > self.hello.fall_limit_kmh_per_s * s + 2.0;
                        if fell || value - before > self.hello.rise_limit_kmh_per_s * s + 2.0 {
                            self.wild_until = self.now + 1000;
                        }
                        // An answer that comes twice says nothing of where the speed goes.
                        if value != before || s > 0.05 {
                            self.falling = value < before;
                        }
                        self.false_still = (self.false_still || fell) && value <= self.hello.standstill_kmh;
                    }
                    self.speed = Some((value, answer.arrival_ms));
                }
                Signal::Pedal if (0.0..=100.0).contains(&value) => self.pedal = Some((value, answer.arrival_ms)),
                _ => {}
            }
        }
    }

    fn age(&self, of: Option<(f64, u64)>) -> u64 {
        of.map_or(u64::MAX, |(_, at)| self.now.saturating_sub(at))
    }

    fn gear_on_entry(&self) -> u8 {
        let EntryGear::Fixed(gear) = self.hello.entry else { panic!("this box needs a fixed entry gear") };
        let Some((speed, _)) = self.speed else { return gear };
        let rpm = |g: u8| self.hello.rpm_per_kmh[usize::from(g) - 1] * speed;
        (gear..self.hello.rpm_per_kmh.len() as u8)
            .find(|&g| rpm(g) <= self.hello.redline_rpm)
            .unwrap_or(self.hello.rpm_per_kmh.len() as u8)
    }

    /// Standing still the gearbox goes down by itself.
    fn stand(&mut self) {
        if self.hello.shifts_down_itself && self.speed.is_some_and(|(v, _)| v <= self.hello.standstill_kmh) {
            let since = *self.still_since.get_or_insert(self.now);
            if self.now - since >= if self.false_still { 4000 } else { 1000 } {
                self.gear = self.hello.lowest_gear;
            }
        } else {
            self.still_since = None;
        }
    }

    fn wish(&self) -> Option<Direction> {
        let ((speed, _), (pedal, _)) = (self.speed?, self.pedal?);
        let age = if self.taste.forgets_speed_age {
            self.age(self.pedal)
        } else {
            self.age(self.speed).max(self.age(self.pedal))
        };
        if age > self.taste.fresh_ms || self.now < self.wild_until || speed <= self.hello.standstill_kmh {
            return None;
        }
        let up = self.gear < self.hello.top_gear
            && !self.falling
            && self.line(self.gear, self.gear + 1, pedal).is_some_and(|line| speed >= line);
        let down = self.gear > self.hello.lowest_gear
            && self.line(self.gear, self.gear - 1, pedal).is_some_and(|line| speed <= line)
            && self.hello.rpm_per_kmh[usize::from(self.gear) - 2] * speed <= self.hello.redline_rpm - 400.0;
        let wish = if up {
            Direction::Up
        } else if down {
            Direction::Down
        } else {
            return None;
        };
        let waited = self.last.is_none_or(|(last, at)| {
            self.now - at >= if last == wish { self.taste.next_ms } else { self.taste.dwell_ms }
        });
        waited.then_some(wish)
    }
}

impl Controller for ChartBox {
    fn reset(&mut self) {
        *self = Self::new(self.hello.clone(), self.taste);
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        self.now = inputs.time_ms;
        self.read(answers);
        let mut says = None;
        let was = self.chart;
        let in_gate = inputs.lever == Lever::Gate;
        if in_gate {
            let out_ms = self.out_since.take().map(|since| self.now - since);
            if out_ms.is_some_and(|ms| ms >= u64::from(self.hello.lever_bounce_ms)) {
                self.chart = Chart::Armed { right_since: None };
                self.edge_at = self.now;
                self.gear = self.gear_on_entry();
                self.still_since = None;
            }
            self.stand();
        } else {
            // Powered up out of the gate counts as having been out for long.
            let since = *self.out_since.get_or_insert(if self.first_tick { 0 } else { self.now });
            if self.now - since >= u64::from(self.hello.lever_bounce_ms) {
                self.chart = Chart::Out;
            }
        }
        self.first_tick = false;
        let tapped = inputs.tap_up || inputs.tap_down || inputs.tap_up_edges + inputs.tap_down_edges > 0;
        let data = self.age(self.speed).max(self.age(self.pedal));
        let high = inputs.range.is_none_or(|range| range == Range::High);
        if !high {
            self.low_at = Some(self.now);
        }
        let long_high = self.low_at.is_none_or(|at| self.now - at > self.hello.range_high_for_ms.into());
        let fault = !high || !inputs.ignition || tapped || data > self.taste.lost_ms;
        match self.chart {
            Chart::Armed { .. } if tapped || self.now - self.edge_at > 1500 => self.chart = Chart::Out,
            Chart::Armed { right_since } => {
                let slow = self.speed.is_some_and(|(v, _)| v <= self.hello.ceiling_kmh);
                let right = in_gate && !fault && long_high && data <= self.taste.fresh_ms && slow;
                let right_since = right.then(|| right_since.unwrap_or(self.now));
                let most = usize::from(self.hello.most_engagements);
                let recent = self.engaged_at.iter().filter(|&&at| self.now - at < 10_000).count();
                let held = right_since.is_some_and(|since| self.now - since >= self.taste.waits_ms);
                self.chart = if held && recent < most {
                    self.engaged_at.push(self.now);
                    Chart::Engaged
                } else {
                    Chart::Armed { right_since }
                };
            }
            Chart::Engaged if fault => self.chart = Chart::Out,
            Chart::Engaged | Chart::Out => {}
        }
        if self.chart == Chart::Engaged {
            if was != Chart::Engaged {
                says = Some(Announcement::Engaged);
            }
            let quiet_ms = u64::from(self.hello.quiet_after_engaging_ms);
            if self.pulse.is_none()
                && self.engaged_at.last().is_some_and(|at| self.now - at >= quiet_ms)
                && in_gate
                && let Some(wish) = self.wish()
            {
                self.gear = if wish == Direction::Up { self.gear + 1 } else { self.gear - 1 };
                self.last = Some((wish, self.now));
                self.pulse = Some((wish, self.now));
            }
        } else {
            if was == Chart::Engaged {
                let driver = tapped || !in_gate;
                says = Some(if fault && !driver { Announcement::Fault } else { Announcement::Disengaged });
            }
            if !self.taste.finishes_pulses {
                self.pulse = None;
            }
        }
        self.pulse = self.pulse.filter(|(_, at)| self.now - at < self.taste.pulse_ms);
        let closed = |direction| self.pulse.is_some_and(|(d, _)| d == direction);
        Output {
            action: Action::Contacts(Contacts { up: closed(Direction::Up), down: closed(Direction::Down) }),
            announcement: says.filter(|_| self.taste.shows),
            engaged: self.taste.shows.then_some(self.chart == Chart::Engaged),
            counted_gear: None,
        }
    }
}
