//! What the box has read, sample by sample, and which pairs of speed and pedal it may have gone by at a time.

use super::Story;
use crate::spec::Spec;

/// A valid value that the box has read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// The tick that brought it, ms.
    pub at_ms: u32,
    /// km/h or %.
    pub value: f64,
}

/// Least and greatest of some samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// The least.
    pub least: f64,
    /// The greatest.
    pub most: f64,
}

/// The samples that a box may go by at a time: the newest `count` and one before, and all that were the newest one at
/// some instant of the last `window_ms`.
///
/// A box that takes a mean, a median or waits for agreement looks back over some updates; the limit on its response
/// says over how many at the most. By count for a link that loses updates, by time for one that doubles them.
fn recent(samples: &[Sample], at_ms: u32, count: usize, window_ms: u32) -> &[Sample] {
    let end = samples.partition_point(|s| s.at_ms <= at_ms);
    let mut first = end;
    let mut until_ms = at_ms;
    while first > 0 && (end - first <= count || until_ms + window_ms >= at_ms) {
        first -= 1;
        until_ms = samples.get(first).map_or(0, |s| s.at_ms);
    }
    samples.get(first..end).unwrap_or(&[])
}

fn extent(samples: &[Sample]) -> Option<Extent> {
    samples.iter().fold(None, |all: Option<Extent>, s| {
        Some(all.map_or(Extent { least: s.value, most: s.value }, |e| Extent {
            least: e.least.min(s.value),
            most: e.most.max(s.value),
        }))
    })
}

/// How long a box may take to respond, ms: the updates allowed, and what their answers may be apart.
#[must_use]
pub fn response_ms(spec: &Spec, updates: u8) -> u32 {
    let link = &spec.link;
    let jitter = (link.answer_most.get() - link.answer_least.get()).max(0.0);
    crate::units::Ms::new(link.period.get() * f64::from(updates) + jitter + spec.facts.tick.get()).ms()
}

impl Story {
    /// Speeds that a box may go by at a time.
    #[must_use]
    pub fn speeds_by(&self, spec: &Spec, at_ms: u32) -> Option<Extent> {
        let updates = spec.limits.response_updates;
        extent(recent(&self.speeds, at_ms, usize::from(updates), response_ms(spec, updates)))
    }

    /// How far a command at a time lies beyond its line, km/h, on the pair that speaks best for it: the greatest of
    /// (speed − line) for an upshift, of (line − speed) for a downshift.
    ///
    /// Each speed goes with each pedal: they arrive one after the other, and a box may smooth each by itself. A mean
    /// over such samples lies beyond the line only if one of these pairs does.
    #[must_use]
    pub fn beyond_kmh(&self, spec: &Spec, at_ms: u32, from: u8, to: u8) -> Option<f64> {
        let updates = spec.limits.response_updates;
        let speeds = self.speeds_by(spec, at_ms)?;
        let pedals = recent(&self.pedals, at_ms, usize::from(updates), response_ms(spec, updates));
        let mut best: Option<f64> = None;
        let mut last = f64::NAN;
        for pedal in pedals.iter().filter(|p| {
            let other = p.value != last;
            last = p.value;
            other
        }) {
            let line = spec.map.speed_kmh(from, to, pedal.value)?;
            let beyond = if to > from { speeds.most - line } else { line - speeds.least };
            best = Some(best.map_or(beyond, |b| b.max(beyond)));
        }
        best
    }

    /// The speed read was at standstill at some time in between.
    #[must_use]
    pub fn stood_between(&self, spec: &Spec, from_ms: u32, to_ms: u32) -> bool {
        let first = self.speeds.partition_point(|s| s.at_ms < from_ms);
        let rest = self.speeds.get(first..).unwrap_or(&[]);
        rest.iter().take_while(|s| s.at_ms <= to_ms).any(|s| s.value <= spec.limits.standstill.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn samples(at: &[u32]) -> Vec<Sample> {
        at.iter().map(|&at_ms| Sample { at_ms, value: f64::from(at_ms) }).collect()
    }

    /// The newest three and the one before; older ones only if they were the newest within the window.
    #[test]
    fn what_a_box_may_go_by() {
        let tape = samples(&[0, 100, 200, 300, 400, 500]);
        assert_eq!(recent(&tape, 550, 3, 0), &tape[2..]);
        assert_eq!(recent(&tape, 450, 3, 0), &tape[1..5]);
        // 100 ms is replaced at 200 ms, 350 ms before.
        assert_eq!(recent(&tape, 550, 3, 350), &tape[1..]);
        assert_eq!(recent(&tape, 550, 3, 349), &tape[2..]);
        assert_eq!(recent(&tape, 50, 3, 350), &tape[..1]);
        assert!(recent(&[], 550, 3, 350).is_empty());
    }
}
