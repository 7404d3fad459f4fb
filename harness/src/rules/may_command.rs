//! The may-command monitor: whether the controller may act on the contacts now, from what it could know.
//!
//! It never looks at the controller's own flag to decide; it looks at it only to tell whether an engagement that ended
//! within its allowed reaction time had begun at all.
//!
//! *May* opens when a take-over edge since power-up and the last disengagement exists and all conditions, the ceiling
//! included, have held long enough at some tick since. A disengage cause closes it: at once for obligations, after the
//! cause's release time for contacts.

mod causes;
mod edges;
mod missing;
mod words;

use super::alarm::Alarm;
use crate::signal::{Lever, Range};
use crate::spec::Spec;
use crate::spec::facts::{AfterEdge, CeilingBinds, OnCause, ReArm, TakeOver};
pub use missing::OnlyMissing;
use std::collections::VecDeque;
pub use words::{Cause, Closing, Now, State, Why};

/// Numbers of the spec, on the tick grid.
#[derive(Debug, Clone, Copy)]
struct Times {
    tick: u32,
    poll: u32,
    held: u32,
    range_high: u32,
    engages: u32,
    boot: u32,
    bounce: u32,
    /// The longest time that the lever may be out without the box seeing it.
    unseen: u32,
    lost: u32,
    fresh: u32,
    window: Option<u32>,
    /// Readings that stand still for this long may be called stuck, and must be, where the box is to notice.
    still: u32,
    stuck: Option<u32>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Edge {
    None,
    Fresh(u32),
    /// The edge may have been used up by an engagement that perhaps never began.
    Doubtful(u32),
}

/// The monitor's state.
#[derive(Debug, Clone)]
pub struct Monitor {
    /// What it waits for.
    pub alarm: Alarm,
    times: Times,
    ceiling_kmh: f64,
    binds: CeilingBinds,
    take_over: TakeOver,
    re_arm: ReArm,
    on_tap: OnCause,
    on_data: OnCause,
    grace: [u32; 6],

