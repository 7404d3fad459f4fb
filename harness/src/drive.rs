//! The drive: the whole input of one run, as plain integers on the tick grid. The same type serves manoeuvres, random
//! drives, shrinking, fuzzing and replay files.
//!
//! Units: times in ms, speeds in 0.1 km/h, pedal in 0.1 %, brake in 0.1 % of full braking (1 g), grade in 0.1 %.

use crate::signal::{Direction, Lever, Range, Signal};

/// A whole drive.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Drive {
    /// Where things stand when the box gets its supply.
    pub start: Start,
    /// What the road and the driver's feet do, one after the other.
    pub steps: Vec<Step>,
    /// What else happens.
    pub events: Vec<Event>,
}

/// Start state.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Start {
    /// Road speed, 0.1 km/h.
    pub speed: u16,
    /// Gear (1 = first).
    pub gear: u8,
    /// Lever position.
    pub lever: Lever,
    /// Transfer case.
    pub range: Range,
    /// The box's clock at power-up, ms.
    pub clock_ms: u64,
    /// Time from power-up to the first request on the link, ms.
    pub poll_phase_ms: u16,
    /// Key of the link's latencies; 0 is the nominal latency throughout.
    pub link_key: u64,
    /// Road grip: greatest friction coefficient, 0.01.
    pub grip: u8,
}

impl Default for Start {
    fn default() -> Self {
        Self {
            speed: 0,
            gear: 1,
            lever: Lever::D,
            range: Range::High,
            clock_ms: 0,
            poll_phase_ms: 0,
            link_key: 0,
            grip: 90,
        }
    }
}

/// A stretch of driving.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Step {
    /// Its length, ms.
    pub ms: u32,
    /// What the driver asks for.
    pub demand: Demand,
    /// Brake, 0.1 % of 1 g.
    pub brake: u16,
    /// Grade of the road, 0.1 %; up is positive.
    pub grade: i16,
}

/// What the driver asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Demand {
    /// Pedal at once at this position, 0.1 %.
    Pedal(u16),
    /// Pedal moves evenly to this position over the step, 0.1 %.
    PedalTo(u16),
    /// Pedal at the first position (0.1 %), then at the second, in turn, each for this long, ms.
    InTurn(u16, u16, u16),
    /// The driver holds this speed with the pedal, 0.1 km/h.
    Hold(u16),
    /// Cruise control holds this speed, 0.1 km/h; the pedal reads released.
    Cruise(u16),
}

/// Something that happens once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Event {
    /// When.
    pub when: When,
    /// What.
    pub what: Happening,
}

/// When an event comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum When {
    /// At this time, ms.
    At(u32),
    /// This long (ms) after the tick that follows the first one on which the condition held.
    After(Condition, u32),
}

/// A condition on the state of the tick before; it fires once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Condition {
    /// True road speed at this or above, 0.1 km/h.
    SpeedAbove(u16),
    /// True road speed at this or below, 0.1 km/h.
    SpeedBelow(u16),
    /// The actual gear is this.
    Gear(u8),
    /// The box closes this contact.
    Closes(Direction),
    /// The box opens this contact again.
    Opens(Direction),
    /// A shift has begun.
    ShiftBegins,
    /// A shift has ended.
    ShiftEnds,
}

/// Which signals a link fault touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Which {
    /// One signal.
    One(Signal),
    /// All of them.
    All,
}

impl Which {
    /// Whether the fault touches this signal.
    #[must_use]
    pub fn touches(self, signal: Signal) -> bool {
        match self {
            Self::One(one) => one == signal,
            Self::All => true,
        }
    }
}

/// On which side of its range a value lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Beyond {
    /// Above what the signal can be.
    Above,
    /// Below.
    Below,
}

