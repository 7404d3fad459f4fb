//! When something that waits comes due: what lets a pass over a recording skip the rows in which nothing can change.

use std::cell::Cell;

/// Until when a monitor does the same in each row, as long as it is given the same.
///
/// That holds for one whose every comparison with the clock goes through its alarm: until the earliest of the times that it
/// has asked for and that haven't come, each of these comparisons turns out as it did. How old the data are is asked for
/// apart from all else, as answers that bring the same again put that time off.
#[derive(Debug, Clone, Default)]
pub struct Alarm {
    at_ms: Cell<u32>,
    /// The least age of the data that has been asked for and that they haven't reached, ms.
    age_ms: Cell<u32>,
    /// They have reached another one.
    old: Cell<bool>,
    awake: Cell<bool>,
}

impl Alarm {
    /// A row is looked at; `again`: it brings nothing new; `data_ms`: when the oldest of the data arrived. Where something
    /// has come due in it, or it brings something, the next one sees what has come of that and has to be looked at too.
    pub fn begin(&self, now_ms: u32, data_ms: Option<u32>, again: bool) {
        self.awake.set(!again || now_ms >= self.rings_ms(data_ms));
        self.at_ms.set(u32::MAX);
        self.age_ms.set(u32::MAX);
        self.old.set(false);
    }

    fn rings_ms(&self, data_ms: Option<u32>) -> u32 {
        data_ms.map_or(u32::MAX, |at| at.saturating_add(self.age_ms.get())).min(self.at_ms.get())
    }

    /// Something changes, or may change, with each row.
    pub fn keep_awake(&self) {
        self.awake.set(true);
    }

    /// Whether so much time has passed since an instant, or more, ms; if not, it is waited for.
    #[must_use]
    pub fn passed(&self, now_ms: u32, since_ms: u32, ms: u32) -> bool {
        let due_ms = since_ms.saturating_add(ms);
        let passed = now_ms >= due_ms;
        if !passed {
            self.at_ms.set(self.at_ms.get().min(due_ms));
        }
        passed
    }

    /// Whether more than that has passed.
    #[must_use]
    pub fn exceeded(&self, now_ms: u32, since_ms: u32, ms: u32) -> bool {
        self.passed(now_ms, since_ms, ms.saturating_add(1))
    }

    /// Whether data that arrived at an instant are so old, or older, ms; if not, it is waited for.
    #[must_use]
    pub fn aged(&self, now_ms: u32, data_ms: u32, ms: u32) -> bool {
        let aged = now_ms >= data_ms.saturating_add(ms);
        if aged {
            self.old.set(true);
        } else {
            self.age_ms.set(self.age_ms.get().min(ms));
        }
        aged
    }

    /// A row that brings nothing new changes nothing before this time, ms.
    #[must_use]
    pub fn sleeps_until_ms(&self, data_ms: Option<u32>) -> u32 {
        if self.awake.get() { 0 } else { self.rings_ms(data_ms) }
    }

    /// Newer data that tell the same change something: they were too old for something.
    #[must_use]
    pub fn heeds_age(&self) -> bool {
        self.old.get()
    }
}
