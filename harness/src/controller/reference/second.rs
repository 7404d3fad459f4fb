//! The second list of seeded faults: what a firmware around the reference gets wrong, not what it decides. Each changes
//! what the reference is given or what it gives, as a slip in a driver, a task or a buffer would.
//!
//! They were chosen for what goes wrong in such boxes, by one who knew how the search changes a drive and not how drives
//! are made; of one, `smooths-pedal`, the number was raised once, as what it did was no fault yet. The benchmark measures
//! with them what the search does to faults that it wasn't built on. The generators are never tuned to them.

use super::{Fault, FaultCard, Reference, faults};
use crate::controller::Controller;
use crate::controller::hello::Hello;
use crate::signal::{Action, Announcement, Answer, Contacts, Content, Inputs, Lever, Output, Range, Request, Signal};

/// Answers over which the pedal is smoothed: a mean of a few is a box's good right, one of 1.6 s isn't.
const SMOOTHED: usize = 16;
/// A tap shorter than this isn't heard, ms.
const TAP_MS: u64 = 80;
/// The range is looked at this often, ms.
const RANGE_MS: u64 = 1000;
/// A tone lasts this long, ms.
const TONE_MS: u64 = 600;
/// Below this supply the inputs are held, mV.
const BROWN_OUT_MV: u32 = 9000;
/// The pedal that latches a kickdown, and the one that ends it, %.
const KICK_PCT: (f64, f64) = (90.0, 50.0);
/// Closures from one saving of the log to the next.
const LOG_CLOSURES: u32 = 16;
/// Saving the log takes this long, ms.
const LOG_MS: u64 = 400;

/// The second list.
pub const SECOND_FAULTS: &[FaultCard] = &[
    faults::card(
        Fault::SevenBitSpeed,
        "seven-bit-speed",
        "over-rev after downshift",
        "keeps the speed in seven bits, so that 128 km/h read as 0",
    ),
    faults::card(
        Fault::SmoothsPedal,
        "smooths-pedal",
        "response deadline",
        "goes by the mean of the last sixteen pedal answers",
    ),
    faults::card(
        Fault::WakesWithOldData,
        "wakes-with-old-data",
        "engages only when all is right",
        "reads nothing out of the gate, and back there takes what it read last for new",
    ),
    faults::card(
        Fault::TapDebounced,
        "tap-debounced",
        "driver's tap wins",
        "hears the driver's tap only once it has lasted for 80 ms",
    ),
    faults::card(
        Fault::RangeEachSecond,
        "range-each-second",
        "low range disengages",
        "looks at the range once a second, in a slow task",
    ),
    faults::card(
        Fault::BuzzerBusy,
        "buzzer-busy",
        "every transition announced",
        "drops an announcement that comes within 600 ms of the one before",
    ),
    faults::card(
        Fault::BrownOutHolds,
        "brown-out-holds",
        "leaving the gate disengages",
        "holds its wired inputs as they were while the supply is below 9 V",
    ),
    faults::card(
        Fault::KickLatched,
        "kick-latched",
        "response deadline",
        "takes a kickdown for floored until the pedal is below half",
    ),
    faults::card(
        Fault::RefusalKeepsAlive,
        "refusal-keeps-alive",
        "lost data disengages",
        "takes a negative answer for a sign that the last value still holds",
    ),
    faults::card(
        Fault::LogHoldsPulse,
        "log-holds-pulse",
        "one step per tap",
        "saves its log at every sixteenth command, and leaves the contact closed meanwhile",
    ),
];

impl Fault {
    /// Whether it is one of the second list.
    #[must_use]
    pub fn is_second(self) -> bool {
        SECOND_FAULTS.iter().any(|card| card.fault == self)
    }
}

/// The reference in a firmware with a fault of the second list.
#[derive(Debug)]
pub struct Firmware {
    reference: Reference,
    fault: Fault,
    kept: Kept,
    /// What the reference is given in a tick.
    given: Vec<Answer>,
}

/// All that the firmware remembers from tick to tick.
#[derive(Debug, Clone, Copy, Default)]
struct Kept {
    first_ms: Option<u64>,
    /// The wired inputs last passed on.
    wired: Option<Inputs>,
    /// The last value of each signal, in the order of polling.
    values: [Option<f64>; 4],
    pedals: [Option<f64>; SMOOTHED],
    was_in_gate: bool,
    in_gate_before: bool,
    /// Since when the tap inputs are closed, up and down, and whether that was passed on.
    taps: [(Option<u64>, bool); 2],
    range: Option<(u64, Option<Range>)>,
    announced_ms: Option<u64>,
    kicked: bool,
    closed: Contacts,
    closures: u32,
    saving: Option<(u64, Contacts)>,
}

impl Firmware {
    /// The reference for a hello, in a firmware with this fault.
    #[must_use]
    pub fn new(hello: Hello, fault: Fault) -> Self {
        let given = Vec::with_capacity(64);
        Self { reference: Reference::new(hello, None), fault, kept: Kept::default(), given }
    }

