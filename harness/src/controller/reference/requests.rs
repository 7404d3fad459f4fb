//! What the reference asks for on the diagnostic port: its signals one after the other, until the bus should sleep.

use super::{Fault, Hello, NEVER, Reference};
use crate::signal::{Inputs, Request, Signal};
use crate::spec::pedal::PedalIdentifier;

/// It asks for all its signals once in this time, where the limit on requests leaves room for it, ms.
const ROUND_MS: i64 = 100;
/// Spare time that it leaves to that limit, ms.
const SPARE_MS: i64 = 20;
/// Open an extended session: service 10 of ISO 14229-1, which only a fault asks for.
const OPEN_SESSION: [u8; 2] = [0x10, 0x03];

/// What it has asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Asking {
    round_ms: i64,
    /// Since when the ignition is off.
    off_ms: Option<i64>,
    /// A round falls into this tick.
    all: bool,
    /// What faults ask for in this tick.
    pedal: bool,
    session: bool,
    was_lost: bool,
}

impl Asking {
    pub const BLANK: Self =
        Self { round_ms: NEVER, off_ms: None, all: false, pedal: false, session: false, was_lost: false };
}

/// The request for a signal: service 01 of SAE J1979 with its identifier.
fn request(signal: Signal, pedal: PedalIdentifier) -> [u8; 2] {
    let identifier = match signal {
        Signal::Speed => 0x0D,
        Signal::Pedal => pedal.code(),
        Signal::EngineSpeed => 0x0C,
        Signal::Gear => 0xA4,
    };
    [0x01, identifier]
}

/// Least time between two rounds of requests, ms.
pub(super) fn rounds_apart_ms(hello: &Hello) -> i64 {
    let count = i64::try_from(hello.signals.len()).unwrap_or(1);
    ROUND_MS.max(count * 1000 / i64::from(hello.most_requests.max(1)) + SPARE_MS)
}

impl Reference {
    /// Decides what is asked for in this tick.
    pub(super) fn ask(&mut self, inputs: &Inputs, now_ms: i64, may: bool) {
        let h = &self.hello;
        let sleeps_ms = i64::from(h.sleeps_within_ms / 2);
        let floored = self.state.senses.pedal.is_some_and(|pedal| pedal.value >= 99.0);
        let lost = self.state.lost_ms.is_some();
        let (on, often) = (self.has(Fault::AsksOn), self.has(Fault::AsksOften));
        let opens = self.has(Fault::OpensSession);
        let a = &mut self.state.asking;
        a.off_ms = if inputs.ignition { None } else { a.off_ms.or(Some(now_ms)) };
        let awake = on || a.off_ms.is_none_or(|off_ms| !self.rest.passed(now_ms, off_ms, sleeps_ms));
        a.all = awake && self.rest.passed(now_ms, a.round_ms, self.rounds_apart_ms);
        if a.all {
            a.round_ms = now_ms;
        }
        a.pedal = often && floored && may && !a.all;
        a.session = opens && lost && !a.was_lost;
        a.was_lost = lost;
    }

    /// Says it.
    pub(super) fn tell_requests(&self, sent: &mut Vec<Request>) {
        let (a, pedal) = (&self.state.asking, self.hello.pedal_identifier);
        if a.all {
            sent.extend(self.hello.signals.iter().filter_map(|&signal| Request::new(&request(signal, pedal))));
        }
        if a.pedal {
            sent.extend(Request::new(&request(Signal::Pedal, pedal)));
        }
        if a.session {
            sent.extend(Request::new(&OPEN_SESSION));
        }
    }
}
