//! What the pass on engaging and disengaging tells.

pub use super::excuses::Excuses;
use crate::rules::may_command::Cause;
use crate::signal::Announcement;

/// An announcement.
#[derive(Debug, Clone, Copy)]
pub struct Said {
    /// When, ms.
    pub at_ms: u32,
    /// What.
    pub what: Announcement,
    /// The flag in that tick, where exposed.
    pub flag: Option<bool>,
    /// By its announcements it held itself engaged before.
    pub held_before: bool,
    /// The last take-over edge before it, ms.
    pub edge_ms: Option<u32>,
    /// The box may have been engaged.
    pub possible: bool,
    /// Speed or pedal has been read since power-up.
    pub has_read: bool,
    /// Start of the box, ms.
    pub power_up_ms: u32,
    /// What could have made it let go.
    pub excuses: Excuses,
}

/// An instant at which the box shows that it has let go.
#[derive(Debug, Clone, Copy)]
pub struct LetGo {
    /// When, ms.
    pub at_ms: u32,
    /// The flag shows it; else the announcement.
    pub flagged: bool,
    /// What could have made it let go.
    pub excuses: Excuses,
}

/// Something to be announced.
#[derive(Debug, Clone, Copy)]
pub struct Transition {
    /// When it happened, or must have happened at the latest, ms.
    pub at_ms: u32,
    /// It counts as announced by what was said from then on, ms.
    pub from_ms: u32,
    /// Engaging; else disengaging.
    pub engages: bool,
}

/// A start of the box.
#[derive(Debug, Clone, Copy)]
pub struct PowerUp {
    /// When, ms.
    pub at_ms: u32,
    /// The box may have been engaged when it lost its supply.
    pub was_engaged: bool,
    /// An own pulse ran when it lost its supply.
    pub in_pulse: bool,
    /// Until when a contact was closed that was closed or closing as the box started, ms after it.
    pub closed_ms: u32,
    /// First contact closed or engagement shown, ms.
    pub claim_ms: Option<u32>,
}

/// A disengage cause that begins in a tick in which the box might act.
#[derive(Debug, Clone, Copy)]
pub struct Tie {
    /// When, ms.
    pub at_ms: u32,
    /// How many causes begin in this tick.
    pub causes: u8,
    /// Engaging fell due within a moment.
    pub engaging: bool,
    /// A shift was due.
    pub shift_due: bool,
    /// Inside an own pulse.
    pub in_pulse: bool,
    /// Inside a shift.
    pub in_shift: bool,
    /// A command started in the very tick, or the flag rose, and in the next tick the box had noticed the cause.
    pub acts: bool,
}

/// The first command after an engagement.
#[derive(Debug, Clone, Copy)]
pub struct First {
    /// When, ms.
    pub at_ms: u32,
    /// The engagement, or the earliest time at which it can have been, ms.
    pub engaged_ms: u32,
    /// It was shown, not only possible.
    pub shown: bool,
}

/// An engagement shown after a disengagement.
#[derive(Debug, Clone, Copy)]
pub struct Again {
    /// When, ms.
    pub at_ms: u32,
    /// What had ended the engagement before, and when (ms).
    pub after: (Cause, u32),
    /// No take-over came in between.
    pub no_take_over: bool,
    /// How long the lever was out of the gate, or from the cause to the button, ms.
    pub out_ms: u32,
}

/// Everything told about the hand-over.
#[derive(Debug, Default)]
pub struct HandOver {
    /// Announcements.
    pub said: Vec<Said>,
    /// The flag has risen, ms.
    pub rises: Vec<u32>,
    /// Disengagements shown.
    pub let_go: Vec<LetGo>,
    /// What is to be announced.
    pub transitions: Vec<Transition>,
    /// Starts of the box.
    pub power_ups: Vec<PowerUp>,
    /// Losses of supply and resets, ms.
    pub offs: Vec<u32>,
    /// Ties.
    pub ties: Vec<Tie>,
    /// First commands after engaging.
    pub firsts: Vec<First>,
    /// Further steps towards the map's gear after engaging: when, and the command before, ms.
    pub entry_steps: Vec<(u32, u32)>,
    /// The lever came into the gate, or the button was pressed there, ms.
    pub take_overs: Vec<u32>,
    /// Engagements shown after others had ended.
    pub again: Vec<Again>,
    /// Contacts that closed, or engagements shown, since power-up without a take-over, before the box can have looked.
    pub unready: Vec<u32>,
    /// Contacts that were closed or closing as the box started, ms.
    pub at_start: Vec<u32>,
    /// Commands under a flag that says 'not engaged': when, and for how long it had said so, ms.
    pub denied: Vec<(u32, u32)>,
    /// The flag stood on after the engagement had ended: from, to, ms.
    pub flag_stays: Vec<(u32, u32)>,
    /// Speed and pedal have stood still for long on a live link, with the box engaged, ms.
    pub steadies: Vec<u32>,
    /// All conditions but a take-over and the ceiling were right: from, to, ms.
    pub right: Vec<(u32, u32)>,
}

impl HandOver {
    /// Forgets everything but the memory it holds.
    pub fn clear(&mut self) {
        let Self { said, rises, let_go, transitions, power_ups, offs, ties, firsts, .. } = self;
        said.clear();
        rises.clear();
        let_go.clear();
        transitions.clear();
        power_ups.clear();
        offs.clear();
        ties.clear();
        firsts.clear();
        for times in [&mut self.take_overs, &mut self.unready, &mut self.at_start, &mut self.steadies] {
            times.clear();
        }
        for pairs in [&mut self.entry_steps, &mut self.denied, &mut self.flag_stays, &mut self.right] {
            pairs.clear();
        }
        self.again.clear();
    }

    /// Time from an instant to the nearest take-over after it, or from the last one before it to `since_ms`: how much
    /// later or earlier it would have had to be. Capped at 5 s.
    #[must_use]
    pub fn to_take_over_ms(&self, at_ms: u32, since_ms: u32) -> u32 {
        let next = self.take_overs.iter().find(|&&t| t > at_ms).map(|t| t - at_ms);
        let last = self.take_overs.iter().rev().find(|&&t| t <= since_ms).map(|t| since_ms - t);
        next.into_iter().chain(last).fold(5000, u32::min)
    }

    /// The box has started afresh between two instants, ms: what came before the first it can't know.
    #[must_use]
    pub fn forgot(&self, before_ms: u32, at_ms: u32) -> bool {
        self.power_up_before_ms(at_ms) > before_ms
    }

    /// Start of the box before an instant, ms.
    #[must_use]
    pub fn power_up_before_ms(&self, at_ms: u32) -> u32 {
        self.power_ups.iter().rev().find(|p| p.at_ms <= at_ms).map_or(0, |p| p.at_ms)
    }
}
