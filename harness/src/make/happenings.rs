//! What may go wrong in a drive, kind by kind, with durations on the spec's own limits, one tick beside them, and far
//! from them.

use super::dice::Dice;
use super::draft::top_gear;
use crate::drive::{Beyond, Happening, Which};
use crate::signal::{Direction, Lever, Range, Signal};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// A kind of trouble: what happens but for its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Trouble {
    Lever(Lever),
    Tap(Direction),
    LongTap(Direction),
    Range(Range),
    Ignition,
    Stall,
    Dip,
    Reset,
    Lost(Which),
    LostForLong,
    Frozen,
    Delayed,
    Negative,
    Garbled(Which, Beyond),
    Duplicated,
    SecondSpeed,
    WheelLock,
    WheelSpin,
    Refuse,
    SlowShifts,
    SelfShift,
    Swapped,
    Button,
}

const BOTH: Which = Which::All;
const SPEED: Which = Which::One(Signal::Speed);
const PEDAL: Which = Which::One(Signal::Pedal);

/// The kinds that every vehicle and box can meet; what comes in many forms stands here more than once.
const KINDS: [Trouble; 37] = [
    Trouble::Lever(Lever::D),
    Trouble::Lever(Lever::N),
    Trouble::Lever(Lever::R),
    Trouble::Lever(Lever::P),
    Trouble::Tap(Direction::Up),
    Trouble::Tap(Direction::Down),
    Trouble::LongTap(Direction::Up),
    Trouble::LongTap(Direction::Down),
    Trouble::Ignition,
    Trouble::Stall,
    Trouble::Dip,
    Trouble::Dip,
    Trouble::Reset,
    Trouble::Lost(BOTH),
    Trouble::Lost(SPEED),
    Trouble::Lost(PEDAL),
    Trouble::LostForLong,
    Trouble::Frozen,
    Trouble::Frozen,
    Trouble::Delayed,
    Trouble::Negative,
    Trouble::Garbled(SPEED, Beyond::Above),
    Trouble::Garbled(SPEED, Beyond::Below),
    Trouble::Garbled(PEDAL, Beyond::Above),
    Trouble::Duplicated,
    Trouble::SecondSpeed,
    Trouble::WheelLock,
    Trouble::WheelLock,
    Trouble::WheelSpin,
    Trouble::WheelSpin,
    Trouble::Refuse,
    Trouble::Refuse,
    Trouble::SlowShifts,
    Trouble::SelfShift,
    Trouble::SelfShift,
    Trouble::Swapped,
    Trouble::Swapped,
];

/// Those of the link.
const LINK: [Trouble; 10] = [
    Trouble::Lost(BOTH),
    Trouble::LostForLong,
    Trouble::LostForLong,
    Trouble::LostForLong,
    Trouble::Frozen,
    Trouble::Delayed,
    Trouble::Negative,
    Trouble::Garbled(SPEED, Beyond::Above),
    Trouble::Garbled(PEDAL, Beyond::Above),
    Trouble::SecondSpeed,
];

fn which(dice: &mut Dice) -> Which {
    dice.one([BOTH, SPEED, PEDAL])
}

impl Trouble {
    /// Whether the box most likely lets go, so that the driver has to hand over again.
    pub(super) fn ends_engagement(self) -> bool {
        !matches!(self, Self::WheelLock | Self::WheelSpin | Self::Refuse | Self::SlowShifts | Self::Duplicated)
    }

    /// Whether the box can know at the tick on which it comes: what it is wired to, or its own supply.
    #[must_use]
    pub fn at_once(self) -> bool {
        matches!(
            self,
            Self::Lever(_)
                | Self::Tap(_)
                | Self::LongTap(_)
                | Self::Range(_)
                | Self::Ignition
                | Self::Dip
                | Self::Reset
                | Self::Button
        )
    }

    /// What puts it right again, if something of its own does.
    #[must_use]
    pub fn mended_by(self) -> Option<Happening> {
        match self {
            Self::Lever(_) => Some(Happening::Lever(Lever::Gate)),
            Self::Range(_) => Some(Happening::Range(Range::High)),
            Self::Ignition => Some(Happening::Ignition(true)),
            Self::Stall => Some(Happening::Engine(true)),
            Self::Swapped => Some(Happening::Swapped(false)),
            _ => None,
        }
    }
}

