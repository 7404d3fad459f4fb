//! Controllers as programs of their own, in any language, over protocol 1.6 (`PROTOCOL.md`).
#![expect(clippy::disallowed_types, reason = "an answer limit is wall time; no verdict depends on how long it took")]

use super::child::Child;
use super::hello::{Hello, HelloAnswers};
use super::instances;
use super::place::Place;
use super::wire::{self, Kind, Welcome};
use super::words;
use super::{NotStarted, Port, Source};
use crate::recording::Silence;
use crate::signal::{Answer, Inputs, Output, Request};
use crate::spec::Spec;
use nix::errno::Errno;
use nix::poll::{PollFd, PollFlags, PollTimeout, poll};
use std::io::{ErrorKind, Read, Write};
use std::os::fd::AsFd;
use std::time::{Duration, Instant};

/// How programs are named: `cmd:python3 box.py`.
pub const COMMAND: &str = "cmd:";
/// No line may be longer.
const LONGEST_LINE: usize = 1024 * 1024;
/// As much is read at once.
const PIECE: usize = 16 * 1024;

/// A program to start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Program {
    command: String,
    words: Vec<String>,
    /// Within this time it must say hello.
    pub start_limit: Duration,
    /// Within this time it must answer.
    pub answer_limit: Duration,
}

impl Program {
    /// The program of a command, with or without its `cmd:`.
    ///
    /// # Errors
    /// A sentence on what is wrong with the command.
    pub fn named(command: &str) -> Result<Self, String> {
        let command = command.strip_prefix(COMMAND).unwrap_or(command);
        let words = words::split(command)?;
        let (start_limit, answer_limit) = (Duration::from_secs(10), Duration::from_secs(1));
        Ok(Self { command: command.to_owned(), words, start_limit, answer_limit })
    }

    /// Starts it and exchanges the hello.
    ///
    /// # Errors
    /// A sentence on why there is no controller.
    pub fn launch(&self, hello: &Hello) -> Result<ProgramPort, NotStarted> {
        let place = Place::take();
        let (talk, welcome) = self.meet(hello, &place)?;
        let (program, hello) = (self.clone(), hello.clone());
        Ok(ProgramPort { program, hello, talk, place, welcome, fresh: true, failed: None, sent: Vec::new() })
    }

    /// Starts it at a place and exchanges the hello.
    fn meet(&self, hello: &Hello, place: &Place) -> Result<(Talk, Welcome), NotStarted> {
        place.stay();
        let line = wire::hello_line(hello);
        let not_started = |why: String| NotStarted(format!("{COMMAND}{}: {why}", self.command));
        let mut talk = Talk::start(&self.words).map_err(not_started)?;
        let reply = talk.ask(line.as_bytes(), self.start_limit).map(|()| wire::read_welcome(&talk.line));
        let welcome = match reply {
            Ok(welcome) => welcome.map_err(|why| format!("no hello: {why}{}", talk.child.last_words())),
            Err(Silence::TooLate(ms)) => Err(format!(
                "no hello within {ms} ms. If it has written one, it is still in a buffer: a program must flush its output \
                 after each line{}",
                talk.child.last_words()
            )),
            Err(silence) => Err(format!("no hello: {silence}")),
        };
        let welcome = welcome.map_err(not_started)?;
        let (expected, kind) = match hello.answers {
            HelloAnswers::Contacts => ("contacts", Kind::Contacts),
            HelloAnswers::Requests { .. } => ("requests", Kind::Requests),
        };
        if welcome.answers != kind {
            return Err(not_started(format!(
                "the spec says that this box answers {expected}, its hello says otherwise"
            )));
        }
        Ok((talk, welcome))
    }
}

impl Source for Program {
    fn start(&self, spec: &Spec) -> Result<Box<dyn Port>, NotStarted> {
        Ok(Box::new(self.launch(&Hello::of(spec))?))
    }

