//! Puts a recorded drive before the box again, without a vehicle: the same inputs tick for tick, with another clock, with
//! extra answers taken out, or after a time of idling.

use super::read_back::ReadBack;
use super::rig::Rig;
use crate::controller::Port;
use crate::drive::{Drive, Happening};
use crate::outcome::Measure;
use crate::recording::{Recording, Silence};
use crate::rules::clock_wrap::{self, WRAPS_MS};
use crate::rules::fed::Fed;
use crate::rules::idle_hour::{self, LONG_MS, SHORT_MS};
use crate::rules::order_immunity::{self, Extra, extras};
use crate::signal::{Answer, Content, Inputs, SIGNALS, Signal};
use crate::spec::Spec;
use std::future::poll_fn;

/// What is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    Nothing,
    /// The clock at the start of the drive, ms.
    Clock(u64),
    /// Extra answers are taken out; of two responders the first is kept.
    OneAnswer,
    /// The same, and the second is kept.
    OtherAnswer,
    /// The drive follows on idling for so long, ms.
    AfterIdle(u64),
}

/// Feeds a recording's inputs; an error leaves the port of no use. Whether it was the answer limit that ended it comes
/// back too.
async fn feed(port: &mut dyn Port, spec: &Spec, recording: &Recording, change: Change) -> (Fed, bool) {
    let (mut fed, mut late) = (Fed::default(), false);
    let kinds = if matches!(change, Change::OneAnswer | Change::OtherAnswer) { extras(recording) } else { Vec::new() };
    let start_ms = recording.rows.first().map_or(0, |r| r.inputs.time_ms);
    let shift = match change {
        Change::Clock(clock_ms) => clock_ms.wrapping_sub(start_ms),
        Change::AfterIdle(ms) => ms,
        _ => 0,
    };
    let mut answers: Vec<Answer> = Vec::with_capacity(32);
    let mut read_back = ReadBack::new(spec);
    let mut runs = false;
    if let (Change::AfterIdle(ms), Some(first)) = (change, recording.rows.first()) {
        if let Err(silence) = idle(port, spec, recording.tick_ms, first.inputs, ms).await {
            fed.silent_ms = Some(first.t_ms);
            return (fed, matches!(silence, Silence::TooLate(_)));
        }
        runs = true;
    }
    for row in recording.rows.iter().filter(|r| r.powered) {
        let from = row.answers_from as usize;
        answers.clear();
        for (at, d) in (from..).zip(recording.answers_of(row)) {
            let extra = kinds.get(at).copied().flatten();
            // Where the second responder is kept, its answer follows the first and takes its place.
            let other_follows = (at + 1..at + 4).any(|next| {
                kinds.get(next) == Some(&Some(Extra::Other))
                    && recording.delivered.get(next).is_some_and(|n| n.sampled_ms == d.sampled_ms)
            });
            let kept = match (change, extra) {
                (Change::OtherAnswer, Some(Extra::Other)) => true,
                (Change::OtherAnswer, None) if d.answer.signal == Signal::Speed => !other_follows,
                (_, extra) => extra.is_none(),
            };
            if kept {
                answers.push(Answer { arrival_ms: d.answer.arrival_ms.wrapping_add(shift), ..d.answer });
            }
        }
        let mut inputs = read_back.inputs(row);
        inputs.time_ms = inputs.time_ms.wrapping_add(shift);
        // After idling it is up already.
        let reset =
            if row.restarted && !std::mem::take(&mut runs) { poll_fn(|_| port.poll_reset()).await } else { Ok(()) };
        let step = match reset {
            Ok(()) => poll_fn(|_| port.poll_step(&inputs, &answers)).await,
            Err(silence) => Err(silence),
        };
        match step {
            Ok(output) => {
                read_back.gave(row, &output);
                fed.given.push((row.t_ms, output));
            }
            Err(Silence::Told(_)) => break,
            Err(silence) => {
                fed.silent_ms = Some(row.t_ms);
                late = matches!(silence, Silence::TooLate(_));
                break;
            }
        }
    }
    (fed, late)
}

