//! Engaging and disengaging as the box shows them, told beside the monitor: take-overs, flag, announcements, power-ups,
//! ties.

use super::Story;
use super::excuses::Watch;
use super::handed::{Again, First, LetGo, PowerUp, Said, Tie, Transition};
use super::pass::Pass;
use crate::recording::{Delivered, Row};
use crate::rules::may_command::{Cause, Now, State, Why};
use crate::signal::{Announcement, Lever, Range};
use crate::spec::Spec;
use crate::spec::facts::{Answers, OnCause, ReArm, TakeOver};

/// What is carried from row to row.
#[derive(Debug, Clone, Default)]
pub(super) struct Carry {
    /// The last take-over came so soon after power-up that nothing is expected of it.
    pub starting_up: bool,
    power_up_ms: u32,
    powered: bool,
    /// The box may have been engaged, and an own pulse ran, when it lost its supply.
    lost: Option<(bool, bool)>,
    watch: Watch,
    out_since: Option<u32>,
    /// The longest time out of the gate since an engagement ended, ms.
    out_ms: u32,
    edge_ms: Option<u32>,
    /// The last one that no box takes for a bounce.
    sure_edge_ms: Option<u32>,
    pressed: bool,
    flag: Option<bool>,
    flag_true_ms: Option<u32>,
    held: bool,
    said_engaged_ms: Option<u32>,
    noted_edge_ms: Option<u32>,
    engaged_ms: Option<u32>,
    opened_ms: Option<u32>,
    first_done: bool,
    entering: bool,
    right_since: Option<u32>,
    remembered: bool,
    start_closure: bool,
    ended: Option<(Cause, u32)>,
    was_may: bool,
    was_closed: bool,
    was_right_ms: u32,
    was_range: Option<Range>,
    was_ignition: bool,
    was_in_gate: bool,
}

/// A moment within which engaging and a cause count as met, ms.
const MOMENT_MS: u32 = 50;
/// Speed and pedal that stand still for so long are steady, ms.
const STEADY_MS: u32 = 10_000;

#[derive(Debug, Clone, Copy)]
struct Told {
    closes: bool,
    engages: bool,
    state: State,
}

impl Told {
    fn permitted(self) -> bool {
        !matches!(self.state, State::MustNot(_))
    }
}

impl Carry {
    /// One row, after the monitor, the commands and the engagements have been told.
    pub fn row(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, now: &Now, state: State) {
        self.watch.row(pass, row, now, &story.commands, &story.shifts);
        if state == State::May && self.watch.steady_for(row.t_ms) == STEADY_MS {
            story.hand.steadies.push(row.t_ms);
        }
        self.lever(story, pass, row, now);
        if self.power(story, row) {
            let told = Told {
                closes: story.commands.last().is_some_and(|c| c.at_ms == row.t_ms),
                engages: story.engagings.last().is_some_and(|e| e.at_ms == row.t_ms),
                state,
            };
            self.claims(story, pass, row, now, told);
            self.flag(story, pass, row, state);
            self.said(story, pass, row, state);
            self.commands(story, pass, row, told);
            Self::tie_before(story, pass, row);
            self.tie(story, pass, row, now, told);
            self.ends(story, pass, row, told);
        }
        self.was_may = !matches!(state, State::MustNot(_));
        self.was_closed = pass.monitor.is_closed();
        self.was_right_ms = pass.monitor.right_for_ms(row.t_ms);
        self.was_range = row.inputs.range;
        self.was_ignition = row.inputs.ignition;
        self.was_in_gate = row.inputs.lever == Lever::Gate;
    }

    /// Takes in the answers of a row; whether the link behaves oddly.
    pub fn hear(&mut self, spec: &Spec, answers: &[Delivered]) -> bool {
        self.watch.hear(spec, answers)
    }

    /// The last of the rows in which all stood as in the one looked at before them.
    pub fn rest(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row) {
        let ms = row.t_ms;
        self.watch.rest(ms);
        if let Some((_, to)) = story.hand.right.last_mut().filter(|_| self.right_since.is_some()) {
            *to = ms + pass.spec.facts.tick.ms();
        }
        if row.engaged == Some(true) {
            self.flag_true_ms = Some(ms);
        }
        self.was_right_ms = pass.monitor.right_for_ms(ms);
    }

