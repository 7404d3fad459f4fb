//! Drives in town: near the speeds at which the box may take over, one trouble after the other, each at a moment of its
//! own, and a hand-over after each.

use super::dice::Dice;
use super::draft::{ceiling_kmh, lowest_gear, top_gear};
use super::happenings::Trouble;
use super::random::Writer;
use crate::drive::{Happening, When};
use crate::signal::Lever;
use crate::spec::facts::TakeOver;

/// When a trouble comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Moment {
    /// Before the lever arrives in the gate: one condition is missing.
    Before,
    /// On the tick on which the box would engage, or near it.
    Due,
    /// While nothing else goes on.
    Steady,
    /// As the pedal asks for a shift.
    Asked,
    /// Inside the pulse, more or less.
    Pulse,
    /// While the gearbox shifts, more or less.
    Shift,
    /// After a shift, before the next may come.
    After,
}

const MOMENTS: [Moment; 7] =
    [Moment::Asked, Moment::Due, Moment::Pulse, Moment::Steady, Moment::Shift, Moment::Before, Moment::After];

/// A trial takes about so long, ms.
const TRIAL_MS: u32 = 5000;

impl Writer<'_> {
    /// One trial after the other, so many as fit. Neighbouring turns have other kinds of trouble, until each has come; in
    /// the next round each comes at another moment.
    pub(super) fn town(&mut self, seed: u64, turn: u32, length_ms: u32) {
        let kinds = u32::try_from(self.troubles.kinds.len()).unwrap_or(1).max(1);
        let trials = (length_ms / TRIAL_MS).clamp(1, kinds);
        self.hand_over(None);
        let between_kmh = self.between_lines();
        self.climb_to(between_kmh);
        self.shuttle(None);
        for card in (u64::from(turn) * u64::from(trials)..).take(trials as usize) {
            let round = (card / u64::from(kinds)) as u32;
            let at = (card % u64::from(kinds)) as usize;
            let shuffled = Dice::new("troubles", seed, round).shuffled(kinds as usize);
            let kind = shuffled.get(at).copied().unwrap_or(0);
            let moment = MOMENTS.get((kind + round as usize) % MOMENTS.len()).copied().unwrap_or(Moment::Steady);
            if let Some(&trouble) = self.troubles.kinds.get(kind) {
                self.trial(trouble, moment);
            }
        }
    }

    /// A trouble at a moment, and what the box makes of it.
    fn trial(&mut self, kind: Trouble, moment: Moment) {
        match moment {
            Moment::Before | Moment::Due => self.hand_over(Some((kind, moment))),
            _ => {
                if self.let_go {
                    self.hand_over(None);
                }
                let between = self.between_lines();
                self.climb_to(between);
                if moment == Moment::Steady {
                    let later_ms = self.dice.ms(300, 1500);
                    self.trouble(kind, self.now_ms + later_ms);
                    let ms = later_ms + self.dice.ms(500, 3000);
                    self.hold(ms, between);
                    self.shuttle(None);
                } else {
                    self.shuttle(Some((kind, moment)));
                }
                return;
            }
        }
        // What it does now that something is wrong shows where the pedal asks for shifts.
        let between = self.between_lines();
        self.climb_to(between);
        self.shuttle(None);
    }

    /// The driver hands over, slow enough or just not; a trouble comes before or as the box would engage.
    fn hand_over(&mut self, trouble: Option<(Trouble, Moment)>) {
        let first = self.now_ms == 0 && !self.in_gate;
        let ceiling = ceiling_kmh(self.spec);
        let weights = if trouble.is_some() { [3, 5, 1, 0] } else { [4, 4, 2, 1] };
        let aim_kmh = match self.dice.weighted(&weights) {
            0 if first => self.speed_kmh,
            0 => 0.0,
            1 => f64::from(self.dice.within(0, ceiling as i32)),
            2 => ceiling + f64::from(self.dice.within(-2, 2)),
            _ => ceiling + f64::from(self.dice.within(0, 40)),
        };
        if aim_kmh < self.speed_kmh {
            self.go_to(aim_kmh);
        }
        let from_ms = self.now_ms;
        let out_ms = if first { 0 } else { self.dice.ms(300, 1500) };
        // Now and then the driver is there before the box is.
        let settle_ms = match first {
            true if self.dice.chance(20) => self.dice.ms(0, 300),
            true => self.dice.ms(300, 2500),
            false => self.dice.ms(300, 1200),
        };
        let gate_ms = from_ms + settle_ms + out_ms;
        if !first {
            self.event(When::At(from_ms + settle_ms), Happening::Lever(Lever::D));
        }
        let mut due_ms = gate_ms;
        if self.dice.chance(97) {
            self.event(When::At(gate_ms), Happening::Lever(Lever::Gate));
        }
        if self.spec.facts.take_over == TakeOver::Button {
            due_ms += self.dice.ms(50, 800);
            let ms = self.dice.ms(50, 600) as u16;
            self.event(When::At(due_ms), Happening::Button(ms));
        }
        // Held long enough, the edge and its bounce included, give or take five ticks.
        due_ms += self.spec.limits.conditions_held.ms() + self.spec.limits.lever_bounce.ms();
        self.let_go = false;
        match trouble {
            Some((kind, Moment::Before)) => {
                let before_ms = self.dice.ms(0, 1500);
                self.trouble(kind, gate_ms.saturating_sub(before_ms));
            }
            Some((kind, _)) => {
                let off = self.dice.within(-10, 10) * self.spec.facts.tick.ms().max(1) as i32;
                self.trouble(kind, due_ms.saturating_add_signed(off));
            }
            None if self.dice.chance(5) => self.fidget(gate_ms),
            None => {}
        }
        let ms = due_ms - from_ms + self.dice.ms(200, 1300);
        self.hold(ms, aim_kmh);
    }

    /// The lever goes out and in again several times.
    fn fidget(&mut self, from_ms: u32) {
        let mut at_ms = from_ms;
        let (out_ms, in_ms) = (self.dice.ms(20, 700), self.dice.ms(20, 1300));
        for _ in 0..self.dice.within(1, 7) {
            at_ms += in_ms;
            let out = self.dice.one([Lever::D, Lever::D, Lever::N, Lever::R]);
            self.event(When::At(at_ms), Happening::Lever(out));
            at_ms += out_ms;
            self.event(When::At(at_ms), Happening::Lever(Lever::Gate));
        }
    }

    /// Down to the floor and off again; a trouble comes with one of these.
    fn shuttle(&mut self, trouble: Option<(Trouble, Moment)>) {
        let at = self.dice.below(2);
        for part in 0..2 {
            if let Some((kind, moment)) = trouble.filter(|_| part == at) {
                // From the pedal to the pulse an update and the answer's way, then the pulse, then the shift.
                let later_ms = match moment {
                    Moment::Pulse => self.dice.ms(100, 400),
                    Moment::Shift => self.dice.ms(300, 1100),
                    Moment::After => self.dice.ms(900, 3000),
                    _ => self.dice.ms(0, 200),
                };
                self.trouble(kind, self.now_ms + later_ms);
            }
            let (ms, pedal) = if part == 0 {
                (self.dice.ms(600, 1300), if self.dice.chance(60) { 1000 } else { self.dice.within(300, 1000) as u16 })
            } else {
                (self.dice.ms(1000, 2200), if self.dice.chance(50) { 0 } else { self.dice.within(0, 300) as u16 })
            };
            self.pedal(ms, pedal);
        }
    }

    /// Of a low pair: the speed of its up line with a light pedal, and of its down line with the pedal on the floor.
    fn lines(&mut self) -> (f64, f64) {
        let (lowest, top) = (lowest_gear(self.spec), top_gear(self.spec));
        let low = (lowest + u8::from(self.dice.chance(20))).min(top.saturating_sub(1)).max(1);
        let light_kmh = self.spec.map.up_kmh(low, 10.0).unwrap_or(40.0);
        let floored_kmh = self.spec.map.down_kmh(low + 1, 100.0).unwrap_or(light_kmh + 10.0);
        (light_kmh.min(floored_kmh - 4.0).max(3.0), floored_kmh.max(5.0))
    }

    /// A speed at which the pedal alone decides between two gears.
    fn between_lines(&mut self) -> f64 {
        let (low_kmh, high_kmh) = self.lines();
        low_kmh + (high_kmh - low_kmh) * f64::from(self.dice.below(1001)) / 1000.0
    }
}