    fn start_several(&self, spec: &Spec, most: usize) -> Result<Vec<Box<dyn Port>>, NotStarted> {
        let port = self.launch(&Hello::of(spec))?;
        let count = port.welcome.instances.min(u32::try_from(most).unwrap_or(u32::MAX));
        Ok(if count > 1 { instances::share(port, count) } else { vec![Box::new(port)] })
    }

    fn name(&self) -> String {
        format!("{COMMAND}{}", self.command)
    }

    fn takes_turns(&self) -> bool {
        true
    }
}

/// A program that has said hello.
pub struct ProgramPort {
    pub(super) program: Program,
    hello: Hello,
    pub(super) talk: Talk,
    pub(super) place: Place,
    pub(super) welcome: Welcome,
    /// It hasn't been driven since its start.
    fresh: bool,
    failed: Option<Silence>,
    /// What it asked for on the diagnostic port since the last tick.
    sent: Vec<Request>,
}

impl ProgramPort {
    /// What it said at its start.
    #[must_use]
    pub fn welcome(&self) -> &Welcome {
        &self.welcome
    }

    /// The last 64 KiB it has said on standard error.
    #[must_use]
    pub fn stderr(&self) -> String {
        self.talk.child.stderr()
    }

    /// Its process number.
    #[must_use]
    pub fn process_id(&self) -> u32 {
        self.talk.child.id()
    }

    /// Keeps a failure: what comes after it has no meaning.
    fn keep<T>(&mut self, result: Result<T, Silence>) -> Result<T, Silence> {
        if let Err(silence) = &result {
            self.failed = Some(silence.clone());
        }
        result
    }

    fn restart(&mut self) -> Result<(), Silence> {
        let met = self.program.meet(&self.hello, &self.place);
        (self.talk, self.welcome) = met.map_err(|error| Silence::Ended(format!("at a new start: {error}")))?;
        self.fresh = true;
        Ok(())
    }
}

impl Port for ProgramPort {
    fn reset(&mut self) -> Result<(), Silence> {
        if let Some(silence) = &self.failed {
            return Err(silence.clone());
        }
        // The last drive may have been another thread's.
        self.place.stay();
        let result = if self.welcome.reset {
            let unasked = self.talk.said_nothing();
            let asked = unasked.and_then(|()| self.talk.ask(wire::RESET_LINE, self.program.answer_limit));
            asked.and_then(|()| wire::read_reset(&self.talk.line, None))
        } else if self.fresh {
            Ok(())
        } else {
            self.restart()
        };
        self.keep(result)
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Result<Output, Silence> {
        if let Some(silence) = &self.failed {
            return Err(silence.clone());
        }
        self.fresh = false;
        let mut request = std::mem::take(&mut self.talk.request);
        request.clear();
        wire::write_tick(&mut request, inputs, answers);
        let asked = self.talk.ask(&request, self.program.answer_limit);
        self.talk.request = request;
        self.sent.clear();
        let (time_ms, kind, sent) = (inputs.time_ms, self.welcome.answers, &mut self.sent);
        let result = asked.and_then(|()| wire::read_tick_and_requests(&self.talk.line, None, time_ms, kind, sent));
        self.keep(result)
    }

    fn requests(&mut self, sent: &mut Vec<Request>) -> Result<(), Silence> {
        sent.append(&mut self.sent);
        Ok(())
    }
}

/// One line there, one line back.
pub(super) struct Talk {
    child: Child,
    /// The line to send; kept for its memory.
    request: Vec<u8>,
    /// The last line that came back.
    pub(super) line: Vec<u8>,
    /// What has come since.
    unread: Vec<u8>,
    /// Where it is read to.
    piece: Box<[u8; PIECE]>,
}

impl Talk {
    fn start(words: &[String]) -> Result<Self, String> {
        let child = Child::start(words)?;
        let (request, line, unread) = (Vec::new(), Vec::new(), Vec::new());
        Ok(Self { child, request, line, unread, piece: Box::new([0; PIECE]) })
    }

    /// Sends a line and waits for one line, which is then in `self.line`.
    pub(super) fn ask(&mut self, request: &[u8], limit: Duration) -> Result<(), Silence> {
        let deadline = Instant::now() + limit;
        self.send(request, deadline, limit)?;
        self.receive(deadline, limit)
    }

