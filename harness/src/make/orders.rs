//! Event orders: every order of up to so many events, exhaustively, put at each phase of the box's own doing.
//!
//! An order is a row of ticks, each with one or more different events; events in one tick meet the box together, so
//! their order within it counts once. With n letters there are a(1) = n, a(2) = n² + n(n−1)/2 and so on orders: a(k) is
//! the sum over the size s of the first tick of C(n, s) · a(k − s). With the core alphabet of 14: 14, 287, 5 656 and
//! 111 398.

use super::draft::{Draft, ceiling_kmh, gear_for, small_hash, tenths, top_gear};
use crate::drive::{Beyond, Condition, Drive, Event, Happening, When, Which};
use crate::signal::{Direction, Lever, Range, SIGNALS};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;
use crate::spec::link::MOST_ORDER_EVENTS;

/// Orders with link faults are no longer than this.
const LINK_DEPTH: u8 = 2;

/// From one tick of events to the next, ms: within the shortest reaction, about a release, about a pulse, beyond both.
const GAPS_MS: [u32; 4] = [60, 250, 600, 1300];

/// What the box is about when the first event comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Phase {
    /// Into the gate, the conditions not yet held long enough.
    Engaging,
    /// Engaged, at rest.
    AtRest,
    /// A shift is nearly due.
    BeforePulse,
    /// A contact is closed.
    InPulse,
    /// It has just opened.
    AfterPulse,
    /// The gearbox shifts.
    InShift,
    /// It has just done so.
    AfterShift,
}

const PHASES: [Phase; 7] = [
    Phase::Engaging,
    Phase::InPulse,
    Phase::BeforePulse,
    Phase::InShift,
    Phase::AtRest,
    Phase::AfterPulse,
    Phase::AfterShift,
];

/// Orders with link faults come at these phases alone.
const LINK_PHASES: usize = 2;

/// Letters of one order: index into the alphabet, and whether it comes in the same tick as the one before.
type Order = [Option<(u8, bool)>; MOST_ORDER_EVENTS as usize];

/// All event orders of a spec.
pub struct Orders<'a> {
    spec: &'a Spec,
    alphabet: Vec<Happening>,
    /// Orders of the core alphabet, then those with a link fault.
    core: Vec<Order>,
    link: Vec<Order>,
}

impl<'a> Orders<'a> {
    /// All orders to this depth.
    #[must_use]
    pub fn new(spec: &'a Spec, depth: u8) -> Self {
        let mut alphabet = core_alphabet(spec);
        let core_letters = alphabet.len();
        alphabet.extend(link_faults(spec));
        let all = orders(alphabet.len(), depth.min(LINK_DEPTH));
        let link = all.into_iter().filter(|order| order.iter().flatten().any(|&(l, _)| usize::from(l) >= core_letters));
        Self { spec, core: orders(core_letters, depth.min(MOST_ORDER_EVENTS)), link: link.collect(), alphabet }
    }

