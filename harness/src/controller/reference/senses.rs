//! What the reference has read: the newest sample of each signal, and how far the speed can be believed.

use super::super::hello::Hello;
use super::fault::Fault;
use crate::signal::{Answer, Content, Signal};

/// A time that lies further back than any limit, ms.
pub(super) const NEVER: i64 = -1_000_000_000;

/// Ages beyond this are all the same, ms.
const OLDEST_MS: u64 = 1_000_000_000;

/// No engine speed read is higher, r/min: 65,535 quarters.
const MOST_RPM: f64 = 16_383.75;

/// Two readings may differ by this much from rounding alone, km/h.
const ROUNDING_KMH: f64 = 2.0;

/// Longest wait on top after a speed that fell to 0 faster than brakes can: wheels may be locked, ms (invented).
const LOCKED_MS: i64 = 3000;

/// A pedal answer this long after the one before ends a gap, ms (for seeded faults).
const GAP_MS: i64 = 300;

/// What a fault knows of the codes of negative answers.
const CODES_KNOWN: [f64; 4] = [f64::NAN; 4];

/// The newest valid value and when it arrived.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    pub value: f64,
    pub at_ms: i64,
}

/// Everything read so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Senses {
    pub speed: Option<Sample>,
    pub pedal: Option<Sample>,
    pub gear: Option<Sample>,
    /// Engine speed.
    pub engine_rpm: Option<Sample>,
    /// Since when nothing that is read has changed.
    pub standing_ms: i64,
    /// When speed or pedal last changed, for one seeded fault.
    pub moved_ms: Option<i64>,
    /// The engine speed read is 0.
    pub engine_off: bool,
    /// Since when the gear reads the same.
    pub gear_since_ms: i64,
    /// When the speed was last implausible.
    pub implausible_ms: i64,
    /// Since when the speed is at standstill; in the future after an implausible fall.
    pub still_since_ms: Option<i64>,
    /// The last change of the speed was upwards.
    pub rising: bool,
    /// The pedal before the last gap in its answers, and when the gap ended: for two seeded faults.
    pub old_pedal: f64,
    pub gap_ended_ms: i64,
    /// When the pedal last rose by a twitch, and when it last fell to light: two more.
    pub twitch_ms: i64,
    pub lift_ms: i64,
}

impl Senses {
    pub const BLANK: Self = Self {
        speed: None,
        pedal: None,
        gear: None,
        engine_rpm: None,
        standing_ms: NEVER,
        moved_ms: None,
        engine_off: false,
        gear_since_ms: NEVER,
        implausible_ms: NEVER,
        still_since_ms: None,
        rising: false,
        old_pedal: 0.0,
        gap_ended_ms: NEVER,
        twitch_ms: NEVER,
        lift_ms: NEVER,
    };

    /// Takes in the answers of a tick. `clock_ms` is the box's clock, `now_ms` the time since power-up.
    pub fn take(&mut self, answers: &[Answer], clock_ms: u64, now_ms: i64, hello: &Hello, fault: Option<Fault>) {
        for answer in answers {
            let value = match answer.content {
                Content::Value(value) => value,
                Content::Negative(code) if fault == Some(Fault::CodesAreNumbers) => f64::from(code),
                Content::Negative(code) if fault == Some(Fault::ChokesOnRefusal) => CODES_KNOWN[usize::from(code)],
                Content::Negative(_) => continue,
            };
            let any = fault == Some(Fault::TakesAnyValue);
            let age_ms = clock_ms.wrapping_sub(answer.arrival_ms).min(OLDEST_MS);
            let at_ms = now_ms.saturating_sub_unsigned(age_ms);
            let new = Some(Sample { value, at_ms });
            let (old, valid) = match answer.signal {
                Signal::Speed => (self.speed, (0.0..=255.0).contains(&value)),
                Signal::Pedal => (self.pedal, (0.0..=100.0).contains(&value)),
                Signal::EngineSpeed => (self.engine_rpm, (0.0..=MOST_RPM).contains(&value)),
                Signal::Gear => (self.gear, (1.0..=f64::from(hello.top_gear)).contains(&value)),
            };
            let value = if valid && answer.signal == Signal::Pedal { travel_pct(value, hello) } else { value };
            if valid && old.is_none_or(|old| old.value != value) {
                self.standing_ms = at_ms;
                if matches!(answer.signal, Signal::Speed | Signal::Pedal) {
                    self.moved_ms = Some(at_ms);
                }
            }
            match answer.signal {
                Signal::Speed if any || valid => {
                    self.take_speed(Sample { value, at_ms }, hello, fault);
                }
                Signal::Pedal if any || valid => self.take_pedal(Sample { value, at_ms }),
                Signal::Gear if valid => {
                    if old.is_none_or(|old| old.value != value) {
                        self.gear_since_ms = at_ms;
                    }
                    self.gear = new;
                }
                Signal::EngineSpeed => {
                    self.engine_off = value == 0.0;
                    self.engine_rpm = if valid { new } else { self.engine_rpm };
                }
                _ => continue,
            }
            if fault == Some(Fault::AnyAnswerCounts) {
                for sample in [&mut self.speed, &mut self.pedal].into_iter().flatten() {
                    sample.at_ms = at_ms;
                }
            }
        }
    }

