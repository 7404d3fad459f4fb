//! What the box senses: the lever, the driver's hand, the data, and the gear that follows from them.

use super::{Chart, State, Work};
use sprag::signal::{Answer, Content, Direction, Inputs, Lever, Range, Signal};
use sprag::spec::facts::{TakeOver, TapWiring};
use sprag::spec::vehicle::{EntryGear, GateMeans};

/// A value and when it arrived.
#[derive(Debug, Clone, Copy)]
pub(super) struct Read {
    pub(super) value: f64,
    pub(super) at: i64,
}

/// What the box senses in a tick.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sense {
    pub(super) in_gate: bool,
    pub(super) left: bool,
    pub(super) entered: bool,
    pub(super) handed_over: bool,
    pub(super) tapped: bool,
    pub(super) off: bool,
    pub(super) low: bool,
    pub(super) lost: bool,
    pub(super) fresh: bool,
}

impl Chart {
    pub(super) fn take(&mut self, inputs: &Inputs, answers: &[Answer]) {
        for answer in answers {
            let Content::Value(value) = answer.content else { continue };
            let at = self.now - inputs.time_ms.wrapping_sub(answer.arrival_ms).cast_signed();
            let read = Read { value, at };
            match answer.signal {
                Signal::Speed if (0.0..=255.0).contains(&value) => {
                    let wild = self.speed.is_some_and(|old| self.is_wild(old, read));
                    if wild {
                        self.trusted_from = at + 520;
                    }
                    let still = value <= self.hello.standstill_kmh;
                    let begins = at + if wild { 4000 } else { 0 };
                    self.standing_from = still.then(|| self.standing_from.unwrap_or(begins));
                    self.speed = Some(read);
                }
                Signal::Pedal if (0.0..=100.0).contains(&value) => self.pedal = Some(read),
                Signal::Gear if value >= 1.0 && value <= f64::from(self.hello.top_gear) => {
                    if self.read_gear.is_none_or(|old| old.value != value) {
                        self.gear_from = at;
                    }
                    self.read_gear = Some(read);
                }
                _ => {}
            }
        }
    }

    fn is_wild(&self, old: Read, new: Read) -> bool {
        let s = (new.at - old.at) as f64 / 1000.0;
        let by = new.value - old.value;
        by > self.hello.rise_limit_kmh_per_s * s + 2.0 || -by > self.hello.fall_limit_kmh_per_s * s + 2.0
    }

    pub(super) fn age(&self) -> i64 {
        let age = |read: Option<Read>| read.map_or(1_000_000, |read| self.now - read.at);
        age(self.speed).max(age(self.pedal))
    }

    pub(super) fn sense(&mut self, inputs: &Inputs) -> Sense {
        let in_gate = inputs.lever == Lever::Gate;
        let first = self.now == 0;
        let mut entered = false;
        let mut long_out = false;
        if in_gate {
            if let Some(from) = self.out_from.take() {
                entered = self.now - from >= self.hello.lever_bounce_ms.into();
                long_out = self.now - from >= 200;
            }
        } else {
            self.out_from.get_or_insert(if first { -1000 } else { self.now });
        }
        let left = self.out_from.is_some_and(|from| self.now - from >= self.hello.lever_bounce_ms.into());
        let pressed = inputs.button == Some(true);
        let handed_over = match self.hello.take_over {
            TakeOver::Lever => entered && long_out,
            TakeOver::Button => pressed && !self.button && in_gate,
        };
        self.button = pressed || inputs.button.is_none();
        let own = self.hello.tap_wiring == TapWiring::Shared && self.now < self.own_until;
        let hides = |way| own && self.last.is_some_and(|(last, _)| last == way);
        let up = (inputs.tap_up || inputs.tap_up_edges > 0) && !hides(Direction::Up);
        let down = (inputs.tap_down || inputs.tap_down_edges > 0) && !hides(Direction::Down);
        Sense {
            in_gate,
            left,
            entered,
            handed_over,
            tapped: up || down,
            off: !inputs.ignition,
            low: inputs.range.is_some_and(|range| range != Range::High),
            lost: self.age() > self.hello.data_lost_ms.into(),
            fresh: self.age() <= self.hello.data_fresh_ms.into(),
        }
    }

    /// The gear after what has happened besides its own commands.
    pub(super) fn follow_gear(&mut self, sense: Sense) {
        if sense.left {
            self.gear = None;
        }
        if sense.entered {
            self.gear = self.entry();
            (self.moved, self.retries, self.unsure) = (self.now, 0, false);
        }
        if sense.tapped {
            self.moved = self.now;
            if self.read_gear.is_none() {
                (self.gear, self.unsure) = (None, true);
            }
        }
        let rests = matches!(self.state, State::Engaged(Work::Resting { .. }));
        match (self.read_gear, self.gear) {
            (Some(read), Some(gear))
                if !rests && read.at >= self.moved + 1200.max(i64::from(self.hello.shift_confirmed_ms)) =>
            {
                let read = whole(read.value);
                let follows = match self.hello.gate {
                    GateMeans::HeldGear => true,
                    GateMeans::RangeLimit => read > gear,
                };
                if follows {
                    self.gear = Some(read);
                }
            }
            (None, Some(gear))
                if self.hello.shifts_down_itself && self.standing_from.is_some_and(|from| self.now >= from + 1000) =>
            {
                self.gear = Some(gear.min(self.hello.lowest_gear));
            }
            _ => {}
        }
    }

    pub(super) fn entry(&self) -> Option<u8> {
        let read = self.read_gear.map(|read| whole(read.value));
        match self.hello.entry {
            EntryGear::Current => read,
            EntryGear::OneBelow => read.map(|gear| gear.saturating_sub(1).max(1)),
            EntryGear::Fixed(least) => {
                let kmh = self.speed?.value;
                let fits = |gear: &u8| {
                    let rpm = self.hello.rpm_per_kmh.get(usize::from(*gear) - 1).map(|r| r * kmh);
                    rpm.is_some_and(|rpm| rpm <= self.hello.redline_rpm)
                };
                (least..self.hello.top_gear).find(fits).or(Some(self.hello.top_gear))
            }
        }
    }
}

/// A gear that was read; only 1 to the top gear are let in.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within 1 to the top gear")]
pub(super) fn whole(value: f64) -> u8 {
    value as u8
}