    /// Nothing has come since the last answer. Looked for once a drive: a line ahead of its request would be taken for
    /// its answer, and then the answer is one too many or for another tick.
    fn said_nothing(&mut self) -> Result<(), Silence> {
        if self.read_some()? {
            Err(Silence::Flood(format!("unasked, {}", wire::excerpt(&self.unread))))
        } else {
            Ok(())
        }
    }

    /// Writes, and waits only where that takes nothing: an exchange is short, and each call counts.
    fn send(&mut self, request: &[u8], deadline: Instant, limit: Duration) -> Result<(), Silence> {
        let mut left = request;
        while !left.is_empty() {
            let Some(stdin) = &mut self.child.stdin else { return Err(Silence::Closed) };
            match stdin.write(left) {
                Ok(count) => left = left.get(count..).unwrap_or_default(),
                Err(error) if error.kind() == ErrorKind::WouldBlock => {
                    let (to, from) = (stdin.as_fd(), self.child.stdout.as_fd());
                    let mut both = [PollFd::new(to, PollFlags::POLLOUT), PollFd::new(from, PollFlags::POLLIN)];
                    wait(&mut both, deadline, limit)?;
                    // It speaks instead of reading, or has closed its output.
                    self.said_nothing()?;
                }
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(_) => return Err(self.over()),
            }
        }
        Ok(())
    }

    fn receive(&mut self, deadline: Instant, limit: Duration) -> Result<(), Silence> {
        let mut looked = 0;
        loop {
            if let Some(at) = self.unread.iter().skip(looked).position(|&b| b == b'\n') {
                let end = looked + at;
                self.line.clear();
                self.line.extend(self.unread.drain(..=end));
                self.line.pop();
                return if self.unread.is_empty() {
                    Ok(())
                } else {
                    Err(Silence::Flood(format!("a further line, {}", wire::excerpt(&self.unread))))
                };
            }
            looked = self.unread.len();
            if looked > LONGEST_LINE {
                return Err(Silence::Flood(format!("a line longer than 1 MiB, {}", wire::excerpt(&self.unread))));
            }
            // On one core it has mostly answered by the time the request is written.
            if !self.read_some()? {
                wait(&mut [PollFd::new(self.child.stdout.as_fd(), PollFlags::POLLIN)], deadline, limit)?;
            }
        }
    }

    /// Reads what is there; whether there was anything.
    fn read_some(&mut self) -> Result<bool, Silence> {
        match self.child.stdout.read(self.piece.as_mut_slice()) {
            Ok(0) => Err(self.over()),
            Ok(count) => {
                self.unread.extend(self.piece.iter().take(count));
                Ok(true)
            }
            Err(error) if matches!(error.kind(), ErrorKind::Interrupted | ErrorKind::WouldBlock) => Ok(false),
            Err(error) => Err(Silence::Garbage(format!("its output can't be read: {error}"))),
        }
    }

    /// Its output or input is closed: has it ended?
    fn over(&mut self) -> Silence {
        match self.child.ending() {
            Some(how) => Silence::Ended(format!("{how}{}", self.child.last_words())),
            None => Silence::Closed,
        }
    }
}

/// Waits until one of the pipes is ready.
fn wait(pipes: &mut [PollFd<'_>], deadline: Instant, limit: Duration) -> Result<(), Silence> {
    loop {
        let left = deadline.saturating_duration_since(Instant::now());
        // Rounded up: a wait of 0 ms would spin through the last millisecond.
        let left_ms = u16::try_from(left.as_millis() + 1).unwrap_or(u16::MAX);
        match poll(pipes, PollTimeout::from(left_ms)) {
            Ok(0) if left.is_zero() => {
                return Err(Silence::TooLate(u64::try_from(limit.as_millis()).unwrap_or(u64::MAX)));
            }
            Ok(0) | Err(Errno::EINTR) => {}
            Ok(_) => return Ok(()),
            Err(error) => return Err(Silence::Garbage(format!("its pipes can't be watched: {error}"))),
        }
    }
}
