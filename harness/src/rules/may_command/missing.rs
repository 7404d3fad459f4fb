//! Conditions of which one alone is missing.

use crate::rules::alarm::Alarm;

/// How often a condition was the only one that kept the box from engaging, for long enough to tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OnlyMissing {
    since: [Option<u32>; 3],
    counted: [bool; 3],
    /// Range, data, speed at the ceiling or below.
    pub count: [u32; 3],
}

impl OnlyMissing {
    /// One tick; `waits`: all else is right and the box has not engaged, `holds`: which of the three conditions hold.
    pub(super) fn note(&mut self, now_ms: u32, long_ms: u32, waits: bool, holds: [bool; 3], alarm: &Alarm) {
        let missing = holds.iter().filter(|h| !**h).count();
        let each = holds.iter().zip(&mut self.since).zip(&mut self.counted).zip(&mut self.count);
        for (((holds, since), counted), count) in each {
            if !(waits && missing == 1 && !holds) {
                *since = None;
                *counted = false;
                continue;
            }
            let since = *since.get_or_insert(now_ms);
            if !*counted && alarm.passed(now_ms, since, long_ms) {
                *counted = true;
                *count += 1;
            }
        }
    }
}