    edge: Edge,
    powered_up_ms: Option<u32>,
    /// The box may still have been starting up at the edge, and has shown nothing since: it may have missed it.
    perhaps_missed: bool,
    /// A careful box may have let go already: data are old, or the lever has been out for longer than a bounce.
    perhaps_let_go: bool,
    /// The driver has pressed the button since: where it had let go, it may engage anew.
    perhaps_anew: bool,
    out_since: Option<u32>,
    /// When the lever last came into the gate, ms; `None`: it has been there from the start.
    in_since: Option<u32>,
    right_since: Option<u32>,
    right_but_ceiling: bool,
    strictly_since: Option<u32>,
    opened: Option<u32>,
    /// When all conditions had strictly held long enough, in one stretch right after the edge.
    due_from: Option<u32>,
    /// All conditions have strictly held for so long that a box that shows nothing must have engaged.
    sure: bool,
    doubt: bool,
    shown: bool,
    engaged_once: bool,
    /// It may have engaged since power-up.
    opened_once: bool,
    closed: Option<(Cause, u32)>,
    pause_until: Option<u32>,
    /// A tap that the box may have told from its own pulse, or not, would have paused it.
    perhaps_paused: bool,
    /// The range has not been high since power-up; and since when it is high again, ms.
    range_was_low: bool,
    range_back_ms: Option<u32>,
    /// When it last opened, so often as engagements are allowed within ten seconds.
    openings: VecDeque<u32>,
    most_engagements: usize,
    /// The last time each condition alone was missing.
    pub only_missing: OnlyMissing,
    /// The cause that closed an engagement in this tick.
    pub closing: Option<Closing>,
}

/// A lever that has been out of the gate for less than this may count as a take-over or not, ms (invented: a careful
/// box may ask for more than contact bounce, and no driver hands over within less).
const REARM_MS: u32 = 300;

/// Readings that stand still for this long with the engine running may be called stuck, ms (invented).
#[must_use]
pub fn stands_still_ms(limits: &crate::spec::limits::Limits) -> u32 {
    (limits.stuck_noticed.ms() / 2).min(1000)
}

/// Engagements are counted over this long, ms.
pub const ENGAGEMENTS_MS: u32 = 10_000;

impl Monitor {
    /// A monitor for a spec.
    #[must_use]
    pub fn new(spec: &Spec) -> Self {
        let limits = &spec.limits;
        let poll = spec.link.period.ms();
        let tick = spec.facts.tick.ms();
        Self {
            alarm: Alarm::default(),
            times: Times {
                tick,
                poll,
                held: limits.conditions_held.ms(),
                range_high: limits.range_high_for.ms(),
                engages: limits.engages_within.ms(),
                boot: limits.boot_ready.ms().max(limits.boot_quiet.ms()),
                bounce: limits.lever_bounce.ms(),
                unseen: limits.unseen_out().ms(),
                lost: limits.data_lost.ms(),
                fresh: limits.data_fresh.ms(),
                window: match spec.facts.after_edge {
                    AfterEdge::AnyTime => None,
                    AfterEdge::WithinMs(ms) => Some(ms),
                },
                still: stands_still_ms(limits),
                stuck: spec.facts.notices_stuck.then(|| limits.stuck_noticed.ms()),
            },
            ceiling_kmh: limits.engagement_speed_ceiling.0,
            binds: spec.facts.ceiling_binds,
            take_over: spec.facts.take_over,
            re_arm: spec.facts.re_arm,
            on_tap: spec.facts.driver_tap,
            on_data: spec.facts.lost_data,
            grace: [
                limits.range_release.ms(),
                limits.data_release.ms() + poll,
                limits.range_release.ms(),
                limits.lever_release.ms(),
                limits.tap_release.ms(),
                poll,
            ],
            edge: Edge::None,
            powered_up_ms: None,
            perhaps_missed: false,
            perhaps_let_go: false,
            perhaps_anew: false,
            out_since: None,
            in_since: None,
            right_since: None,
            right_but_ceiling: false,
            strictly_since: None,
            opened: None,
            due_from: None,
            sure: false,
            doubt: false,
            shown: false,
            engaged_once: false,
            opened_once: false,
            closed: None,
            pause_until: None,
            perhaps_paused: false,
            range_was_low: false,
            range_back_ms: None,
            openings: VecDeque::new(),
            most_engagements: usize::from(limits.most_engagements),
            only_missing: OnlyMissing::default(),
            closing: None,
        }
    }

    /// Release time of a cause with its tolerance, ms.
    #[must_use]
    pub fn grace_ms(&self, cause: Cause) -> u32 {
        self.grace[cause as usize] + self.times.tick
    }

    /// For how long all conditions have held since the edge, ms; 0 if they don't, unbounded once it has opened.
    #[must_use]
    pub fn right_for_ms(&self, now_ms: u32) -> u32 {
        match (self.opened, self.right_since) {
            (_, Some(since)) => now_ms - since,
            (Some(opened), None) => now_ms - opened + self.times.held,
            (None, None) => 0,
        }
    }

    /// The engagement stands, and a cause has paused it at some time, or may have.
    #[must_use]
    pub fn paused(&self) -> bool {
        self.opened.is_some() && (self.pause_until.is_some() || self.perhaps_paused)
    }

    /// The box may have engaged since power-up.
    #[must_use]
    pub fn opened_once(&self) -> bool {
        self.opened_once
    }

    /// The box has shown itself engaged since it may have engaged.
    #[must_use]
    pub fn shown(&self) -> bool {
        self.shown
    }

    /// A cause has closed the engagement (or paused it) and nothing has opened it since.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        self.closed.is_some() && (self.opened.is_none() || self.pause_until.is_some())
    }

    /// The earliest time at which the box may have engaged, while that engagement lasts.
    #[must_use]
    pub fn opened_ms(&self) -> Option<u32> {
        self.opened
    }

    /// The driver has just handed over, beyond doubt, at this time.
    #[must_use]
    pub fn sure_edge_at(&self, now_ms: u32) -> bool {
        self.edge == Edge::Fresh(now_ms)
    }