    fn take_pedal(&mut self, new: Sample) {
        if let Some(old) = self.pedal {
            if new.at_ms - old.at_ms > GAP_MS {
                (self.old_pedal, self.gap_ended_ms) = (old.value, new.at_ms);
            }
            if new.value - old.value >= 5.0 {
                self.twitch_ms = new.at_ms;
            }
            if old.value - new.value >= 5.0 && new.value <= 15.0 {
                self.lift_ms = new.at_ms;
            }
        }
        self.pedal = Some(new);
    }

    fn take_speed(&mut self, new: Sample, hello: &Hello, fault: Option<Fault>) {
        let mut wait_ms = 0;
        if let Some(old) = self.speed {
            let change = new.value - old.value;
            if change != 0.0 {
                self.rising = change > 0.0;
            }
            let limit = if change < 0.0 { hello.fall_limit_kmh_per_s } else { hello.rise_limit_kmh_per_s };
            let believed = fault == Some(if change < 0.0 { Fault::BelievesAFall } else { Fault::BelievesARise });
            if !believed && change.abs() > limit * seconds(new.at_ms - old.at_ms) + ROUNDING_KMH {
                self.implausible_ms = new.at_ms;
                wait_ms = LOCKED_MS;
            }
        }
        self.still_since_ms = if new.value > hello.standstill_kmh {
            None
        } else {
            Some(self.still_since_ms.unwrap_or(new.at_ms + wait_ms))
        };
        self.speed = Some(new);
    }

    /// Speed and pedal have been read.
    pub fn both_read(&self, fault: Option<Fault>) -> bool {
        // What a fault puts there before anything is read has the time 0.
        let unread = |s: Sample| fault == Some(Fault::ZeroAtStart) && s.at_ms == 0;
        [self.speed, self.pedal].iter().all(|sample| sample.is_some_and(|s| !unread(s)))
    }

    /// A fault: before anything is read, speed and pedal are 0 and new.
    pub fn start_at_zero(&mut self) {
        let zero = Some(Sample { value: 0.0, at_ms: 0 });
        (self.speed, self.pedal) = (zero, zero);
    }

    /// When speed was last read, ms.
    pub fn newest_ms(&self) -> i64 {
        self.speed.map_or(NEVER, |speed| speed.at_ms)
    }

    /// For how long all that is read has stood still while the engine runs and its speed goes on being answered, ms.
    pub fn still_for_ms(&self) -> i64 {
        self.engine_rpm.filter(|rpm| rpm.value > 0.0).map_or(0, |rpm| rpm.at_ms - self.standing_ms)
    }

    /// The speed has been plausible for long enough to act on.
    pub fn plausible(&self, now_ms: i64, for_ms: u32) -> bool {
        now_ms - self.implausible_ms >= i64::from(for_ms)
    }

    /// When the older one of speed and pedal was read, ms; long ago where one is missing.
    pub fn oldest_ms(&self) -> i64 {
        self.speed.zip(self.pedal).map_or(NEVER, |(speed, pedal)| speed.at_ms.min(pedal.at_ms))
    }

    /// Age of the older one, ms.
    pub fn age_ms(&self, now_ms: i64) -> i64 {
        now_ms - self.oldest_ms()
    }
}

/// A pedal read as a share of its travel, %.
fn travel_pct(read_pct: f64, hello: &Hello) -> f64 {
    let (released, floored) = (hello.pedal_released_pct, hello.pedal_floored_pct);
    ((read_pct - released) / ((floored - released) / 100.0)).clamp(0.0, 100.0)
}

/// Milliseconds as seconds.
#[expect(clippy::cast_precision_loss, reason = "times since power-up are far below 2^53 ms")]
fn seconds(ms: i64) -> f64 {
    ms as f64 / 1000.0
}