/// What happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Happening {
    /// The lever moves here.
    Lever(Lever),
    /// The lever moves to the first position, then to the second, in turn, every so many ms, for this long, ms.
    LeverInTurn(Lever, Lever, u16, u32),
    /// The driver taps for this long, ms.
    Tap(Direction, u16),
    /// The engage button is pressed for this long, ms.
    Button(u16),
    /// The transfer case moves here.
    Range(Range),
    /// Ignition on or off.
    Ignition(bool),
    /// The engine stalls (false) or starts again (true).
    Engine(bool),
    /// Supply at this voltage (mV) for this long (ms).
    Supply(u16, u16),
    /// The box is reset.
    Reset,
    /// No answers of these signals for this long, ms.
    Lost(Which, u32),
    /// Answers repeat the value of now for this long, ms.
    Frozen(Which, u32),
    /// Answers take longer by the first number (ms) for the second (ms).
    Delayed(Which, u16, u32),
    /// Answers are negative for this long, ms.
    Negative(Which, u32),
    /// Answers carry a value that the signal can't have for this long, ms.
    Garbled(Which, Beyond, u32),
    /// Each answer comes twice for this long, ms.
    Duplicated(Which, u32),
    /// A second responder answers the speed request too, off by this (0.1 km/h), for this long, ms.
    SecondSpeed(i16, u32),
    /// The wheels stand still for this long, ms.
    WheelLock(u16),
    /// The driven wheels turn faster by this (0.1 km/h) for this long, ms.
    WheelSpin(u16, u16),
    /// The gearbox refuses this many taps from now on.
    Refuse(u8),
    /// Shifts take this much longer from now on, ms.
    SlowShifts(u16),
    /// The gearbox goes to this gear by itself, once.
    SelfShift(u8),
    /// From now on the gearbox takes the box's taps the other way round (true) or the right way (false).
    Swapped(bool),
    /// From now on the speed read is off by this share, 0.1 %: other tyres or another axle than it is counted for; 0 is
    /// right.
    SpeedOff(i16),
}

impl Happening {
    /// A small number that tells kinds apart, whatever their other numbers.
    #[must_use]
    pub fn kind(&self) -> u8 {
        match self {
            Self::Lever(_) => 0,
            Self::LeverInTurn(..) => 1,
            Self::Tap(..) => 2,
            Self::Button(_) => 3,
            Self::Range(_) => 4,
            Self::Ignition(_) => 5,
            Self::Engine(_) => 6,
            Self::Supply(..) => 7,
            Self::Reset => 8,
            Self::Lost(..) => 9,
            Self::Frozen(..) => 10,
            Self::Delayed(..) => 11,
            Self::Negative(..) => 12,
            Self::Garbled(..) => 13,
            Self::Duplicated(..) => 14,
            Self::SecondSpeed(..) => 15,
            Self::WheelLock(_) => 16,
            Self::WheelSpin(..) => 17,
            Self::Refuse(_) => 18,
            Self::SlowShifts(_) => 19,
            Self::SelfShift(_) => 20,
            Self::Swapped(_) => 21,
            Self::SpeedOff(_) => 22,
        }
    }

    /// How long it lasts, ms, where it says so.
    #[must_use]
    pub fn lasts_ms(mut self) -> Option<u32> {
        let mut found = None;
        self.relast(&mut |ms| {
            found = u32::try_from(ms).ok();
            ms
        });
        found
    }

    /// Sets how long it lasts, ms, to what `with` makes of it; what has no length, or can't have that one, stays.
    pub fn relast(&mut self, with: &mut dyn FnMut(i64) -> i64) {
        match self {
            Self::Tap(_, ms)
            | Self::Button(ms)
            | Self::WheelLock(ms)
            | Self::WheelSpin(_, ms)
            | Self::Supply(_, ms)
            | Self::SlowShifts(ms) => put(ms, with),
            Self::Lost(_, ms)
            | Self::Frozen(_, ms)
            | Self::Delayed(_, _, ms)
            | Self::Negative(_, ms)
            | Self::Garbled(_, _, ms)
            | Self::Duplicated(_, ms)
            | Self::SecondSpeed(_, ms)
            | Self::LeverInTurn(.., ms) => put(ms, with),
            Self::Lever(_)
            | Self::Range(_)
            | Self::Ignition(_)
            | Self::Engine(_)
            | Self::Reset
            | Self::Refuse(_)
            | Self::SelfShift(_)
            | Self::SpeedOff(_)
            | Self::Swapped(_) => {}
        }
    }
}

/// Sets a number to what `with` makes of it, where it can hold that.
pub fn put<T: TryFrom<i64> + Copy + Into<i64>>(slot: &mut T, with: &mut dyn FnMut(i64) -> i64) {
    if let Ok(value) = T::try_from(with((*slot).into())) {
        *slot = value;
    }
}

impl Drive {
    /// Length, ms: that of its steps.
    #[must_use]
    pub fn length_ms(&self) -> u32 {
        self.steps.iter().map(|s| s.ms).fold(0, u32::saturating_add)
    }

    /// Steps and events together: what a reader has to take in.
    #[must_use]
    pub fn size(&self) -> usize {
        self.steps.len() + self.events.len()
    }
}

/// No drive is longer than a day.
pub const LONGEST_MS: u32 = 24 * 3600 * 1000;