    /// The cause that ended the engagement, and when, if no take-over has come since.
    #[must_use]
    pub fn wants_take_over(&self) -> Option<(Cause, u32)> {
        self.closed.filter(|_| self.opened.is_none() && self.edge == Edge::None)
    }

    /// Everything is forgotten, as in the box.
    fn power_down(&mut self) {
        self.edge = Edge::None;
        self.powered_up_ms = None;
        self.perhaps_missed = false;
        (self.perhaps_let_go, self.perhaps_anew) = (false, false);
        self.out_since = None;
        self.right_since = None;
        self.strictly_since = None;
        self.opened = None;
        self.due_from = None;
        self.sure = false;
        self.doubt = false;
        self.shown = false;
        (self.engaged_once, self.opened_once) = (false, false);
        self.closed = None;
        self.pause_until = None;
        self.perhaps_paused = false;
        (self.range_was_low, self.range_back_ms) = (false, None);
        self.openings.clear();
    }

    /// When the box must have engaged, if it must: all has strictly held long enough and nothing is in doubt.
    #[must_use]
    pub fn due_from(&self) -> Option<u32> {
        self.due_from.filter(|_| !self.doubt)
    }

    /// Whether a box that shows nothing must have engaged by now.
    #[must_use]
    pub fn surely_engaged(&self) -> bool {
        self.sure && !self.doubt
    }

    /// Whether a box without a flag is engaged beyond doubt: it has shown so, or must be.
    #[must_use]
    pub fn shown_or_sure(&self) -> bool {
        (self.shown || self.sure) && !self.doubt
    }

    /// One tick.
    pub fn tick(&mut self, now: &Now) -> State {
        self.closing = None;
        if !now.powered {
            self.power_down();
            return State::MustNot(Why::Off);
        }
        self.powered_up_ms.get_or_insert(now.ms);
        self.note_range(now);
        let cause = self.take_causes(now) || self.range_settles(now.ms);
        self.take_edge(now);
        if cause && self.opened.is_none() && self.edge != Edge::None {
            // Something is wrong while the driver hands over: a box may wait for its end, or let the edge go.
            self.doubt = true;
        }
        self.conditions(now);
        if now.shows_engaged && self.opened.is_some() {
            self.shown = true;
            self.perhaps_missed = false;
            self.engaged_once = true;
        }
        self.state(now)
    }