/// Starts the box and lets it wait, in the wired state in which the drive begins: at rest, the engine idling and answered
/// with a ripple, as no running engine stands still.
async fn idle(port: &mut dyn Port, spec: &Spec, tick_ms: u32, wired: Inputs, for_ms: u64) -> Result<(), Silence> {
    let (tick_ms, period_ms) = (u64::from(tick_ms.max(1)), u64::from(spec.link.period.ms().max(1)));
    let idle_rpm = spec.vehicle.engine.idle.get();
    let mut answers: Vec<Answer> = Vec::with_capacity(SIGNALS.len());
    let (mut polls, mut polled_from_ms) = (0_u64, 0);
    poll_fn(|_| port.poll_reset()).await?;
    for since_ms in (0..for_ms).step_by(tick_ms as usize) {
        let inputs = Inputs { time_ms: wired.time_ms.wrapping_add(since_ms), ..wired };
        answers.clear();
        while since_ms >= polled_from_ms + period_ms {
            (polls, polled_from_ms) = (polls + 1, polled_from_ms + period_ms);
        }
        if since_ms < polled_from_ms + tick_ms {
            answers.extend(spec.facts.signals.polled().map(|signal| {
                let value = match signal {
                    Signal::Speed | Signal::Pedal => 0.0,
                    Signal::EngineSpeed => idle_rpm + f64::from(u8::from(polls % 2 == 1)),
                    Signal::Gear => 1.0,
                };
                Answer { signal, content: Content::Value(value), arrival_ms: inputs.time_ms }
            }));
        }
        poll_fn(|_| port.poll_step(&inputs, &answers)).await?;
    }
    Ok(())
}

/// Whether a drive holds answers that come twice, late or from a second responder.
#[must_use]
pub fn has_extras(drive: &Drive) -> bool {
    let extra = |what: &Happening| {
        matches!(what, Happening::Delayed(..) | Happening::Duplicated(..) | Happening::SecondSpeed(..))
    };
    drive.events.iter().any(|e| extra(&e.what))
}

impl Rig<'_> {
    async fn feed(&mut self, recording: &Recording, change: Change) -> Fed {
        // A machine too busy to let the box answer in time says nothing about the box: what hangs by itself hangs again.
        let mut tries = 0..2;
        loop {
            let spec = self.spec();
            let (fed, late) = feed(self.port(), spec, recording, change).await;
            if fed.silent_ms.is_some() {
                self.start_again();
            }
            tries.next();
            if !late || tries.is_empty() {
                return fed;
            }
        }
    }

    /// The last drive's measure for the rule on order and duplicates.
    pub async fn without_extras(&mut self) -> Measure {
        let recording = self.recording().clone();
        let kinds = extras(&recording);
        if recording.silence.is_some() || kinds.iter().all(Option::is_none) {
            return Measure::default();
        }
        let whole = self.feed(&recording, Change::Nothing).await;
        let first = self.feed(&recording, Change::OneAnswer).await;
        let two = kinds.contains(&Some(Extra::Other));
        let second = if two { Some(self.feed(&recording, Change::OtherAnswer).await) } else { None };
        order_immunity::compare(self.spec(), &recording, &whole, &first, second.as_ref())
    }

    /// The last drive's measure for the rule on the clock; `turn` picks two of the places where a clock can run over,
    /// without it all are tried.
    pub async fn with_other_clocks(&mut self, turn: Option<usize>) -> Measure {
        let recording = self.recording().clone();
        if recording.silence.is_some() {
            return Measure::default();
        }
        let plain = self.feed(&recording, Change::Nothing).await;
        if plain.commands().is_empty() {
            return Measure::default();
        }
        let instants = clock_wrap::instants(&recording);
        let mut wrapped = Vec::new();
        for (w, &wrap_ms) in WRAPS_MS.iter().enumerate() {
            for (i, &at_ms) in instants.iter().enumerate() {
                let chosen = turn.is_none_or(|turn| w % 2 == turn % 2 && i == (turn / 2 + w / 2) % instants.len());
                if let (true, Some(clock_ms)) = (chosen, wrap_ms.checked_sub(u64::from(at_ms))) {
                    wrapped.push((at_ms, self.feed(&recording, Change::Clock(clock_ms)).await));
                }
            }
        }
        clock_wrap::compare(&recording, &plain, &wrapped)
    }

    /// The last drive's measure for the rule on an hour of idling.
    pub async fn after_an_idle_hour(&mut self) -> Measure {
        let recording = self.recording().clone();
        if recording.silence.is_some() || !idle_hour::may_follow(&recording) {
            return Measure::default();
        }
        let short = self.feed(&recording, Change::AfterIdle(SHORT_MS)).await;
        let again = self.feed(&recording, Change::AfterIdle(SHORT_MS)).await;
        let long = self.feed(&recording, Change::AfterIdle(LONG_MS)).await;
        idle_hour::compare(&recording, &short, &again, &long)
    }
}
