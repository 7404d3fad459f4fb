//! The signals of protocol 1: what the box gets and gives each tick, the same for all kinds of controller.

use serde::{Deserialize, Serialize};

/// Lever position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, arbitrary::Arbitrary)]
#[serde(rename_all = "lowercase")]
pub enum Lever {
    /// Park.
    P,
    /// Reverse.
    R,
    /// Neutral.
    N,
    /// Drive: the gearbox shifts by itself.
    D,
    /// The manual gate.
    Gate,
}

/// Position of the transfer case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, arbitrary::Arbitrary)]
#[serde(rename_all = "lowercase")]
pub enum Range {
    /// High range.
    High,
    /// Neither: in between, no drive.
    Transit,
    /// Low range.
    Low,
}

/// A signal polled over the diagnostic port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, arbitrary::Arbitrary)]
#[serde(rename_all = "kebab-case")]
pub enum Signal {
    /// Road speed, km/h (service 01 identifier 0D).
    Speed,
    /// Accelerator pedal, % (identifier 49, 4A or 5A).
    Pedal,
    /// Engine speed, r/min (identifier 0C).
    EngineSpeed,
    /// Actual gear (1 = first).
    Gear,
}

/// All signals, in polling order.
pub const SIGNALS: [Signal; 4] = [Signal::Speed, Signal::Pedal, Signal::EngineSpeed, Signal::Gear];

/// What an answer on the port holds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Content {
    /// A value in the signal's unit.
    Value(f64),
    /// A negative answer with its code.
    Negative(u8),
}

/// An answer that arrived since the box's last tick.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    /// Which signal it answers.
    pub signal: Signal,
    /// What it holds.
    pub content: Content,
    /// When it arrived, ms on the box's clock.
    pub arrival_ms: u64,
}

/// A request that the box has sent over the diagnostic port: one frame, its first byte names the service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Request {
    bytes: [u8; 7],
    length: u8,
}

impl Request {
    /// A request of one to seven bytes, as they fit in a single frame (ISO 15765-2).
    #[must_use]
    pub fn new(bytes: &[u8]) -> Option<Self> {
        let mut all = [0; 7];
        all.get_mut(..bytes.len())?.copy_from_slice(bytes);
        u8::try_from(bytes.len()).ok().filter(|&length| length > 0).map(|length| Self { bytes: all, length })
    }

    /// The request of a text such as `010D`.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let digits =
            text.chars().map(|c| c.to_digit(16).and_then(|d| u8::try_from(d).ok())).collect::<Option<Vec<u8>>>()?;
        let bytes: Vec<u8> =
            digits.chunks(2).filter_map(|pair| pair.first().zip(pair.get(1))).map(|(a, b)| a * 16 + b).collect();
        (digits.len().is_multiple_of(2)).then(|| Self::new(&bytes)).flatten()
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.length)).unwrap_or(&self.bytes)
    }

    /// The service that it asks for.
    #[must_use]
    pub fn service(&self) -> u8 {
        self.bytes[0]
    }
}

impl std::fmt::Display for Request {
    /// `010D`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.bytes().iter().try_for_each(|byte| write!(f, "{byte:02X}"))
    }
}

/// A direction of shift.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, arbitrary::Arbitrary)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// To the next higher gear.
    Up,
    /// To the next lower gear.
    Down,
}

/// What the box is wired to, sampled at its tick, and its clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inputs {
    /// The box's clock, ms.
    pub time_ms: u64,
    /// Lever position.
    pub lever: Lever,
    /// Transfer case; `None` where it isn't wired to the box.
    pub range: Option<Range>,
    /// Ignition on.
    pub ignition: bool,
    /// Supply voltage, mV.
    pub supply_mv: u32,
    /// Engage button; `None` for a box that engages by the lever.
    pub button: Option<bool>,
    /// Level of the tap input up, closed = true.
    pub tap_up: bool,
    /// Level of the tap input down.
    pub tap_down: bool,
    /// Closing edges of the tap input up since the last tick.
    pub tap_up_edges: u8,
    /// Closing edges of the tap input down since the last tick.
    pub tap_down_edges: u8,
}

/// State of the two contacts, closed = true.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Contacts {
    /// The up contact.
    pub up: bool,
    /// The down contact.
    pub down: bool,
}

impl Contacts {
    /// Both open.
    pub const OPEN: Self = Self { up: false, down: false };
}

/// What the box does with the lever's contacts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// The state of each contact.
    Contacts(Contacts),
    /// A wish for one shift, or none; the harness makes the pulse.
    Request(Option<Direction>),
}

/// What the box announces to the driver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Announcement {
    /// The box is up and reads data.
    Ready,
    /// It has engaged.
    Engaged,
    /// It has disengaged on the driver's wish.
    Disengaged,
    /// It has disengaged because of a fault.
    Fault,
}

/// What the box gives each tick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Output {
    /// Contacts or request.
    pub action: Action,
    /// An announcement that starts in this tick.
    pub announcement: Option<Announcement>,
    /// Whether the box holds itself engaged, where exposed.
    pub engaged: Option<bool>,
    /// The gear the box thinks it is in, where exposed.
    pub counted_gear: Option<u8>,
}

impl Output {
    /// Both contacts open, nothing said.
    pub const OPEN: Self =
        Self { action: Action::Contacts(Contacts::OPEN), announcement: None, engaged: None, counted_gear: None };
}