    fn wired(&mut self, inputs: &Inputs, now_ms: u64) -> Inputs {
        let k = &mut self.kept;
        let mut wired = *inputs;
        match self.fault {
            Fault::BrownOutHolds if inputs.supply_mv < BROWN_OUT_MV => {
                let held = k.wired.unwrap_or(*inputs);
                let Inputs { time_ms, supply_mv, .. } = *inputs;
                wired = Inputs { time_ms, supply_mv, tap_up_edges: 0, tap_down_edges: 0, ..held };
            }
            Fault::RangeEachSecond => {
                let old = k.range.filter(|(at_ms, _)| now_ms - at_ms < RANGE_MS);
                wired.range = old.unwrap_or((now_ms, inputs.range)).1;
                k.range = old.or(Some((now_ms, inputs.range)));
            }
            Fault::TapDebounced => {
                (wired.tap_up, wired.tap_up_edges) = debounced(&mut k.taps[0], inputs.tap_up, now_ms);
                (wired.tap_down, wired.tap_down_edges) = debounced(&mut k.taps[1], inputs.tap_down, now_ms);
            }
            _ => {}
        }
        k.wired = Some(wired);
        wired
    }

    fn take(&mut self, inputs: &Inputs, answers: &[Answer]) {
        let in_gate = inputs.lever == Lever::Gate;
        self.given.clear();
        let returns = in_gate && !self.kept.was_in_gate && self.kept.in_gate_before;
        if self.fault == Fault::WakesWithOldData && returns {
            let last = |(signal, value): (Signal, Option<f64>)| {
                value.map(|value| Answer { signal, content: Content::Value(value), arrival_ms: inputs.time_ms })
            };
            self.given.extend(crate::signal::SIGNALS.into_iter().zip(self.kept.values).filter_map(last));
        }
        self.kept.was_in_gate = in_gate;
        self.kept.in_gate_before |= in_gate;
        if self.fault == Fault::WakesWithOldData && self.kept.in_gate_before && !in_gate {
            return;
        }
        for answer in answers {
            let content = self.content(answer);
            self.given.push(Answer { content, ..*answer });
        }
    }

    fn content(&mut self, answer: &Answer) -> Content {
        let k = &mut self.kept;
        let Some(last) = k.values.get_mut(answer.signal as usize) else { return answer.content };
        let Content::Value(value) = answer.content else {
            let held = last.filter(|_| self.fault == Fault::RefusalKeepsAlive);
            return held.map_or(answer.content, Content::Value);
        };
        *last = Some(value);
        let pedal = answer.signal == Signal::Pedal && (0.0..=100.0).contains(&value);
        Content::Value(match self.fault {
            Fault::SevenBitSpeed if answer.signal == Signal::Speed && (128.0..=255.0).contains(&value) => value - 128.0,
            Fault::SmoothsPedal if pedal => {
                k.pedals.rotate_right(1);
                k.pedals[0] = Some(value);
                let (sum, count) = k.pedals.iter().flatten().fold((0.0, 0.0), |(sum, count), p| (sum + p, count + 1.0));
                sum / count
            }
            Fault::KickLatched if pedal => {
                let (from, to) = KICK_PCT;
                k.kicked = value >= from || k.kicked && value >= to;
                if k.kicked { 100.0 } else { value }
            }
            _ => value,
        })
    }

    fn put_out(&mut self, now_ms: u64, output: &mut Output) {
        let k = &mut self.kept;
        match (self.fault, output.announcement, output.action) {
            (Fault::BuzzerBusy, Some(_), _) => {
                let busy = k.announced_ms.is_some_and(|at_ms| now_ms - at_ms < TONE_MS);
                output.announcement = output.announcement.filter(|_: &Announcement| !busy);
                k.announced_ms = if busy { k.announced_ms } else { Some(now_ms) };
            }
            (Fault::LogHoldsPulse, _, Action::Contacts(contacts)) => {
                if contacts != Contacts::default() && k.closed == Contacts::default() {
                    k.closures += 1;
                    if k.closures.is_multiple_of(LOG_CLOSURES) {
                        k.saving = Some((now_ms, contacts));
                    }
                }
                k.closed = contacts;
                k.saving = k.saving.filter(|(since_ms, _)| now_ms - since_ms < LOG_MS);
                if let Some((_, held)) = k.saving {
                    output.action = Action::Contacts(held);
                }
            }
            _ => {}
        }
    }
}

/// Level and edges of a tap input that counts once it has lasted for long enough.
fn debounced((since, told): &mut (Option<u64>, bool), level: bool, now_ms: u64) -> (bool, u8) {
    if !level {
        (*since, *told) = (None, false);
        return (false, 0);
    }
    let long = now_ms - *since.get_or_insert(now_ms) >= TAP_MS;
    let edge = u8::from(long && !*told);
    *told |= long;
    (long, edge)
}

impl Controller for Firmware {
    fn reset(&mut self) {
        self.reference.reset();
        self.kept = Kept::default();
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output {
        let now_ms = inputs.time_ms.wrapping_sub(*self.kept.first_ms.get_or_insert(inputs.time_ms));
        let wired = self.wired(inputs, now_ms);
        self.take(&wired, answers);
        let mut output = self.reference.step(&wired, &self.given);
        self.put_out(now_ms, &mut output);
        output
    }

    fn requests(&mut self, sent: &mut Vec<Request>) {
        self.reference.requests(sent);
    }
}