    /// Conditions since the edge: leniently for permission, strictly for obligations.
    fn conditions(&mut self, now: &Now) {
        let t = self.times;
        let in_gate = now.lever == Lever::Gate;
        let binds = self.binds == CeilingBinds::Every || !self.engaged_once;
        let slow = now.speed.is_some_and(|(kmh, _)| kmh <= self.ceiling_kmh) || !binds;
        let range = now.range.is_none_or(|r| r == Range::High);
        let calm = !now.tapped && !now.tap_held && !self.is_stuck(now);
        let rest = now.ignition && now.engine_on != Some(false) && calm;
        // A box that takes it for a bounce counts on.
        let bounces = self.out_since.is_some_and(|since| !self.alarm.passed(now.ms, since, t.unseen));
        let has_edge = self.edge != Edge::None;
        let waits = has_edge && in_gate && rest && self.opened.is_none();
        let fresh = !self.older_than(now, t.fresh);
        self.only_missing.note(now.ms, t.held + t.tick, waits, [range, fresh, slow], &self.alarm);

        // Fresh, give or take one poll.
        let all_but_ceiling = (in_gate || bounces) && rest && range && !self.older_than(now, t.fresh + t.poll + t.tick);
        self.right_but_ceiling = all_but_ceiling && !slow;
        let lenient = all_but_ceiling && slow;
        let strict = in_gate && rest && range && !self.aged(now, t.fresh.saturating_sub(t.tick));
        let strict = strict && slow && !self.range_settles(now.ms);
        let from = now.ms;
        // A press of the button finds conditions that have long held; a lever that moves is one of them itself.
        let may_hold = has_edge || self.take_over == TakeOver::Button;
        self.right_since = if lenient && may_hold { self.right_since.or(Some(from)) } else { None };
        self.strictly_since = if strict && has_edge { self.strictly_since.or(Some(from)) } else { None };
        let (Edge::Fresh(edge) | Edge::Doubtful(edge)) = self.edge else { return };
        if self.opened.is_none()
            && self.right_since.is_some_and(|since| self.alarm.passed(now.ms, since, t.held.saturating_sub(t.tick)))
            && t.window.is_none_or(|window| !self.alarm.exceeded(now.ms, edge, window + t.held + t.tick))
        {
            (self.opened, self.opened_once) = (Some(now.ms), true);
            self.alarm.keep_awake();
            self.pause_until = None;
            if self.openings.len() >= self.most_engagements {
                self.openings.pop_front();
            }
            self.openings.push_back(now.ms);
        }
        // A box that has engaged as often as it may within ten seconds has to sit the next take-over out.
        let often = self.openings.len() >= self.most_engagements
            && self
                .openings
                .front()
                .is_some_and(|&first| !self.alarm.passed(now.ms, first, ENGAGEMENTS_MS + t.engages));
        self.doubt |= often;
        // A box may look for its conditions within a window after the edge: what comes much later is no obligation.
        // It must find them so early that its whole time to engage lies within that window.
        let found_by = t.window.map_or(u32::MAX, |w| t.held.max(w.saturating_sub(t.engages)));
        let at_once = edge + found_by.min(t.held + t.engages);
        let held = || self.strictly_since.is_some_and(|since| self.alarm.passed(now.ms, since, t.held));
        let fresh = matches!(self.edge, Edge::Fresh(_));
        let begins = self.due_from.is_none() && self.pause_until.is_none();
        if begins && fresh && !self.alarm.exceeded(now.ms, at_once, 0) && held() {
            self.due_from = Some(now.ms);
            self.alarm.keep_awake();
        }
        if !strict && !self.shown {
            // What didn't hold for the whole reaction time is no obligation.
            self.due_from = None;
        }
        let strictly_since = self.strictly_since;
        let long_ms = t.held + t.engages + t.tick;
        let held_long = || strictly_since.is_some_and(|since| self.alarm.passed(now.ms, since, long_ms));
        self.sure = self.sure || self.due_from.is_some() && !self.perhaps_missed && !often && held_long();
    }

    /// Speed or pedal arrived this long ago or longer, or never, ms.
    fn aged(&self, now: &Now, ms: u32) -> bool {
        let oldest = now.speed.zip(now.pedal).map(|((_, speed), pedal)| speed.min(pedal));
        oldest.is_none_or(|at| self.alarm.aged(now.ms, at, ms))
    }

    fn older_than(&self, now: &Now, ms: u32) -> bool {
        self.aged(now, ms.saturating_add(1))
    }

    fn state(&self, now: &Now) -> State {
        let t = self.times;
        if let Some(until) = self.pause_until.filter(|_| self.opened.is_some()) {
            let at_ms = self.closed.map_or(now.ms, |(_, at)| at);
            let cause = self.closed.map_or(Cause::Tap, |(cause, _)| cause);
            if !self.alarm.passed(now.ms, at_ms, self.grace_ms(cause)) {
                return State::Unsettled;
            }
            if !self.alarm.passed(now.ms, until.saturating_sub(t.tick), 0) {
                return State::MustNot(Why::After(cause, at_ms));
            }
            return if self.alarm.exceeded(now.ms, until, t.engages) { State::May } else { State::Unsettled };
        }
        if let Some((cause, at_ms)) = self.closed.filter(|_| self.opened.is_none()) {
            let settled = self.alarm.passed(now.ms, at_ms, self.grace_ms(cause));
            return if settled { State::MustNot(Why::After(cause, at_ms)) } else { State::Unsettled };
        }
        if self.opened.is_some() {
            // The lever is out, perhaps bouncing: the box may have let go or not.
            let settled = now.lever == Lever::Gate && matches!(self.edge, Edge::Fresh(_));
            return if settled { State::May } else { State::Unsettled };
        }
        if self.edge == Edge::None {
            return State::MustNot(Why::NoEdge);
        }
        State::MustNot(if self.right_but_ceiling { Why::Ceiling } else { Why::NotAllRight })
    }
}