    fn lever(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, now: &Now) {
        let ms = row.t_ms;
        let by_lever = pass.spec.facts.take_over == TakeOver::Lever;
        let back = pass.spec.facts.re_arm == ReArm::BackInGate && pass.monitor.opened_once();
        let pressed = row.inputs.button == Some(true);
        let mut edge = false;
        if row.inputs.lever == Lever::Gate {
            if let Some(since) = self.out_since.take() {
                self.out_ms = self.out_ms.max(ms - since);
                edge = by_lever || back;
            }
            edge |= !by_lever && pressed && !self.pressed && !row.restarted;
        } else {
            self.out_since.get_or_insert(ms);
        }
        self.pressed = pressed;
        if edge && now.powered {
            let limits = &pass.spec.limits;
            self.edge_ms = Some(ms);
            if pass.monitor.sure_edge_at(ms) {
                self.sure_edge_ms = Some(ms);
            }
            // A press into an engagement that stands makes nothing due that wasn't before.
            if pass.monitor.opened_ms().is_none_or(|at| at == ms) {
                self.starting_up = ms < self.power_up_ms + limits.boot_ready.ms().max(limits.boot_quiet.ms());
            }
            story.hand.take_overs.push(ms);
        }
    }

    /// Supply and reset; whether the box runs.
    fn power(&mut self, story: &mut Story, row: &Row) -> bool {
        let ms = row.t_ms;
        let lost = self.powered && (!row.powered || row.restarted);
        if lost {
            story.hand.offs.push(ms);
            let in_pulse = story.commands.last().is_some_and(|c| c.at_ms < ms && c.open_ms >= ms);
            self.lost = Some((self.was_may, in_pulse));
        }
        if lost || row.restarted {
            let (lost, watch) = (self.lost, std::mem::take(&mut self.watch));
            let (out_since, out_ms, pressed) = (self.out_since, self.out_ms, self.pressed);
            *self = Self { power_up_ms: ms, lost, watch, out_since, out_ms, pressed, ..Self::default() };
        }
        if row.restarted {
            let (was_engaged, in_pulse) = self.lost.take().unwrap_or_default();
            story.hand.power_ups.push(PowerUp { at_ms: ms, was_engaged, in_pulse, closed_ms: 0, claim_ms: None });
        }
        self.powered = row.powered;
        row.powered
    }

    /// Claims since power-up without a take-over, and contacts at the start.
    fn claims(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, now: &Now, told: Told) {
        let ms = row.t_ms;
        let limits = &pass.spec.limits;
        let fresh = pass.fresh(ms);
        let right = now.lever == Lever::Gate
            && now.ignition
            && now.engine_on != Some(false)
            && now.range.is_none_or(|r| r == Range::High)
            && fresh;
        if right {
            let tick = pass.spec.facts.tick.ms();
            match story.hand.right.last_mut().filter(|_| self.right_since.is_some()) {
                Some((_, to)) => *to = ms + tick,
                None => story.hand.right.push((ms, ms + tick)),
            }
        }
        self.right_since = if right { self.right_since.or(Some(ms)) } else { None };
        let since_ms = ms - self.power_up_ms;
        let closed = row.contacts.up || row.contacts.down;
        if row.restarted && closed || told.closes && since_ms < limits.contacts_open.ms() {
            story.hand.at_start.push(ms);
            self.start_closure = true;
        } else if (told.closes || told.engages) && told.state == State::MustNot(Why::NoEdge) {
            let held_ms = self.right_since.map_or(0, |since| ms - since);
            if self.remembered || held_ms + pass.spec.facts.tick.ms() < limits.conditions_held.ms() {
                story.hand.unready.push(ms);
                self.remembered |= told.engages;
            }
        }
        self.start_closure &= closed;
        if let Some(up) = story.hand.power_ups.last_mut() {
            if self.start_closure {
                up.closed_ms = since_ms + pass.spec.facts.tick.ms();
            }
            if told.closes || told.engages {
                up.claim_ms.get_or_insert(ms);
            }
        }
    }

    /// Going on after a pause, or perhaps so: no transition.
    fn goes_on(&self, pass: &Pass<'_>) -> bool {
        let facts = &pass.spec.facts;
        let pauses = [facts.driver_tap, facts.lost_data].iter().any(|on| matches!(on, OnCause::PausesMs(_)));
        pauses && self.engaged_ms.is_some_and(|engaged| self.sure_edge_ms.is_none_or(|edge| edge <= engaged))
    }

