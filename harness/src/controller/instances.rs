//! Several instances of a box in one process: what all of them ask goes there in one line, and one line comes back.
//!
//! An instance that is polled for the first time writes its entry and waits; one that is polled again finds its answer,
//! or is the first to come back and sends the line. So whoever drives them only has to poll each in turn.

use super::place::Place;
use super::process::{ProgramPort, Talk};
use super::wire::{self, Kind};
use super::{Port, alone};
use crate::recording::Silence;
use crate::signal::{Answer, Inputs, Output, Request};
use std::future::poll_fn;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::Poll;
use std::time::Duration;

/// Shares a program among so many instances.
pub(super) fn share(port: ProgramPort, count: u32) -> Vec<Box<dyn Port>> {
    let ProgramPort { program, talk, place, welcome, .. } = port;
    let slots = (0..count).map(|_| Slot::default()).collect();
    let (kind, limit) = (welcome.answers, program.answer_limit);
    let shared = Shared { talk, place, kind, limit, line: Vec::new(), asked: Vec::new(), slots, failed: None };
    let shared = Arc::new(Mutex::new(shared));
    (0..count).map(|number| Box::new(Instance { number, shared: Arc::clone(&shared) }) as Box<dyn Port>).collect()
}

/// What an instance waits for, or has got.
#[derive(Default)]
enum State {
    #[default]
    Idle,
    AskedReset,
    /// At this time of its clock, ms.
    AskedTick(u64),
    /// Nothing but done for a reset.
    Answered(Option<Output>),
}

#[derive(Default)]
struct Slot {
    state: State,
    /// What it asked for on the diagnostic port since the last tick.
    sent: Vec<Request>,
}

struct Shared {
    talk: Talk,
    place: Place,
    kind: Kind,
    limit: Duration,
    /// What has been asked since the last turn: a list that isn't closed yet.
    line: Vec<u8>,
    /// By whom, in order.
    asked: Vec<u32>,
    slots: Vec<Slot>,
    /// One instance's trouble is everybody's: what came out of the process has no meaning any more.
    failed: Option<Silence>,
}

impl Shared {
    /// Sends what has been asked and hands out the answers.
    fn turn(&mut self) -> Result<(), Silence> {
        self.place.stay();
        self.line.extend_from_slice(b"]\n");
        self.talk.ask(&self.line, self.limit)?;
        self.line.clear();
        let entries = wire::entries(&self.talk.line).map_err(Silence::Garbage)?;
        if entries.len() != self.asked.len() {
            let (got, due) = (entries.len(), self.asked.len());
            let line = wire::excerpt(&self.talk.line);
            return Err(Silence::Garbage(format!("{got} answers where {due} were due: {line}")));
        }
        for (entry, number) in entries.into_iter().zip(self.asked.drain(..)) {
            let Some(slot) = self.slots.get_mut(number as usize) else { continue };
            slot.state = match slot.state {
                State::AskedReset => wire::read_reset(entry, Some(number)).map(|()| State::Answered(None))?,
                State::AskedTick(time_ms) => {
                    slot.sent.clear();
                    let output = wire::read_tick_and_requests(entry, Some(number), time_ms, self.kind, &mut slot.sent)?;
                    State::Answered(Some(output))
                }
                State::Idle | State::Answered(_) => State::Idle,
            };
        }
        Ok(())
    }
}

/// One of them.
struct Instance {
    number: u32,
    shared: Arc<Mutex<Shared>>,
}

impl Instance {
    fn poll(&mut self, asks: State, write: impl FnOnce(&mut Vec<u8>, u32)) -> Poll<Result<Option<Output>, Silence>> {
        let mut shared = self.shared.lock().unwrap_or_else(PoisonError::into_inner);
        let shared = &mut *shared;
        let answer = |shared: &mut Shared| {
            let slot = shared.slots.get_mut(self.number as usize)?;
            match std::mem::take(&mut slot.state) {
                State::Answered(output) => Some(output),
                other => {
                    slot.state = other;
                    None
                }
            }
        };
        if let Some(silence) = &shared.failed {
            return Poll::Ready(Err(silence.clone()));
        }
        if let Some(output) = answer(shared) {
            return Poll::Ready(Ok(output));
        }
        if let Some(slot) = shared.slots.get_mut(self.number as usize).filter(|slot| matches!(slot.state, State::Idle))
        {
            slot.state = asks;
            shared.line.push(if shared.line.is_empty() { b'[' } else { b',' });
            write(&mut shared.line, self.number);
            shared.asked.push(self.number);
            return Poll::Pending;
        }
        if let Err(silence) = shared.turn() {
            shared.failed = Some(silence.clone());
            return Poll::Ready(Err(silence));
        }
        answer(shared).map_or(Poll::Pending, |output| Poll::Ready(Ok(output)))
    }
}

impl Port for Instance {
    fn reset(&mut self) -> Result<(), Silence> {
        alone(poll_fn(|_| self.poll_reset()))
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Result<Output, Silence> {
        alone(poll_fn(|_| self.poll_step(inputs, answers)))
    }

    fn poll_reset(&mut self) -> Poll<Result<(), Silence>> {
        self.poll(State::AskedReset, wire::write_reset_of).map_ok(|_| ())
    }

    fn poll_step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Poll<Result<Output, Silence>> {
        let asks = State::AskedTick(inputs.time_ms);
        let asked = self.poll(asks, |line, number| wire::write_tick_of(line, number, inputs, answers));
        asked.map_ok(|output| output.unwrap_or(Output::OPEN))
    }

    fn requests(&mut self, sent: &mut Vec<Request>) -> Result<(), Silence> {
        let mut shared = self.shared.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(slot) = shared.slots.get_mut(self.number as usize) {
            sent.append(&mut slot.sent);
        }
        Ok(())
    }
}
