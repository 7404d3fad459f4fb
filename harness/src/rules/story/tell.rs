//! The one pass over a recording's rows that tells its story.

use super::hand_over;
use super::pass::{Pass, Standing};
use super::rest;
use super::tape::Sample;
use super::{Command, Engaging, Leap, RELEASE_WINDOW_MS, RUN_IN_MS, Release, Shift, Span, Story};
use crate::recording::{Recording, Row};
use crate::rules::may_command::{Now, State, Why};
use crate::signal::{Announcement, Answer, Content, Direction, Signal};
use crate::spec::Spec;
use crate::spec::facts::Answers;
use crate::spec::vehicle::GateMeans;

/// Highest engine speed that an answer can hold, r/min (SAE J1979: 65,535 quarters).
const MOST_RPM: f64 = 16_383.75;

/// A shift takes at most this long from tap to begin, ms (recognition and queueing; common practice, no source).
const TAP_TO_SHIFT_MS: u32 = 1500;

/// Whether a signal can have such a value.
fn is_value(signal: Signal, value: f64) -> bool {
    match signal {
        Signal::Speed => (0.0..=255.0).contains(&value),
        Signal::Pedal => (0.0..=100.0).contains(&value),
        Signal::EngineSpeed => (0.0..=MOST_RPM).contains(&value),
        Signal::Gear => value >= 1.0,
    }
}

impl Story {
    /// Forgets the last recording and tells this one.
    pub fn tell(&mut self, spec: &Spec, recording: &Recording) {
        self.tell_rows(spec, recording, true);
    }

    /// The same; `may_rest`: rows in which nothing happens are not looked at in full. The story is the same without.
    pub(in crate::rules) fn tell_rows(&mut self, spec: &Spec, recording: &Recording, may_rest: bool) {
        self.commands.clear();
        self.engagings.clear();
        self.spans.clear();
        self.releases.clear();
        self.shifts.clear();
        self.dues.clear();
        self.steady.clear();
        self.plainly_due.clear();
        self.pulses.clear();
        self.stretches.clear();
        self.miscounts.clear();
        self.lugs_seen.clear();
        self.lugs_true.clear();
        (self.counts, self.settled_counts, self.near_lugging) = (false, 0, 0);
        self.leaps.clear();
        self.after_stops.clear();
        self.speeds.clear();
        self.pedals.clear();
        self.wants.clear();
        self.lifts.clear();
        self.settled.clear();
        self.dithers.clear();
        self.hand.clear();
        self.only_missing = [0; 3];
        self.edgeless = 0;
        self.stale_spells = 0;
        self.declares = spec.facts.announces || recording.rows.iter().any(|r| r.engaged.is_some());
        self.end_ms = recording.rows.last().map_or(0, |r| r.t_ms + recording.tick_ms);
        let mut pass = Pass::new(spec);
        let mut hand = hand_over::Carry::default();
        for row in &recording.rows {
            let again = pass.was.is_some_and(|was| rest::stands(&pass, was, row));
            let news = self.read(&mut pass, &mut hand, recording, row);
            if may_rest && again && !news && row.t_ms < pass.sleeps_until_ms {
                self.pass_over(&mut pass, recording, row);
            } else {
                self.rest(&mut pass, &mut hand);
                pass.begin(row.t_ms, again);
                self.row(&mut pass, &mut hand, recording, row);
                pass.set_sleep();
            }
            pass.was = Some(row);
        }
        self.rest(&mut pass, &mut hand);
        self.end_wants(&mut pass);
        self.only_missing = pass.monitor.only_missing.count;
        for shift in &mut self.shifts {
            if !shift.ended {
                shift.to_ms = self.end_ms;
            }
        }
    }

