//! The diagnostic link: a tester that asks for one signal after the other and waits for each answer.
//!
//! Every period a round begins: speed, pedal, then what else the box reads. An answer comes after a latency that is
//! nominal for key 0 and else a hash of (key, signal, poll number), so nothing is drawn while a drive runs. A value is
//! sampled when its request is sent; speed and pedal therefore have different ages.
//!
//! The engine speed of a running engine trembles by 2 r/min about its mean, by the same kind of hash: read to the quarter
//! of a revolution it never stands still, as on a real engine, and so tells a live reading from a repeated one.

pub mod j1979;

use crate::drive::{Beyond, Happening, Which};
use crate::recording::Delivered;
use crate::signal::{Answer, Content, SIGNALS, Signal};
use crate::spec::Spec;
use crate::spec::link::Rounding;
use crate::spec::pedal::PedalStops;

/// What the port would show at this instant.
#[derive(Debug, Clone, Copy)]
pub struct Shown {
    /// Road speed by the link's source, km/h, unsigned.
    pub speed_kmh: f64,
    /// Pedal, % of its travel.
    pub pedal_pct: f64,
    /// Engine speed, r/min.
    pub engine_rpm: f64,
    /// Actual gear.
    pub gear: u8,
}

/// Most link faults that can hold at once; further ones push out the oldest.
const MOST_FAULTS: usize = 16;

/// Most answers under way at once.
const MOST_UNDER_WAY: usize = 32;

/// The code of a negative answer: conditions not correct (ISO 14229-1, from memory).
const NEGATIVE_CODE: u8 = 0x22;

/// A running engine trembles by so many quarters of a revolution a minute either way (invented).
const TREMBLING_QUARTERS: u64 = 8;
/// Below this an engine doesn't run, r/min (invented).
const LEAST_TREMBLING_RPM: f64 = 100.0;
/// Keeps this hash apart from that of the latencies.
const TREMBLE: u64 = 0x7265_6D62_6C65;

#[derive(Debug, Clone, Copy)]
struct Held {
    fault: Happening,
    until_ms: u32,
    /// What the port showed when the fault came, for freezing.
    shown: Shown,
}

/// The link's state in one run.
#[derive(Debug, Clone)]
pub struct Link {
    period_ms: u32,
    least_ms: u32,
    most_ms: u32,
    rounding: Rounding,
    pedal_stops: PedalStops,
    polled: [bool; 4],
    key: u64,
    poll: u64,
    round_start_ms: u32,
    /// Index into `SIGNALS` of the next request; at 4 the round is over.
    next: usize,
    next_request_ms: u32,
    held: Vec<Held>,
    under_way: Vec<Delivered>,
    /// None of those under way arrives before this.
    next_arrival_ms: u32,
}

