//! Structure: leaves out events and steps, makes two steps one, and says in one line what goes to and fro.

use super::Shrinker;
use super::forms::plain;
use crate::drive::{Demand, Drive, Event, Happening, Step, When};
use crate::signal::Lever;

/// How long a turn may last, ms.
const TURNS_MS: [u16; 5] = [1000, 2000, 5000, 500, 10_000];
/// This many steps or lever movements are worth one line.
const MANY: usize = 4;
/// How long a line of turns is driven, ms.
const TURNING_MS: u32 = 90_000;

impl Shrinker<'_> {
    /// Leaves out events and steps: many at once first, then one by one from the back, until each one left is needed.
    pub(super) fn leave_out(&mut self) {
        for chunk in [8, 4, 2, 1] {
            let mut at = self.best.events.len();
            while at > 0 {
                let from = at.saturating_sub(chunk);
                let mut less = self.best.clone();
                less.events.drain(from..at.min(less.events.len()));
                let _ = self.exactly(less.clone()) || chunk == 1 && self.attempt(less);
                at = from.min(self.best.events.len());
            }
        }
        for chunk in [8, 4, 2, 1] {
            let mut at = self.best.steps.len();
            while at > 0 {
                let from = at.saturating_sub(chunk);
                if self.best.steps.len() > chunk {
                    self.leave_out_steps(from, at);
                }
                at = from.min(self.best.steps.len());
            }
        }
    }

    /// Whether any one step or event, all else as it is, can still be left out; then it is.
    pub(super) fn leave_one_out(&mut self) -> bool {
        let fewer_events = (0..self.best.events.len()).map(|at| {
            let mut less = self.best.clone();
            less.events.remove(at);
            less
        });
        let fewer_steps = (0..self.best.steps.len()).map(|at| {
            let mut less = self.best.clone();
            less.steps.remove(at);
            less
        });
        let all: Vec<Drive> = fewer_events.chain(fewer_steps).collect();
        all.into_iter().rev().any(|less| self.exactly(less))
    }

    fn leave_out_steps(&mut self, from: usize, to: usize) {
        let to = to.min(self.best.steps.len());
        let mut less = self.best.clone();
        let gone_ms: u32 = less.steps.drain(from..to).map(|step| step.ms).sum();
        if self.exactly(less.clone()) {
            return;
        }
        // Later events stay where they are in the driving.
        let mut earlier = less.clone();
        let begins_ms = self.begins_ms(from);
        move_events(&mut earlier, begins_ms.saturating_add(gone_ms), gone_ms);
        if self.attempt(earlier) || to - from > 1 {
            return;
        }
        // Without its driving but with its time.
        if let Some(step) = less.steps.get_mut(from.saturating_sub(1)) {
            step.ms = step.ms.saturating_add(gone_ms);
        }
        self.attempt(less);
    }

    /// When a step begins, ms.
    pub(super) fn begins_ms(&self, step: usize) -> u32 {
        self.best.steps.iter().take(step).map(|step| step.ms).fold(0, u32::saturating_add)
    }

    /// Two neighbours as one, driven like either.
    pub(super) fn merge_steps(&mut self) {
        let mut at = 1;
        while let (Some(a), Some(b)) = (self.best.steps.get(at - 1).copied(), self.best.steps.get(at).copied()) {
            let merged = [a, b].into_iter().any(|like| {
                let one = Step { ms: a.ms.saturating_add(b.ms), ..like };
                self.with(|d| {
                    let from = (at - 1).min(d.steps.len());
                    d.steps.splice(from..(at + 1).min(d.steps.len()), [one]);
                })
            });
            if !merged {
                at += 1;
            }
        }
    }

    /// Many pedal movements or lever movements as one line in which two take turns.
    pub(super) fn fold(&mut self) {
        if self.best.steps.len() > MANY {
            self.fold_pedals();
        }
        let mut positions: Vec<_> = self.best.events.iter().filter_map(lever).collect();
        if positions.len() > MANY {
            positions.sort_unstable();
            positions.dedup();
            for (first, second) in pairs(&positions) {
                if TURNS_MS.into_iter().any(|every_ms| self.fold_lever(first, second, every_ms)) {
                    return;
                }
            }
        }
    }

    fn fold_lever(&mut self, first: Lever, second: Lever, every_ms: u16) -> bool {
        self.with(|d| {
            d.events.retain(|event| lever(event).is_none());
            let what = Happening::LeverInTurn(first, second, every_ms, TURNING_MS);
            d.events.push(Event { when: When::At(1000), what });
        })
    }

    fn fold_pedals(&mut self) {
        let mut levels: Vec<u16> = Vec::new();
        for step in &self.best.steps {
            if let Demand::Pedal(pedal) | Demand::PedalTo(pedal) = step.demand {
                let round = (pedal + 50) / 100 * 100;
                if !levels.contains(&round) {
                    levels.push(round);
                }
            }
        }
        levels.sort_unstable();
        levels.truncate(5);
        for every_ms in TURNS_MS {
            for (first, second) in pairs(&levels) {
                // All steps, or all but the first.
                for kept in [0, 1] {
                    let done = self.with(|d| {
                        d.steps.truncate(kept);
                        d.steps.push(plain(TURNING_MS, Demand::InTurn(first, second, every_ms)));
                    });
                    if done {
                        return;
                    }
                }
            }
        }
    }
}

/// Events from a time on come earlier.
pub(super) fn move_events(drive: &mut Drive, from_ms: u32, by_ms: u32) {
    for event in &mut drive.events {
        if let When::At(ms) = &mut event.when
            && *ms >= from_ms
        {
            *ms = ms.saturating_sub(by_ms);
        }
    }
}

fn lever(event: &Event) -> Option<Lever> {
    if let Happening::Lever(lever) = event.what { Some(lever) } else { None }
}

/// All ordered pairs of two different ones, the far apart first.
fn pairs<T: Copy + PartialEq>(all: &[T]) -> Vec<(T, T)> {
    let mut pairs = Vec::new();
    for &a in all.iter().rev() {
        pairs.extend(all.iter().filter(|&&b| b != a).map(|&b| (a, b)));
    }
    pairs
}