/// The troubles of a spec: what the vehicle or box hasn't, doesn't happen.
pub(crate) struct Troubles<'a> {
    spec: &'a Spec,
    tick_ms: u32,
    /// The kinds.
    pub kinds: Vec<Trouble>,
}

impl<'a> Troubles<'a> {
    /// Those of this spec.
    #[must_use]
    pub fn new(spec: &'a Spec) -> Self {
        let mut kinds = KINDS.to_vec();
        if spec.facts.signals.range || spec.vehicle.gearbox.low_range.is_some() {
            kinds.extend([Trouble::Range(Range::Low), Trouble::Range(Range::Transit)]);
        }
        if spec.facts.take_over == TakeOver::Button {
            kinds.push(Trouble::Button);
        }
        Self { spec, tick_ms: spec.facts.tick.ms().max(1), kinds }
    }

    /// Any kind.
    pub(super) fn any(&self, dice: &mut Dice) -> Trouble {
        let at = dice.below(u32::try_from(self.kinds.len()).unwrap_or(1)) as usize;
        self.kinds.get(at).copied().unwrap_or(Trouble::Reset)
    }

    /// A trouble of the link, long silences most of all.
    pub(super) fn of_link(&self, dice: &mut Dice) -> Trouble {
        dice.one(LINK)
    }

    /// The happening of a kind, with numbers.
    pub fn happening(&self, kind: Trouble, dice: &mut Dice) -> Happening {
        match kind {
            Trouble::Lever(lever) => Happening::Lever(lever),
            Trouble::Tap(way) => Happening::Tap(way, if dice.chance(50) { 120 } else { dice.ms(10, 300) as u16 }),
            Trouble::LongTap(way) => Happening::Tap(way, dice.ms(300, 2000) as u16),
            Trouble::Range(range) => Happening::Range(range),
            Trouble::Ignition => Happening::Ignition(false),
            Trouble::Stall => Happening::Engine(false),
            Trouble::Dip => Happening::Supply(dice.within(0, 110) as u16 * 100, dice.ms(10, 800) as u16),
            Trouble::Reset => Happening::Reset,
            Trouble::Lost(which) => Happening::Lost(which, self.duration_ms(dice)),
            Trouble::LostForLong => Happening::Lost(which(dice), dice.ms(2000, 9000)),
            Trouble::Frozen => Happening::Frozen(which(dice), self.duration_ms(dice)),
            Trouble::Delayed => {
                let (which, by_ms) = (which(dice), dice.ms(50, 1500) as u16);
                Happening::Delayed(which, by_ms, self.duration_ms(dice))
            }
            Trouble::Negative => Happening::Negative(which(dice), self.duration_ms(dice)),
            Trouble::Garbled(which, beyond) => Happening::Garbled(which, beyond, self.duration_ms(dice)),
            Trouble::Duplicated => Happening::Duplicated(which(dice), self.duration_ms(dice)),
            Trouble::SecondSpeed => {
                let off = dice.within(-500, 500) as i16;
                Happening::SecondSpeed(off, self.duration_ms(dice))
            }
            Trouble::WheelLock => Happening::WheelLock(dice.ms(100, 3000) as u16),
            Trouble::WheelSpin => Happening::WheelSpin(dice.within(50, 600) as u16, dice.ms(200, 3000) as u16),
            Trouble::Refuse => Happening::Refuse(dice.within(1, 4) as u8),
            Trouble::SlowShifts => Happening::SlowShifts(dice.ms(100, 2500) as u16),
            Trouble::SelfShift => Happening::SelfShift(dice.within(1, i32::from(top_gear(self.spec))) as u8),
            Trouble::Swapped => Happening::Swapped(true),
            Trouble::Button => Happening::Button(dice.ms(20, 1200) as u16),
        }
    }

    /// How long a fault of the link lasts: on a limit, within a poll of it, short or long.
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