    /// Takes in what a row brings to be read; whether that is more than newer data that tell the same.
    fn read(&mut self, pass: &mut Pass<'_>, hand: &mut hand_over::Carry, recording: &Recording, row: &Row) -> bool {
        if !row.powered || row.restarted {
            (pass.speed, pass.pedal, pass.engine_rpm) = (None, None, None);
            pass.plausible.forget();
            pass.standing = Standing::default();
        }
        let answers = recording.answers_of(row);
        let mut news = hand.hear(pass.spec, answers);
        if answers.is_empty() {
            return news;
        }
        for d in answers {
            news |= self.is_news(pass, &d.answer);
            if let Content::Value(value) = d.answer.content {
                let valid = is_value(d.answer.signal, value);
                if valid {
                    pass.standing.take(d.answer.signal, value, d.arrived_ms);
                }
                match d.answer.signal {
                    Signal::Speed if valid => {
                        if pass.leaps(value, d.arrived_ms) {
                            pass.leapt_ms = Some(d.arrived_ms);
                        }
                        if let Some((fell, settled_kmh)) = pass.plausible.take(pass.spec, value, d.arrived_ms) {
                            let state = self.spans.last().map_or(State::MustNot(Why::Off), |span| span.state);
                            self.leaps.push(Leap { at_ms: row.t_ms, fell, settled_kmh, state });
                        }
                        pass.speed = Some((value, d.arrived_ms, d.sampled_ms));
                        pass.gear.speed(value, d.arrived_ms);
                        self.speeds.push(Sample { at_ms: row.t_ms, value });
                        pass.wanting.read(0);
                    }
                    Signal::Pedal if valid => {
                        let value = pass.spec.link.pedal_stops.travel_pct(value);
                        pass.pedal = Some((value, d.arrived_ms, d.sampled_ms));
                        self.pedals.push(Sample { at_ms: row.t_ms, value });
                        pass.wanting.read(1);
                    }
                    Signal::EngineSpeed if valid => {
                        (pass.engine_rpm, pass.engine_arrived_ms) = (Some(value), d.arrived_ms);
                    }
                    Signal::Gear => {
                        pass.gear.signal(value, d.arrived_ms);
                        pass.gear_arrived = Some((value as u8, d.arrived_ms));
                    }
                    Signal::Speed | Signal::Pedal | Signal::EngineSpeed => {}
                }
            }
        }
        pass.keep_speed();
        pass.set_sleep();
        news || pass.heeds_age()
    }

    /// An answer tells more than that speed or pedal are what they were.
    fn is_news(&self, pass: &Pass<'_>, answer: &Answer) -> bool {
        let Content::Value(value) = answer.content else { return true };
        let same = match answer.signal {
            // A fall ends with the first answer that tells the same again.
            Signal::Speed => pass.speed.is_some_and(|(kmh, ..)| kmh == value) && !self.falls(),
            Signal::Pedal => {
                let pct = pass.spec.link.pedal_stops.travel_pct(value);
                is_value(answer.signal, value) && pass.pedal.is_some_and(|(pedal, ..)| pedal == pct)
            }
            Signal::EngineSpeed | Signal::Gear => false,
        };
        !same
    }

