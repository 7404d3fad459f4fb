//! Drives over the whole map: from one pair of gears to the next, each passed in another way.

use super::dice::Dice;
use super::draft::{ceiling_kmh, lowest_gear, tenths, top_gear};
use super::random::Writer;
use crate::drive::{Demand, Happening, When};
use crate::signal::Lever;
use crate::spec::facts::TakeOver;

/// How a pair of gears is passed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// Through the up line, pedal kept.
    Pull,
    /// Off the pedal through the down line.
    Coast,
    /// Uphill through the down line, pedal kept.
    Sink,
    /// Between the lines, pedal down and up.
    Tip,
    /// To and fro over a line.
    Dither,
    /// Slowly in the high gear, up a hill.
    Labour,
    /// Long on a line, or beside it.
    Rest,
    /// The pedal trembles.
    Tremble,
}

const WAYS: [Way; 8] = [Way::Pull, Way::Coast, Way::Tip, Way::Labour, Way::Sink, Way::Dither, Way::Rest, Way::Tremble];

impl Writer<'_> {
    /// Through the pairs of gears, upward or downward by turns, each in its way; eight turns pass each in each.
    pub(super) fn road(&mut self, seed: u64, turn: u32) {
        self.engage();
        let (lowest, top) = (lowest_gear(self.spec), top_gear(self.spec));
        let ways = Dice::new("ways", seed, turn / 8).shuffled(WAYS.len());
        let mut pairs: Vec<u8> = (lowest..top).collect();
        if turn % 2 == 1 {
            pairs.reverse();
        }
        for (place, gear) in pairs.into_iter().enumerate() {
            // Five is no divisor of eight: by turns a pair meets all ways.
            let at = (usize::from(gear) * 5 + turn as usize) % WAYS.len();
            if let Some(&way) = ways.get(at).and_then(|&at| WAYS.get(at)) {
                self.pass(gear, way);
            }
            // Flat out once the highest pair is passed.
            if gear + 1 == top && turn.is_multiple_of(2) {
                let ms = self.dice.ms(2000, 9000);
                self.pedal(ms, 1000);
            }
            // Where there is time, something goes wrong at speed.
            if place % 3 == 2 && self.dice.chance(60) {
                let kind = self.troubles.any(&mut self.dice);
                let later_ms = self.dice.ms(0, 2500);
                self.trouble(kind, self.now_ms + later_ms);
            }
        }
    }

    /// Hands over plainly.
    pub(super) fn engage(&mut self) {
        let kmh = self.speed_kmh.min((ceiling_kmh(self.spec) * 0.8).floor());
        if kmh < self.speed_kmh {
            self.go_to(kmh);
        }
        let again = self.now_ms > 0;
        let at_ms = self.now_ms + self.dice.ms(300, 1200);
        if again {
            self.event(When::At(at_ms), Happening::Lever(Lever::D));
        }
        let gate_ms = at_ms + if again { 800 } else { 0 };
        self.event(When::At(gate_ms), Happening::Lever(Lever::Gate));
        if self.spec.facts.take_over == TakeOver::Button {
            self.event(When::At(gate_ms + 300), Happening::Button(200));
        }
        self.hold(gate_ms + 900 - self.now_ms, kmh);
        self.let_go = false;
    }

    /// A pedal (0.1 %) out of one of four bands: light, half, heavy, on the floor.
    fn band(&mut self) -> u16 {
        match self.dice.below(4) {
            0 => self.dice.within(20, 250) as u16,
            1 => self.dice.within(250, 550) as u16,
            2 => self.dice.within(550, 920) as u16,
            _ => 1000,
        }
    }

    /// Passes the pair of a gear and the next in a way.
    fn pass(&mut self, gear: u8, way: Way) {
        let pedal = self.band();
        let pct = f64::from(pedal) / 10.0;
        let up_kmh = self.spec.map.up_kmh(gear, pct).unwrap_or(self.speed_kmh.max(30.0));
        let down_kmh = self.spec.map.down_kmh(gear + 1, pct).unwrap_or(up_kmh - 5.0);
        match way {
            Way::Pull => {
                let before_kmh = f64::from(self.dice.within(2, 8));
                self.climb_to((up_kmh - before_kmh).max(5.0));
                let ms = self.dice.ms(2000, 6000);
                self.pedal(ms, pedal);
                self.speed_kmh = up_kmh;
            }
            Way::Coast => {
                let closed_kmh = self.spec.map.down_kmh(gear + 1, 0.0).unwrap_or(down_kmh);
                let above_kmh = f64::from(self.dice.within(2, 12));
                self.above(gear, closed_kmh + above_kmh);
                let brake = match self.dice.below(3) {
                    0 => 0,
                    1 => self.dice.within(20, 120) as u16,
                    _ => self.dice.within(120, 900) as u16,
                };
                let ms = self.dice.ms(1500, 6000);
                self.step(ms, Demand::Pedal(0), brake);
                let lost_kmh = f64::from(ms) / 1000.0 * (1.5 + f64::from(brake) * 0.035);
                self.speed_kmh = (self.speed_kmh - lost_kmh).max(0.0);
            }
            Way::Sink => {
                let above_kmh = f64::from(self.dice.within(2, 10));
                self.above(gear, down_kmh + above_kmh);
                let grade = self.grade;
                self.grade = self.dice.within(40, 150) as i16;
                let (ms, light) = (self.dice.ms(4000, 9000), self.dice.within(20, 300) as u16);
                self.pedal(ms, light.min(pedal));
                self.speed_kmh = (down_kmh - 5.0).max(5.0);
                self.grade = grade;
            }
            Way::Tip => {
                let light_kmh = self.spec.map.up_kmh(gear, 10.0).unwrap_or(up_kmh);
                let floored_kmh = self.spec.map.down_kmh(gear + 1, 100.0).unwrap_or(down_kmh);
                let share = f64::from(self.dice.within(0, 110)) / 100.0;
                self.climb_to((light_kmh + (floored_kmh - light_kmh) * share).max(5.0));
                for _ in 0..self.dice.within(1, 3) {
                    let (down_ms, off_ms) = (self.dice.ms(300, 2500), self.dice.ms(300, 2500));
                    let high = if self.dice.chance(50) { self.dice.within(780, 1000) as u16 } else { pedal };
                    let low = if self.dice.chance(50) { 0 } else { self.dice.within(0, 300) as u16 };
                    self.pedal(down_ms, high);
                    self.pedal(off_ms, low);
                }
            }
            Way::Dither => {
                let kmh = if self.dice.chance(50) { up_kmh } else { down_kmh };
                self.climb_to(kmh);
                let (ms, off_kmh) = (self.dice.ms(800, 2500), f64::from(self.dice.within(5, 20)) / 10.0);
                for _ in 0..self.dice.within(2, 4) {
                    self.hold(ms, (kmh + off_kmh).max(3.0));
                    self.hold(ms, (kmh - off_kmh).max(3.0));
                }
            }
            Way::Labour => {
                let low_kmh = self.spec.map.down_kmh(gear + 1, 20.0).unwrap_or(down_kmh);
                let kmh = low_kmh + f64::from(self.dice.within(1, 8));
                self.above(gear, kmh);
                let grade = self.grade;
                self.grade = self.dice.within(20, 90) as i16;
                let ms = self.dice.ms(5000, 10_000);
                if self.dice.chance(50) {
                    self.step(ms, Demand::Cruise(tenths(kmh)), 0)
                } else {
                    self.hold(ms, kmh)
                }
                self.grade = grade;
            }
            Way::Rest => {
                let light_kmh = self.spec.map.down_kmh(gear + 1, 10.0).unwrap_or(down_kmh);
                let off_kmh = f64::from(self.dice.within(-10, 10)) / 10.0;
                let kmh = match self.dice.below(3) {
                    0 => {
                        let below_kmh = f64::from(self.dice.within(1, 10));
                        self.above(gear, light_kmh);
                        light_kmh - below_kmh
                    }
                    1 => up_kmh + off_kmh,
                    _ => down_kmh + off_kmh,
                };
                self.climb_to(kmh.max(5.0));
                let ms = self.dice.ms(5000, 10_000);
                self.hold(ms, kmh.max(5.0));
            }
            Way::Tremble => {
                self.above(gear, (down_kmh + up_kmh) / 2.0);
                let (low, by) = (self.dice.within(0, 600) as u16, self.dice.within(20, 350) as u16);
                for _ in 0..self.dice.within(3, 7) {
                    let (up_ms, down_ms) = (self.dice.ms(300, 1600), self.dice.ms(300, 1600));
                    self.pedal(up_ms, low + by);
                    self.pedal(down_ms, low);
                }
            }
        }
    }

    /// Above the up line of a pair with a light foot, so that the box is in the higher gear; then to a speed.
    pub(super) fn above(&mut self, gear: u8, kmh: f64) {
        let light_kmh = self.spec.map.up_kmh(gear, 10.0).unwrap_or(kmh) + 2.0;
        if self.speed_kmh < light_kmh {
            self.climb_to(light_kmh);
            let ms = self.dice.ms(800, 1500);
            self.hold(ms, light_kmh);
        }
        self.go_to(kmh.max(5.0));
    }
}
