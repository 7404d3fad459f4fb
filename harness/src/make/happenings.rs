//! What may go wrong in a drive, with durations on the spec's own limits, one tick beside them, and far from them.

use super::dice::Dice;
use super::draft::top_gear;
use crate::drive::{Beyond, Happening, Which};
use crate::signal::{Direction, Lever, Range, Signal};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// The happenings of a spec: what the vehicle or box hasn't, doesn't happen.
pub(super) struct Happenings<'a> {
    spec: &'a Spec,
    tick_ms: u32,
    ranged: bool,
    button: bool,
}

impl<'a> Happenings<'a> {
    pub(super) fn new(spec: &'a Spec) -> Self {
        Self {
            spec,
            tick_ms: spec.facts.tick.ms().max(1),
            ranged: spec.facts.signals.range || spec.vehicle.gearbox.low_range.is_some(),
            button: spec.facts.take_over == TakeOver::Button,
        }
    }

    /// Anything.
    pub(super) fn any(&self, dice: &mut Dice) -> Happening {
        match dice.weighted(&[4, if self.ranged { 3 } else { 0 }, 8, 4, 4, if self.button { 3 } else { 0 }]) {
            0 => self.of_driver(dice),
            1 => Happening::Range(dice.one([Range::Low, Range::Low, Range::Transit])),
            2 => self.of_link(dice),
            3 => self.of_power(dice),
            4 => self.of_gearbox(dice),
            _ => Happening::Button(dice.ms(20, 1200) as u16),
        }
    }

    fn of_driver(&self, dice: &mut Dice) -> Happening {
        if dice.chance(40) {
            return Happening::Lever(dice.one([Lever::D, Lever::D, Lever::N, Lever::R, Lever::P, Lever::Gate]));
        }
        let way = dice.one([Direction::Up, Direction::Down]);
        let ms = match dice.weighted(&[2, 2, 1]) {
            0 => 120,
            1 => dice.ms(10, 300),
            _ => dice.ms(300, 2000),
        };
        Happening::Tap(way, ms as u16)
    }

    fn of_power(&self, dice: &mut Dice) -> Happening {
        match dice.weighted(&[2, 2, 2, 1]) {
            0 => Happening::Reset,
            1 => Happening::Supply(dice.within(0, 110) as u16 * 100, dice.ms(10, 800) as u16),
            2 => Happening::Ignition(dice.chance(15)),
            _ => Happening::Engine(dice.chance(15)),
        }
    }

    fn of_gearbox(&self, dice: &mut Dice) -> Happening {
        match dice.weighted(&[2, 1, 1, 2, 2, 1]) {
            0 => Happening::WheelLock(dice.ms(100, 3000) as u16),
            1 => Happening::WheelSpin(dice.within(50, 600) as u16, dice.ms(200, 3000) as u16),
            2 => Happening::Swapped(true),
            3 => Happening::Refuse(dice.within(1, 4) as u8),
            4 => Happening::SlowShifts(dice.ms(100, 2500) as u16),
            _ => Happening::SelfShift(dice.within(1, i32::from(top_gear(self.spec))) as u8),
        }
    }

    /// A fault of the link.
    pub(super) fn of_link(&self, dice: &mut Dice) -> Happening {
        let which = which(dice);
        let ms = self.duration_ms(dice);
        match dice.weighted(&[5, 3, 2, 2, 3, 1, 2]) {
            0 => Happening::Lost(which, ms),
            1 => Happening::Frozen(which, ms),
            2 => Happening::Delayed(which, dice.ms(50, 1500) as u16, ms),
            3 => Happening::Negative(which, ms),
            4 => Happening::Garbled(which, if dice.chance(50) { Beyond::Above } else { Beyond::Below }, ms),
            5 => Happening::Duplicated(which, ms),
            _ => Happening::SecondSpeed(dice.within(-500, 500) as i16, ms),
        }
    }

    /// A signal that stays away for long, or both.
    pub(super) fn silence(&self, dice: &mut Dice) -> Happening {
        Happening::Lost(which(dice), dice.ms(2000, 9000))
    }

    /// How long a fault lasts: on a limit, within a poll of it, short or long.
    fn duration_ms(&self, dice: &mut Dice) -> u32 {
        let limits = &self.spec.limits;
        let limit_ms = dice.one([limits.data_fresh.ms(), limits.data_lost.ms(), limits.plausible_for.ms()]);
        match dice.weighted(&[1, 3, 2, 4]) {
            0 => limit_ms.saturating_add_signed(dice.within(-1, 1) * self.tick_ms as i32).max(self.tick_ms),
            1 => limit_ms + dice.ms(0, 300),
            2 => dice.ms(50, 1000),
            _ => dice.ms(1000, 8000),
        }
    }
}

fn which(dice: &mut Dice) -> Which {
    dice.one([Which::All, Which::One(Signal::Speed), Which::One(Signal::Pedal)])
}