    fn row<'a>(&mut self, pass: &mut Pass<'a>, hand: &mut hand_over::Carry, recording: &'a Recording, row: &'a Row) {
        let ms = row.t_ms;
        let was = pass.was;
        let (tapped, tap_held) = pass.taps(row, was);
        let pressed = row.inputs.button.unwrap_or(false);
        // Held as the box starts, it is a level, and the box sees no edge.
        let button_pressed = pressed && !pass.button && !row.restarted;
        pass.button = pressed;
        let up = row.contacts.up && !was.is_some_and(|w| w.contacts.up);
        let down = row.contacts.down && !was.is_some_and(|w| w.contacts.down);
        let flag = row.engaged == Some(true);
        let announced = row.announcement == Some(Announcement::Engaged);
        let declared = (flag && (row.restarted || was.is_none_or(|w| w.engaged != Some(true))))
            || (announced && row.engaged.is_none());
        let now = Now {
            ms,
            powered: row.powered,
            lever: row.inputs.lever,
            range: row.inputs.range,
            ignition: row.inputs.ignition,
            button_pressed,
            tapped,
            tap_held,
            tap_in_doubt: pass.tap_in_doubt,
            speed: pass.speed.map(|(v, at, _)| (v, at)),
            pedal: pass.pedal.map(|(_, at, _)| at),
            engine_on: pass.engine_rpm.map(|rpm| rpm > 0.0),
            still_ms: pass.standing.still_ms(),
            shows_engaged: flag || announced || up || down,
        };
        if row.restarted {
            // The monitor starts afresh with the box.
            pass.monitor.tick(&Now { powered: false, ..now });
        }
        pass.shown_before = pass.monitor.shown();
        let state = pass.monitor.tick(&now);
        // What may have been the driver's tap leaves the gear as unknown as what was.
        pass.gear.row(row, pass.speed.map(|(v, _, _)| v), tapped || pass.tap_in_doubt, was);
        let stale = state == State::May && pass.older_than(ms, pass.spec.limits.data_fresh.ms()) == Some(true);
        if stale && !pass.stale {
            self.stale_spells += 1;
        }
        pass.stale = stale;
        self.spans(pass, row, state);
        self.engaging(pass, row, state, declared, up || down);
        let closes = if up { Some(Direction::Up) } else { down.then_some(Direction::Down) };
        self.want(pass, row, state, closes);
        if up || down {
            self.command(pass, row, state, if up { Direction::Up } else { Direction::Down });
        }
        if let (Some(was), Some(last)) = (was, self.commands.last_mut()) {
            let closed = |r: &Row| r.contacts.up || r.contacts.down;
            if closed(was) || closed(row) {
                last.open_ms = last.open_ms.max(ms + if closed(row) { recording.tick_ms } else { 0 });
            }
        }
        self.release(pass, recording, row, up || down);
        self.shift(pass, row);
        hand.row(self, pass, row, &now, state);
        self.due(pass, row, state, hand.starting_up);
        self.legality(pass, row, state, tapped);
        self.after_stop(pass, row, state);
        self.steady(row, recording.tick_ms);
    }

    pub(super) fn steady(&mut self, row: &Row, tick_ms: u32) {
        if row.steady_ms >= RUN_IN_MS && row.truth.brake_mps2 == 0.0 {
            let (ms, to_ms) = (row.t_ms, row.t_ms + tick_ms);
            match self.steady.last_mut() {
                Some((_, to)) if *to == ms => *to = to_ms,
                _ => self.steady.push((ms, to_ms)),
            }
        }
    }

    fn spans(&mut self, pass: &mut Pass<'_>, row: &Row, state: State) {
        let ms = row.t_ms;
        let tick_ms = pass.spec.facts.tick.ms();
        if self.spans.last().is_none_or(|s| s.state != state) {
            pass.alarm.keep_awake();
            self.spans.push(Span { from_ms: ms, to_ms: ms, state, shift_due: false });
        }
        if let Some(span) = self.spans.last_mut() {
            span.to_ms = ms + tick_ms;
            span.shift_due = span.shift_due || pass.shift_due();
        }
        // Level, not edge: the lever stands in the gate since power-up and all else is right.
        let right = state == State::MustNot(Why::NoEdge)
            && row.inputs.lever == crate::signal::Lever::Gate
            && row.inputs.range.is_none_or(|r| r == crate::signal::Range::High)
            && pass.speed.is_some_and(|(v, ..)| v <= pass.spec.limits.engagement_speed_ceiling.0)
            && pass.older_than(ms, 499) == Some(false);
        if right {
            let since = *pass.right_since.get_or_insert(ms);
            if !pass.edgeless_counted && pass.alarm.passed(ms, since, pass.spec.limits.conditions_held.ms()) {
                pass.edgeless_counted = true;
                self.edgeless += 1;
            }
        } else {
            pass.right_since = None;
            pass.edgeless_counted = false;
        }
    }

    fn engaging(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, declared: bool, closes: bool) {
        let ms = row.t_ms;
        let newly = declared || (!self.declares && closes && self.span_is_new());
        // Going on after a pause is no engagement; what a box shows for the first time since it may have engaged is one.
        let shown_before = pass.shown_before || !self.declares;
        let goes_on = pass.monitor.paused() && shown_before && !matches!(state, State::MustNot(_));
        if !newly || goes_on {
            return;
        }
        // Only an announcement shows it: it may come a little after the engagement itself.
        let late_ms = if row.engaged.is_some() { 0 } else { 500 };
        let speed_seen = pass
            .lowest_recent
            .iter()
            .filter(|(at, v)| v.is_finite() && at + late_ms >= ms)
            .map(|&(_, v)| v)
            .chain(pass.speed.map(|(v, _, _)| v))
            .fold(None, |least: Option<f64>, v| Some(least.map_or(v, |l| l.min(v))));
        self.engagings.push(Engaging {
            at_ms: ms,
            declared,
            state,
            speed_seen,
            speed_true: row.truth.speed_kmh,
            accel_mps2: row.truth.accel_mps2,
            held_ms: pass.monitor.right_for_ms(ms),
        });
    }

    /// The first closure since the monitor's state last opened or since the last engagement shown.
    fn span_is_new(&self) -> bool {
        let since = self.spans.iter().rev().find(|s| matches!(s.state, State::MustNot(_))).map_or(0, |s| s.from_ms);
        self.engagings.last().is_none_or(|e| e.at_ms < since)
    }

    fn command(&mut self, pass: &mut Pass<'_>, row: &Row, state: State, direction: Direction) {
        let ms = row.t_ms;
        let age = |pick: fn(&(f64, u32, u32)) -> u32| match (&pass.speed, &pass.pedal) {
            (Some(speed), Some(pedal)) => Some(ms - pick(speed).min(pick(pedal)).min(ms)),
            _ => None,
        };
        let truth = &row.truth;
        let last_at = self.commands.last().map_or(0, |c| c.at_ms);
        self.commands.push(Command {
            at_ms: ms,
            open_ms: ms,
            direction,
            state,
            speed_seen: pass.speed.map(|(v, _, _)| v),
            pedal_seen: pass.pedal.map(|(p, _, _)| p),
            age_seen_ms: age(|&(_, arrived, _)| arrived),
            age_true_ms: age(|&(_, _, sampled)| sampled),
            gear_seen: pass.gear.gear(),
            gear_read: pass.gear_arrived.map(|(gear, _)| gear),
            gear_true: if truth.shifting { truth.target_gear } else { truth.gear },
            gear_by_itself: pass.by_itself,
            speed_true: truth.speed_kmh,
            accel_mps2: truth.accel_mps2,
            low_range: truth.range == crate::signal::Range::Low,
            range_back_ms: pass.monitor.range_back_ms(),
            gear_confirmed: pass.gear.confirmed_since(last_at, pass.gear_arrived),
            gear_told: pass.gear_read(),
        });
        // From here on a gear too low may be this command refused, no longer the gearbox's own doing.
        pass.by_itself &= direction == Direction::Down;
    }

    fn release(&mut self, pass: &Pass<'_>, recording: &Recording, row: &Row, closes: bool) {
        let ms = row.t_ms;
        let asks = pass.spec.facts.answers != Answers::Contacts;
        let acts = if asks { closes } else { row.contacts.up || row.contacts.down };
        if let Some(closing) = pass.monitor.closing {
            // From the cause itself on: a box may let go before the cause is certain.
            let from_ms = closing.at_ms.saturating_sub(recording.tick_ms);
            let recent = recording.rows_within(from_ms, ms);
            let is_closed = |r: &&Row| r.contacts.up || r.contacts.down;
            let last_closed = recent.iter().rfind(is_closed);
            let last_act_ms = if asks { self.commands.last().map(|c| c.at_ms) } else { last_closed.map(|r| r.t_ms) };
            let last_ms = last_act_ms.and_then(|at_ms| at_ms.checked_sub(closing.at_ms));
            self.releases.push(Release {
                closing,
                last_closed_ms: last_ms.map(|ms| ms + recording.tick_ms),
                started_ms: None,
                in_pulse: last_closed.is_some(),
                in_shift: row.truth.shifting,
            });
        }
        let still_closed = pass.monitor.is_closed();
        if let Some(release) = self.releases.last_mut().filter(|_| still_closed) {
            let since_ms = ms.saturating_sub(release.closing.at_ms);
            if since_ms <= RELEASE_WINDOW_MS && ms >= release.closing.at_ms {
                if closes && since_ms >= pass.monitor.grace_ms(release.closing.cause) && release.started_ms.is_none() {
                    release.started_ms = Some(since_ms);
                }
                if acts {
                    release.last_closed_ms = Some(since_ms + recording.tick_ms);
                }
            }
        }
    }

    fn shift(&mut self, pass: &mut Pass<'_>, row: &Row) {
        let truth = &row.truth;
        let ms = row.t_ms;
        let was = pass.was.map(|w| w.truth);
        let began = truth.shifting && was.is_none_or(|w| !w.shifting || w.target_gear != truth.target_gear);
        if truth.driver_up || truth.driver_down {
            pass.tap_at_ms = Some(ms);
        }
        if let Some(open) = self.shifts.last_mut().filter(|s| !s.ended)
            && (began || !truth.shifting)
        {
            // The next may begin in the tick in which it ends.
            open.ended = truth.gear == open.to;
            open.to_ms = ms;
            open.speed_kmh = truth.speed_kmh;
            open.accel_mps2 = truth.accel_mps2;
            if !open.ended {
                self.shifts.pop();
            }
        }
        if began {
            // A contact that has not been closed for the least time is no tap yet.
            let least_ms = pass.spec.vehicle.gearbox.gate.least_tap.ms();
            // A tap moves a held gear by one step; below a limit the gearbox shifts as it likes, and only a shift to the new
            // limit comes from moving it.
            let held = pass.spec.vehicle.gearbox.gate.means == GateMeans::HeldGear;
            let one_step = truth.target_gear.abs_diff(truth.gear) == 1;
            let asked = |to: Option<u8>| if held { one_step } else { to.is_none_or(|to| to == truth.target_gear) };
            let wanted = if truth.target_gear > truth.gear { Direction::Up } else { Direction::Down };
            let command = self
                .commands
                .iter()
                .rposition(|c| {
                    let timely = (least_ms..=TAP_TO_SHIFT_MS).contains(&(ms - c.at_ms));
                    c.direction == wanted && timely && asked(c.asks_for())
                })
                .filter(|&at| self.shifts.iter().all(|s| s.command != Some(at)));
            let tapped = pass.tap_at_ms.is_some_and(|at| ms - at <= TAP_TO_SHIFT_MS);
            pass.by_itself = command.is_none() && !tapped;
            self.shifts.push(Shift {
                from_ms: ms,
                to_ms: ms,
                from: truth.gear,
                to: truth.target_gear,
                command,
                speed_kmh: truth.speed_kmh,
                accel_mps2: truth.accel_mps2,
                ended: false,
            });
        }
    }
}