impl Link {
    /// The link of a spec.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let signals = spec.facts.signals;
        let link = &spec.link;
        Self {
            period_ms: link.period.ms().max(1),
            least_ms: link.answer_least.ms(),
            most_ms: link.answer_most.ms().max(link.answer_least.ms()),
            rounding: link.speed_rounding,
            pedal_stops: link.pedal_stops,
            polled: SIGNALS.map(|signal| signals.polled().any(|polled| polled == signal)),
            key: 0,
            poll: 0,
            round_start_ms: 0,
            next: 0,
            next_request_ms: 0,
            held: Vec::with_capacity(MOST_FAULTS),
            under_way: Vec::with_capacity(MOST_UNDER_WAY),
            next_arrival_ms: u32::MAX,
        }
    }

    /// Back to the start of a drive.
    pub fn restart(&mut self, key: u64, phase_ms: u16) {
        self.key = key;
        self.poll = 0;
        self.next = 0;
        self.round_start_ms = u32::from(phase_ms);
        self.next_request_ms = u32::from(phase_ms);
        self.held.clear();
        self.under_way.clear();
        self.next_arrival_ms = u32::MAX;
    }

    /// A link fault comes; other happenings are none of the link's business.
    pub fn fault(&mut self, fault: Happening, now_ms: u32, shown: Shown) {
        let ms = match fault {
            Happening::Lost(_, ms)
            | Happening::Frozen(_, ms)
            | Happening::Delayed(_, _, ms)
            | Happening::Negative(_, ms)
            | Happening::Garbled(_, _, ms)
            | Happening::Duplicated(_, ms)
            | Happening::SecondSpeed(_, ms) => ms,
            _ => return,
        };
        if self.held.len() == MOST_FAULTS {
            self.held.remove(0);
        }
        self.held.push(Held { fault, until_ms: now_ms.saturating_add(ms), shown });
    }

    /// Latency of a poll, ms: the middle for key 0, else uniform between least and most by hash.
    fn latency_ms(&self, signal: usize) -> u32 {
        let width = self.most_ms - self.least_ms;
        if self.key == 0 {
            return self.least_ms + width / 2;
        }
        let hash = mix(self.key ^ mix(self.poll.wrapping_mul(4) + signal as u64));
        self.least_ms + u32::try_from(hash % u64::from(width + 1)).unwrap_or(0)
    }

    /// The engine speed as this poll finds it: in quarters of a revolution, up to 2 r/min off.
    fn trembling_rpm(&self, engine_rpm: f64) -> f64 {
        if engine_rpm < LEAST_TREMBLING_RPM {
            return engine_rpm;
        }
        let hash = mix(mix(self.key) ^ self.poll.wrapping_add(TREMBLE));
        let quarters = u8::try_from(hash % (2 * TREMBLING_QUARTERS + 1)).unwrap_or(0);
        engine_rpm + (f64::from(quarters) - TREMBLING_QUARTERS as f64) / 4.0
    }

    /// Whether the link asks for something before `until_ms`, and when first.
    #[must_use]
    pub fn next_request(&self, until_ms: u32) -> Option<u32> {
        (self.next_request_ms < until_ms).then_some(self.next_request_ms)
    }

    /// Sends the request that is due at `next_request` and puts its answers under way.
    pub fn request(&mut self, shown: Shown, clock_ms: u64) {
        let now_ms = self.next_request_ms;
        let at = self.next;
        let signal = SIGNALS[at];
        let latency_ms = self.latency_ms(at);
        self.held.retain(|h| h.until_ms > now_ms);
        let mut value = Shown { engine_rpm: self.trembling_rpm(shown.engine_rpm), ..shown };
        let mut extra_ms = 0;
        let (mut lost, mut negative, mut twice) = (false, false, false);
        let mut second = None;
        let mut garbled = None;
        for held in &self.held {
            let touches = |which: Which| which.touches(signal);
            match held.fault {
                Happening::Lost(which, _) => lost |= touches(which),
                Happening::Frozen(which, _) if touches(which) => value = held.shown,
                Happening::Delayed(which, ms, _) if touches(which) => extra_ms = u32::from(ms),
                Happening::Negative(which, _) => negative |= touches(which),
                Happening::Garbled(which, beyond, _) if touches(which) => garbled = Some(beyond),
                Happening::Duplicated(which, _) => twice |= touches(which),
                Happening::SecondSpeed(by, _) if signal == Signal::Speed => second = Some(f64::from(by) / 10.0),
                _ => {}
            }
        }
        let content = match (negative, garbled) {
            (true, _) => Content::Negative(NEGATIVE_CODE),
            (false, Some(beyond)) => Content::Value(out_of_range(signal, beyond)),
            (false, None) => Content::Value(self.read(signal, &value)),
        };
        if !lost {
            let arrived_ms = now_ms + latency_ms + extra_ms;
            self.put(signal, content, now_ms, arrived_ms, clock_ms);
            if twice {
                self.put(signal, content, now_ms, arrived_ms + 7, clock_ms);
            }
            if let Some(by) = second {
                let other = Shown { speed_kmh: (value.speed_kmh + by).max(0.0), ..value };
                self.put(signal, Content::Value(self.read(signal, &other)), now_ms, arrived_ms + 3, clock_ms);
            }
        }
        self.poll += 1;
        // The tester waits for the answer (or its limit) before it asks for the next signal.
        let answered_ms = now_ms + if lost { self.most_ms } else { latency_ms };
        self.next = (at + 1..SIGNALS.len()).find(|&i| self.polled[i]).unwrap_or(SIGNALS.len());
        if self.next < SIGNALS.len() {
            self.next_request_ms = answered_ms;
        } else {
            self.next = 0;
            self.round_start_ms = (self.round_start_ms + self.period_ms).max(answered_ms);
            self.next_request_ms = self.round_start_ms;
        }
    }

    fn put(&mut self, signal: Signal, content: Content, sampled_ms: u32, arrived_ms: u32, clock_ms: u64) {
        if self.under_way.len() == MOST_UNDER_WAY {
            self.under_way.remove(0);
        }
        let answer = Answer { signal, content, arrival_ms: clock_ms + u64::from(arrived_ms) };
        self.under_way.push(Delivered { answer, sampled_ms, arrived_ms });
        self.next_arrival_ms = self.next_arrival_ms.min(arrived_ms);
    }

    fn read(&self, signal: Signal, shown: &Shown) -> f64 {
        match signal {
            Signal::Speed => j1979::speed_kmh(j1979::speed_raw(shown.speed_kmh, self.rounding)),
            Signal::Pedal => j1979::pedal_pct(j1979::pedal_raw(shown.pedal_pct, self.pedal_stops)),
            Signal::EngineSpeed => j1979::engine_rpm(j1979::engine_raw(shown.engine_rpm)),
            Signal::Gear => f64::from(shown.gear),
        }
    }

    /// Moves the answers that have arrived by now to `delivered`, in order of arrival; returns how many.
    #[inline]
    pub fn deliver(&mut self, now_ms: u32, delivered: &mut Vec<Delivered>) -> u8 {
        // As in most ticks.
        if now_ms < self.next_arrival_ms { 0 } else { self.deliver_arrived(now_ms, delivered) }
    }

    fn deliver_arrived(&mut self, now_ms: u32, delivered: &mut Vec<Delivered>) -> u8 {
        let from = delivered.len();
        self.under_way.retain(|d| {
            let arrived = d.arrived_ms <= now_ms;
            if arrived {
                delivered.push(*d);
            }
            !arrived
        });
        self.note_next_arrival();
        delivered[from..].sort_by_key(|d| d.arrived_ms);
        u8::try_from(delivered.len() - from).unwrap_or(u8::MAX)
    }

    /// The box is off: what is under way meets no one.
    pub fn drop_under_way(&mut self, now_ms: u32) {
        self.under_way.retain(|d| d.arrived_ms > now_ms);
        self.note_next_arrival();
    }

    fn note_next_arrival(&mut self) {
        self.next_arrival_ms = self.under_way.iter().map(|d| d.arrived_ms).min().unwrap_or(u32::MAX);
    }
}

/// A value that a signal can't have.
fn out_of_range(signal: Signal, beyond: Beyond) -> f64 {
    match (signal, beyond) {
        (Signal::Gear, Beyond::Below) => 0.0,
        (_, Beyond::Below) => -1.0,
        (Signal::Speed, Beyond::Above) => 300.0,
        (Signal::Pedal, Beyond::Above) => 150.0,
        (Signal::EngineSpeed, Beyond::Above) => 20_000.0,
        (Signal::Gear, Beyond::Above) => 15.0,
    }
}

/// The finaliser of SplitMix64 (Steele, Lea, Flood 2014): a documented hash for keyed noise.
#[must_use]
pub fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}
