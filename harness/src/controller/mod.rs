//! The controller's side: how the harness reaches any kind of controller.

mod child;
pub mod hello;
pub mod in_process;
pub mod named;
mod place;
pub mod process;
pub mod reference;
pub mod wire;
mod words;

use crate::recording::Silence;
use crate::signal::{Answer, Inputs, Output, Request};
use crate::spec::Spec;
use std::fmt;

/// A controller in the maker's own Rust: one step per tick.
pub trait Controller: Send {
    /// Power-up: forget everything and start afresh.
    fn reset(&mut self);

    /// One tick: the wired inputs of this tick and those answers that arrived since the last one.
    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Output;

    /// Adds the diagnostic requests that it has sent since the last tick, after each `step`; only a box that declares
    /// `sends-requests` is asked.
    fn requests(&mut self, sent: &mut Vec<Request>) {
        let _ = sent;
    }
}

/// One running instance of a controller of any kind, as the closed loop sees it.
pub trait Port: Send {
    /// Power-up.
    ///
    /// # Errors
    /// Why the controller didn't take part.
    fn reset(&mut self) -> Result<(), Silence>;

    /// One tick.
    ///
    /// # Errors
    /// Why there was no answer; the instance is of no use afterwards.
    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Result<Output, Silence>;

    /// Adds the diagnostic requests that the box has sent since the last tick.
    ///
    /// # Errors
    /// Why it doesn't say; the instance is of no use afterwards.
    fn requests(&mut self, sent: &mut Vec<Request>) -> Result<(), Silence> {
        let _ = sent;
        Ok(())
    }
}

/// Where instances come from; each worker thread starts its own.
pub trait Source: Sync {
    /// Starts an instance for a spec.
    ///
    /// # Errors
    /// A sentence for the user: the controller isn't there, doesn't start, gives no hello, or speaks another version.
    fn start(&self, spec: &Spec) -> Result<Box<dyn Port>, NotStarted>;

    /// How the user names this controller.
    fn name(&self) -> String;

    /// Whether it is another process, which takes turns with this one at each tick.
    fn takes_turns(&self) -> bool {
        false
    }
}

/// The controller could not be started.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotStarted(pub String);

impl fmt::Display for NotStarted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for NotStarted {}
