//! Ticks in which the reference need not think: between two answers, mostly, only time passes.

use super::Reference;
use crate::signal::{Answer, Inputs, Output};
use std::cell::Cell;

/// What it was given and gave in a tick that changed nothing of what it remembers. As long as the wires are the same, no
/// answer comes and nothing that it waits for falls due, another look would come to the same.
#[derive(Debug, Default)]
pub(super) struct Rest {
    last: Option<(Inputs, Output)>,
    until_ms: i64,
    /// The earliest time that has been waited for in this tick.
    next_ms: Cell<Option<i64>>,
}

impl Rest {
    /// Whether so much time has passed since an instant, or more, ms; if not, it is waited for.
    pub fn passed(&self, now_ms: i64, since_ms: i64, ms: i64) -> bool {
        let due_ms = since_ms + ms;
        let passed = now_ms >= due_ms;
        if !passed {
            self.next_ms.set(Some(self.next_ms.get().map_or(due_ms, |next_ms| next_ms.min(due_ms))));
        }
        passed
    }

    /// The output of a tick that needs no second look.
    pub fn goes_on(&self, inputs: &Inputs, answers: &[Answer], now_ms: i64) -> Option<Output> {
        let (wired, output) = self.last?;
        let rests = answers.is_empty() && now_ms < self.until_ms;
        (rests && *inputs == Inputs { time_ms: inputs.time_ms, ..wired }).then_some(output)
    }

    /// The end of a tick; `last`: what it was given and gave, where it changed nothing.
    pub fn begin(&mut self, last: Option<(Inputs, Output)>) {
        self.last = last;
        self.until_ms = self.next_ms.take().unwrap_or(i64::MAX);
    }
}

impl Reference {
    /// Whether so much time has passed, as `Rest::passed`: all that the reference waits for goes through this.
    pub(super) fn passed(&self, now_ms: i64, since_ms: i64, ms: i64) -> bool {
        self.rest.passed(now_ms, since_ms, ms)
    }
}