    /// How many drives they make: each order of the core alphabet at each phase, those with link faults at two.
    #[must_use]
    pub fn len(&self) -> usize {
        self.core.len() * PHASES.len() + self.link.len() * LINK_PHASES
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Orders of the core alphabet, orders with a link fault.
    #[must_use]
    pub fn counts(&self) -> (usize, usize) {
        (self.core.len(), self.link.len())
    }

    /// One of them. Short orders come first, and all phases of one order stand together.
    #[must_use]
    pub fn drive(&self, index: usize) -> Drive {
        let core = self.core.len() * PHASES.len();
        let (orders, at, phases) =
            if index < core { (&self.core, index, PHASES.len()) } else { (&self.link, index - core, LINK_PHASES) };
        let phase = PHASES.get(at % phases).copied().unwrap_or(Phase::Engaging);
        let order = orders.get(at / phases).copied().unwrap_or_default();
        self.at_phase(phase, order, u32::try_from(index).unwrap_or(u32::MAX))
    }

    fn at_phase(&self, phase: Phase, order: Order, number: u32) -> Drive {
        let (draft, anchor) = self.run_up(phase);
        let mut drive = draft.drive;
        let hash = small_hash("event order", number);
        let mut later_ms = 0;
        for (nth, (letter, same_tick)) in order.into_iter().flatten().enumerate() {
            if nth > 0 && !same_tick {
                // Two bits of the hash an event.
                later_ms += GAPS_MS[(hash >> (2 * nth)) as usize % GAPS_MS.len()];
            }
            let Some(&what) = self.alphabet.get(usize::from(letter)) else { continue };
            let when = match anchor {
                When::At(ms) => When::At(ms + later_ms),
                When::After(condition, ms) => When::After(condition, ms + later_ms),
            };
            drive.events.push(Event { when, what });
        }
        // Odd phases from 1 to 99 ms.
        drive.start.poll_phase_ms = (hash >> 16) as u16 % 50 * 2 + 1;
        drive.start.link_key = hash;
        drive
    }

    /// The drive around a phase, and when its first event comes.
    fn run_up(&self, phase: Phase) -> (Draft<'a>, When) {
        let spec = self.spec;
        let limits = &spec.limits;
        if matches!(phase, Phase::Engaging | Phase::AtRest) {
            let gate_ms = 1200;
            let into_ms = gate_ms + if spec.facts.take_over == TakeOver::Button { 400 } else { 0 };
            let draft = Draft::at_rest(spec).stand(3500).gate_at(gate_ms).pedal(5000, 60.0);
            let held_ms = limits.conditions_held.ms();
            let first_ms = match phase {
                Phase::Engaging => into_ms + held_ms / 2 / 10 * 10,
                _ => into_ms + held_ms + limits.engages_within.ms().min(800),
            };
            return (draft, When::At(first_ms));
        }
        let slow = (ceiling_kmh(spec) * 0.75).floor();
        let draft = Draft::rolling(spec, slow).hold(1800, slow).gate_at(1200).pedal(5000, 60.0).brake(1500, 20.0);
        let up = Direction::Up;
        let anchor = match phase {
            Phase::InPulse => When::After(Condition::Closes(up), 30),
            Phase::AfterPulse => When::After(Condition::Opens(up), 30),
            Phase::InShift => When::After(Condition::ShiftBegins, 200),
            Phase::AfterShift => When::After(Condition::ShiftEnds, 30),
            _ => {
                let gear = gear_for(spec, slow).min(top_gear(spec).saturating_sub(1)).max(1);
                let line_kmh = spec.map.up_kmh(gear, 60.0).unwrap_or(slow).max(slow);
                When::After(Condition::SpeedAbove(tenths(line_kmh - 1.0)), 0)
            }
        };
        (draft, anchor)
    }
}

/// Lever, taps, range, loss, dip, reset, ignition; without what the vehicle hasn't, with the button where there is one.
fn core_alphabet(spec: &Spec) -> Vec<Happening> {
    let (fresh_ms, lost_ms) = (spec.limits.data_fresh.ms(), spec.limits.data_lost.ms());
    let mut letters = vec![
        Happening::Lever(Lever::Gate),
        Happening::Lever(Lever::D),
        Happening::Lever(Lever::N),
        Happening::Tap(Direction::Up, 120),
        Happening::Tap(Direction::Down, 120),
        Happening::Lost(Which::All, fresh_ms + 200),
        Happening::Lost(Which::All, lost_ms + 1000),
        Happening::Supply(3000, 200),
        Happening::Reset,
        Happening::Ignition(false),
        Happening::Ignition(true),
    ];
    if spec.facts.signals.range || spec.vehicle.gearbox.low_range.is_some() {
        letters.extend([Range::Low, Range::Transit, Range::High].map(Happening::Range));
    }
    if spec.facts.take_over == TakeOver::Button {
        letters.push(Happening::Button(300));
    }
    letters
}

/// 45: each kind on speed, on pedal and on all, for less and for longer than data may be missing; and a second
/// responder.
fn link_faults(spec: &Spec) -> Vec<Happening> {
    let short_ms = (spec.limits.data_fresh.ms() / 20 * 10).max(50);
    let long_ms = spec.limits.data_lost.ms() + 1500;
    let late_ms = 400;
    let mut faults = Vec::new();
    for which in [Which::One(SIGNALS[0]), Which::One(SIGNALS[1]), Which::All] {
        for ms in [short_ms, long_ms] {
            faults.extend([
                Happening::Lost(which, ms),
                Happening::Frozen(which, ms),
                Happening::Delayed(which, late_ms, ms),
                Happening::Negative(which, ms),
                Happening::Garbled(which, Beyond::Above, ms),
                Happening::Garbled(which, Beyond::Below, ms),
                Happening::Duplicated(which, ms),
            ]);
        }
    }
    faults.extend([(-300, long_ms), (300, long_ms), (300, short_ms)].map(|(off, ms)| Happening::SecondSpeed(off, ms)));
    faults
}

/// All orders of 1 to `depth` of so many letters, the short ones first.
fn orders(letters: usize, depth: u8) -> Vec<Order> {
    let mut all = Vec::new();
    let mut last = vec![Order::default()];
    for nth in 0..usize::from(depth) {
        let mut longer = Vec::with_capacity(last.len() * letters);
        for order in &last {
            for letter in (0..letters).map(|l| l as u8) {
                let mut apart = *order;
                apart[nth] = Some((letter, false));
                longer.push(apart);
                let before = nth.checked_sub(1).and_then(|before| order[before]);
                if before.is_some_and(|(before, _)| before < letter) {
                    let mut together = *order;
                    together[nth] = Some((letter, true));
                    longer.push(together);
                }
            }
        }
        all.extend_from_slice(&longer);
        last = longer;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive_check::check;
    use crate::drive_text::lines;
    use crate::make::test_spec::van;
    use std::collections::BTreeSet;

    /// The recurrence of the module's words, from binomial coefficients.
    fn counted(letters: u64, depth: usize) -> u64 {
        let choose = |s: u64| (0..s).fold(1, |c, i| c * letters.saturating_sub(i) / (i + 1));
        let mut a = vec![1];
        for k in 1..=depth {
            a.push((1..=k).map(|s| choose(s as u64) * a[k - s]).sum());
        }
        a[1..].iter().sum()
    }

    #[test]
    fn the_orders_are_as_many_as_the_formula_says() {
        assert_eq!(counted(14, 3), 14 + 287 + 5656);
        for (letters, depth) in [(1, 3), (2, 4), (14, 1), (14, 2), (14, 3), (59, 2)] {
            assert_eq!(orders(letters, depth).len() as u64, counted(letters as u64, depth.into()), "{letters} {depth}");
        }
        let spec = van();
        let (core, link) = Orders::new(&spec, 3).counts();
        assert_eq!((core, link as u64), (5957, counted(59, 2) - counted(14, 2)));
    }

    #[test]
    fn no_order_comes_twice() {
        let all = orders(14, 3);
        assert_eq!(all.iter().collect::<BTreeSet<_>>().len(), all.len());
    }

    #[test]
    fn each_drive_is_within_bounds_and_has_its_events() {
        let spec = van();
        let orders = Orders::new(&spec, 2);
        for index in (0..orders.len()).step_by(17) {
            let drive = orders.drive(index);
            assert_eq!(check(&drive), Ok(()), "{}", lines(&drive).join("\n"));
            // The hand-over and one or two events of the order.
            assert!((2..=3).contains(&drive.events.len()), "{}", lines(&drive).join("\n"));
        }
        assert!(Orders::new(&spec, 0).is_empty());
    }

    #[test]
    fn the_alphabets_are_those_of_the_page() {
        let spec = van();
        assert_eq!((core_alphabet(&spec).len(), link_faults(&spec).len()), (14, 45));
    }
}
