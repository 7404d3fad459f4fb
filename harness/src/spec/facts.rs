//! Box facts: what the maker declares of the controller, so that a rule knows what to expect and what not to ask for.

use crate::signal::{SIGNALS, Signal};
use crate::units::Ms;
use schemars::JsonSchema;
use serde::Serialize;

/// How the driver hands over shifting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TakeOver {
    /// By moving the lever into the gate.
    Lever,
    /// By a button while the lever is in the gate.
    Button,
}

/// What a cause does to an engaged box.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OnCause {
    /// It disengages until the next take-over.
    Disengages,
    /// It pauses for this many ms after the cause has ended, then goes on.
    PausesMs(u32),
}

/// How the driver's own taps reach the box.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TapWiring {
    /// Inputs of their own: the box never sees its own pulses there.
    Separate,
    /// In parallel with the box's contacts: the box reads its own pulses back.
    Shared,
}

/// What the box answers with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Answers {
    /// The state of each contact, every tick.
    Contacts,
    /// A shift request, from which the harness makes an ideal pulse of this width and least gap.
    Requests {
        /// Width of the pulse.
        width: Ms,
        /// Least time both contacts stay open between pulses.
        gap: Ms,
    },
}

/// Which signals the vehicle offers the box over the diagnostic port, besides road speed and pedal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Signals {
    /// Engine speed is polled.
    pub engine_speed: bool,
    /// The actual gear is polled.
    pub gear: bool,
    /// The range of the transfer case is wired to the box.
    pub range: bool,
}

impl Signals {
    /// The signals that are polled, in polling order.
    pub fn polled(self) -> impl Iterator<Item = Signal> {
        SIGNALS.into_iter().filter(move |signal| match signal {
            Signal::Speed | Signal::Pedal => true,
            Signal::EngineSpeed => self.engine_speed,
            Signal::Gear => self.gear,
        })
    }
}

/// Which engagements the speed ceiling binds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CeilingBinds {
    /// Every engagement.
    Every,
    /// Only the first since power-up.
    First,
}

/// What arms the box again after it has disengaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ReArm {
    /// A fresh take-over, and nothing else.
    TakeOver,
    /// For a box with a button that has engaged since its power-up: the lever, back in the gate, too.
    BackInGate,
}

/// When a take-over edge lets the box engage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum AfterEdge {
    /// At any time after the edge once all conditions have held.
    AnyTime,
    /// Only if all conditions have held within this many ms of the edge.
    WithinMs(u32),
}

/// Whose shift map the box follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MapFrom {
    /// The one it is told at its start, so it must refuse a bad one.
    Hello,
    /// One of its own, equal to the spec's: what it is told it doesn't look at.
    Own,
}

/// Who shifts up out of first gear in the gate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OutOfFirst {
    /// The gearbox, by itself: it launches in first under a commanded second, and the map has no line 1>2.
    ByItself,
    /// The box, on the map's line 1>2: what the gate holds goes down to first with the gear, and stays there.
    Commanded,
}

impl OutOfFirst {
    /// The lowest gear out of which a box commands an upshift, by the lowest gear that it commands.
    #[must_use]
    pub fn lowest_up_from(self, lowest_gear: u8) -> u8 {
        match self {
            Self::ByItself => lowest_gear,
            Self::Commanded => 1,
        }
    }
}

/// The box.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct BoxFacts {
    /// Name of the build.
    pub name: String,
    /// The controller's tick, 1 to 20 ms.
    pub tick: Ms,
    /// Signals offered besides speed and pedal.
    pub signals: Signals,
    /// How it engages.
    pub take_over: TakeOver,
    /// What arms it again after it has disengaged.
    pub re_arm: ReArm,
    /// When an edge lets it engage.
    pub after_edge: AfterEdge,
    /// Which engagements the ceiling binds.
    pub ceiling_binds: CeilingBinds,
    /// What the driver's tap does.
    pub driver_tap: OnCause,
    /// What lost data does.
    pub lost_data: OnCause,
    /// How taps are wired.
    pub tap_wiring: TapWiring,
    /// Contacts or requests.
    pub answers: Answers,
    /// It announces engaging and disengaging.
    pub announces: bool,
    /// Lowest gear it commands, 2 or more.
    pub lowest_gear: u8,
    /// Who shifts up out of first.
    pub out_of_first: OutOfFirst,
    /// It notices that all it reads stands still although the engine runs; needs engine speed.
    pub notices_stuck: bool,
    /// It says which diagnostic requests it sends.
    pub sends_requests: bool,
    /// Whose map it follows.
    pub map_from: MapFrom,
}

impl BoxFacts {
    /// The lowest gear out of which the box commands an upshift.
    #[must_use]
    pub fn lowest_up_from(&self) -> u8 {
        self.out_of_first.lowest_up_from(self.lowest_gear)
    }
}