    /// The cause now at hand only pauses the box.
    fn pauses(&self, pass: &Pass<'_>, ms: u32) -> bool {
        let facts = &pass.spec.facts;
        let window = pass.spec.limits.cause_window.ms() + pass.spec.facts.tick.ms();
        let recent = |at: Option<u32>| at.is_some_and(|at| ms - at <= window);
        let excuses = &self.watch.excuses;
        if self.out_since.is_some_and(|since| ms - since >= pass.spec.limits.lever_bounce.ms()) {
            // Leaving the gate pauses nothing: it ends.
            return false;
        }
        pass.monitor.paused()
            || matches!(facts.driver_tap, OnCause::PausesMs(_)) && recent(excuses.driver_ms)
            || matches!(facts.lost_data, OnCause::PausesMs(_)) && recent(excuses.data_ms)
    }

    fn flag(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, state: State) {
        let ms = row.t_ms;
        let rises = row.engaged == Some(true) && self.flag != Some(true);
        let falls = row.engaged == Some(false) && self.flag == Some(true);
        if rises {
            story.hand.rises.push(ms);
            if !self.goes_on(pass) && !matches!(state, State::MustNot(_)) {
                if pass.spec.facts.announces {
                    let from_ms = ms.saturating_sub(pass.spec.facts.tick.ms());
                    story.hand.transitions.push(Transition { at_ms: ms, from_ms, engages: true });
                }
                self.begins(Some(ms));
            }
        }
        if falls {
            story.hand.let_go.push(LetGo { at_ms: ms, flagged: true, excuses: self.watch.excuses });
            if pass.spec.facts.announces && !self.pauses(pass, ms) && row.inputs.ignition {
                let from_ms = ms.saturating_sub(pass.spec.limits.announced_within.ms());
                story.hand.transitions.push(Transition { at_ms: ms, from_ms, engages: false });
            }
        }
        if row.engaged == Some(true) {
            self.flag_true_ms = Some(ms);
            // A flag that was up before the engagement ended, not one that rises afterwards.
            if matches!(state, State::MustNot(Why::After(..))) && !rises {
                pass.alarm.keep_awake();
                let to = ms + pass.spec.facts.tick.ms();
                match story.hand.flag_stays.last_mut().filter(|(_, end)| *end == ms) {
                    Some((_, end)) => *end = to,
                    None if self.was_may => story.hand.flag_stays.push((ms, to)),
                    None => {}
                }
            }
        }
        self.flag = row.engaged;
    }

    fn begins(&mut self, engaged_ms: Option<u32>) {
        (self.engaged_ms, self.first_done, self.entering) = (engaged_ms, false, true);
    }

    fn said(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, state: State) {
        let Some(what) = row.announcement else { return };
        let ms = row.t_ms;
        story.hand.said.push(Said {
            at_ms: ms,
            what,
            flag: row.engaged,
            held_before: self.held,
            edge_ms: self.edge_ms,
            possible: self.was_may || !matches!(state, State::MustNot(_)),
            has_read: pass.speed.is_some() || pass.pedal.is_some(),
            power_up_ms: self.power_up_ms,
            excuses: self.watch.excuses,
        });
        match what {
            Announcement::Ready => {}
            Announcement::Engaged => {
                self.held = true;
                self.said_engaged_ms = Some(ms);
            }
            Announcement::Disengaged | Announcement::Fault => {
                if self.held && row.engaged.is_none() {
                    story.hand.let_go.push(LetGo { at_ms: ms, flagged: false, excuses: self.watch.excuses });
                }
                self.held = false;
            }
        }
    }

    /// First commands after engaging, and the steps that follow at once.
    fn commands(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, told: Told) {
        let ms = row.t_ms;
        let opened = pass.monitor.opened_ms();
        if row.engaged.is_none() && opened.is_some() && opened != self.opened_ms {
            self.begins(None);
        }
        self.opened_ms = opened.or(self.opened_ms);
        if told.closes && told.permitted() && !self.start_closure {
            if !self.first_done {
                let within = pass.spec.limits.announced_within.ms();
                let shown = match row.engaged {
                    Some(_) => self.engaged_ms,
                    None if self.held => {
                        let opened_ms = self.opened_ms.unwrap_or(ms);
                        self.said_engaged_ms.map(|said| said.saturating_sub(within).max(opened_ms))
                    }
                    None => None,
                };
                // Nothing shows when: no sooner than the monitor allows it.
                let earliest = shown.or(opened.filter(|_| told.state == State::May));
                if let Some(engaged_ms) = earliest {
                    story.hand.firsts.push(First { at_ms: ms, engaged_ms, shown: shown.is_some() });
                }
                self.first_done = true;
            } else if self.entering
                && let [.., before, _] = story.commands.as_slice()
            {
                story.hand.entry_steps.push((ms, before.at_ms));
            }
            let unsaid = row.engaged.is_none() && !self.held && told.state == State::May;
            if unsaid && pass.spec.facts.announces && self.noted_edge_ms != self.edge_ms {
                self.noted_edge_ms = self.edge_ms;
                story.hand.transitions.push(Transition {
                    at_ms: ms,
                    from_ms: self.edge_ms.unwrap_or(0),
                    engages: true,
                });
            }
            if row.engaged == Some(false) {
                let for_ms = self.flag_true_ms.map_or(u32::MAX, |at| ms - at);
                story.hand.denied.push((ms, for_ms));
            }
        }
        self.entering &= pass.shift_due();
    }

    /// A box that filters its wires has not noticed the cause yet where it acts on in the next tick; one that decides
    /// before it looks has.
    fn tie_before(story: &mut Story, pass: &Pass<'_>, row: &Row) {
        let closed = row.contacts.up || row.contacts.down;
        let by_contacts = pass.spec.facts.answers == Answers::Contacts;
        let goes_on = row.engaged.unwrap_or(closed && by_contacts && row.announcement.is_none());
        let tick = pass.spec.facts.tick.ms();
        if let Some(tie) = story.hand.ties.last_mut().filter(|tie| tie.at_ms + tick == row.t_ms) {
            tie.acts &= !goes_on;
        }
    }

    fn tie(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, now: &Now, told: Told) {
        let began = |is: bool, was: bool| u8::from(is && !was);
        let high = |range: Option<Range>| range.is_none_or(|r| r == Range::High);
        let plain = began(!high(row.inputs.range), !high(self.was_range))
            + began(!row.inputs.ignition, !self.was_ignition)
            + u8::from(now.tapped);
        let lever = began(row.inputs.lever != Lever::Gate, !self.was_in_gate);
        let data = u8::from(pass.monitor.closing.is_some_and(|c| c.cause == Cause::Data));
        let open = self.was_may && !self.was_closed || pass.monitor.opened_ms() == Some(row.t_ms);
        let held_ms = pass.spec.limits.conditions_held.ms();
        // A box with a button engages as it is pressed, where all has held before.
        let due = match pass.spec.facts.take_over {
            TakeOver::Lever => self.was_right_ms <= held_ms + MOMENT_MS,
            TakeOver::Button => self.edge_ms.is_some_and(|edge| row.t_ms - edge <= MOMENT_MS),
        };
        let near = due && self.was_right_ms + MOMENT_MS >= held_ms;
        if plain == 0 || !(open || near) {
            return;
        }
        story.hand.ties.push(Tie {
            at_ms: row.t_ms,
            causes: plain + lever + data,
            engaging: near,
            shift_due: pass.shift_due(),
            in_pulse: pass.was.is_some_and(|w| w.contacts.up || w.contacts.down),
            in_shift: row.truth.shifting,
            acts: told.permitted() && open && (told.closes || story.hand.rises.last() == Some(&row.t_ms)),
        });
    }

    /// Ends of engagements, and engaging again.
    fn ends(&mut self, story: &mut Story, pass: &Pass<'_>, row: &Row, told: Told) {
        if let Some(closing) = pass.monitor.closing.filter(|c| !c.pauses) {
            let unflagged = row.engaged.is_none() && self.held && closing.cause != Cause::Ignition;
            if unflagged && pass.spec.facts.announces {
                let at_ms = closing.at_ms + pass.monitor.grace_ms(closing.cause);
                story.hand.transitions.push(Transition { at_ms, from_ms: closing.at_ms, engages: false });
            }
            if closing.sure {
                (self.ended, self.out_ms) = (Some((closing.cause, closing.at_ms)), 0);
            }
        }
        if !told.engages || self.goes_on(pass) && self.engaged_ms != Some(row.t_ms) {
            return;
        }
        if let Some(after) = self.ended {
            let no_take_over = pass.monitor.wants_take_over().is_some();
            self.ended = self.ended.filter(|_| no_take_over);
            let out_ms = match pass.spec.facts.take_over {
                TakeOver::Lever => self.out_ms,
                TakeOver::Button => self.edge_ms.map_or(0, |edge| edge.saturating_sub(after.1)),
            };
            story.hand.again.push(Again { at_ms: row.t_ms, after, no_take_over, out_ms });
        }
    }
}
