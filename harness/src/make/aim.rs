//! Drives that aim: at a line of the map and a pedal together, at a distance from the line, in a manner. On the grade on
//! which this pedal just holds this speed both can stand still where on the level they never meet.
//!
//! What is aimed at is dealt: each line, pedal, distance and manner comes once before any comes again.

use super::dice::{Dice, dealt};
use super::draft::{held_grade_pct, lowest_gear, tenths, top_gear};
use super::random::Writer;
use crate::drive::{Demand, Drive, LONGEST_MS};
use crate::drive_check::MOST_LINES;
use crate::spec::Spec;

/// Pedals aimed at, 0.1 %: closed, resting, light on either side of what counts as light, half, heavy, the floor.
const PEDALS: [u16; 7] = [0, 50, 120, 200, 400, 700, 1000];

/// Distances from the line, 0.1 km/h: on it, one count of the speed beside it, a few, many.
const OFFS: [i16; 7] = [0, -10, 10, -30, 30, -80, 80];

/// How a drive stays near the point aimed at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Manner {
    /// The driver holds the speed.
    Hold,
    /// The pedal stands still.
    Stand,
    /// To and fro about it.
    Dither,
    /// Slowly past it with the pedal standing still.
    Creep,
}

const MANNERS: [Manner; 4] = [Manner::Hold, Manner::Stand, Manner::Dither, Manner::Creep];

/// A point takes about so long, ms.
const POINT_MS: u32 = 18_000;

/// No steeper, 0.1 %.
const STEEPEST: f64 = 250.0;

/// The drive of this seed and number that aims, of this length (1 s at least, a day at most).
#[must_use]
pub fn aimed_drive(spec: &Spec, seed: u64, number: u32, length_ms: u32) -> Drive {
    let length_ms = length_ms.clamp(1000, LONGEST_MS);
    let mut writer = Writer::new(spec, Dice::new("aim 1", seed, number));
    writer.start(0);
    writer.grade = 0;
    // By turns on a dry road and on a slippery one.
    let slippery = writer.dice.one([12, 20, 30]);
    writer.grip(if number % 2 == 1 { slippery } else { 90 });
    writer.engage();
    let kinds = writer.troubles.kinds.len();
    writer.roll_off(dealt("roll", seed, kinds, u64::from(number)));
    let points = Points::of(spec);
    let a_drive = (length_ms / POINT_MS).max(1);
    let mut hand: Vec<Point> = (0..a_drive)
        .filter_map(|at| points.dealt(seed, u64::from(number) * u64::from(a_drive) + u64::from(at)))
        .collect();
    // From the slowest to the fastest: most time goes into getting there.
    hand.sort_by_key(|point| (point.gear, point.up));
    let mut turn = 0;
    while writer.now_ms < length_ms && turn < MOST_LINES / 50 && !hand.is_empty() {
        if writer.let_go {
            writer.engage();
        }
        // By turns undisturbed, and with something wrong.
        let place = u64::from(number) * u64::from(a_drive) + turn as u64;
        let wrong = if place % 2 == 1 { dealt("wrong", seed, kinds, place / 2) } else { None };
        if let Some(&point) = hand.get(turn % hand.len()) {
            writer.visit(point, wrong);
        }
        turn += 1;
    }
    writer.finish(length_ms)
}

/// A point aimed at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Point {
    /// Lower gear of the pair.
    gear: u8,
    /// Its up line; else its down line.
    up: bool,
    pedal: u16,
    off: i16,
    manner: usize,
}

/// All points of a spec.
struct Points {
    lowest: u8,
    pairs: usize,
}

impl Points {
    fn of(spec: &Spec) -> Self {
        let lowest = lowest_gear(spec);
        Self { lowest, pairs: usize::from(top_gear(spec).saturating_sub(lowest)) }
    }

    fn len(&self) -> usize {
        self.pairs * 2 * PEDALS.len() * OFFS.len() * MANNERS.len()
    }

    fn point(&self, at: usize) -> Point {
        let (at, manner) = (at / MANNERS.len(), at % MANNERS.len());
        let (at, off) = (at / OFFS.len(), OFFS[at % OFFS.len()]);
        let (at, pedal) = (at / PEDALS.len(), PEDALS[at % PEDALS.len()]);
        Point { gear: self.lowest + (at / 2) as u8, up: at % 2 == 0, pedal, off, manner }
    }

    /// The point that comes at a place of the deal; each round is shuffled anew.
    fn dealt(&self, seed: u64, place: u64) -> Option<Point> {
        dealt("points", seed, self.len(), place).map(|at| self.point(at))
    }
}

impl Writer<'_> {
    /// Just engaged, something goes wrong and the road takes the vehicle along downhill: what was so slow that the engine
    /// could stop comes through the lines without it.
    fn roll_off(&mut self, wrong: Option<usize>) {
        if let Some(&kind) = wrong.and_then(|at| self.troubles.kinds.get(at)) {
            let at_ms = self.now_ms + self.dice.ms(0, 300);
            self.trouble_for(kind, at_ms, 3000, 12_000);
        }
        self.grade = -self.dice.within(120, 250) as i16;
        let (ms, pedal) = (self.dice.ms(5000, 8000), self.dice.one([0, 0, 100, 300]));
        self.pedal(ms, pedal);
        // About 2 m/s² on the steepest of these.
        self.speed_kmh += 30.0;
        self.grade = 0;
    }

    fn visit(&mut self, point: Point, wrong: Option<usize>) {
        let Point { gear, up, pedal, off, manner } = point;
        let (pct, map) = (f64::from(pedal) / 10.0, &self.spec.map);
        // Each line met from its own side.
        let (line, own) = if up { (map.up_kmh(gear, pct), gear) } else { (map.down_kmh(gear + 1, pct), gear + 1) };
        let line_kmh = line.unwrap_or(self.speed_kmh.max(20.0));
        let aim_kmh = (line_kmh + f64::from(off) / 10.0).max(3.0);
        self.grade = 0;
        if up {
            let below_kmh = (line_kmh.min(aim_kmh) - f64::from(self.dice.within(2, 6))).max(3.0);
            self.climb_to(below_kmh);
        } else {
            let above_kmh = line_kmh.max(aim_kmh) + f64::from(self.dice.within(2, 8));
            self.above(gear, above_kmh);
        }
        let held = (held_grade_pct(self.spec, own, aim_kmh, pct) * 10.0).clamp(-STEEPEST, STEEPEST);
        self.grade = held as i16;
        if let Some(&kind) = wrong.and_then(|at| self.troubles.kinds.get(at)) {
            let at_ms = self.now_ms + self.dice.ms(0, 1500);
            self.trouble_for(kind, at_ms, 3000, 12_000);
        }
        match MANNERS.get(manner).copied().unwrap_or(Manner::Hold) {
            Manner::Hold => {
                let ms = self.dice.ms(5000, 9000);
                self.hold(ms, aim_kmh);
            }
            Manner::Stand => {
                let (settle_ms, ms) = (self.dice.ms(300, 1500), self.dice.ms(5000, 9000));
                self.hold(settle_ms, aim_kmh);
                self.pedal(ms, pedal);
            }
            Manner::Dither => {
                let (ms, by_kmh) = (self.dice.ms(700, 2500), f64::from(self.dice.within(5, 20)) / 10.0);
                for _ in 0..self.dice.within(3, 5) {
                    self.step(ms, Demand::Hold(tenths(aim_kmh + by_kmh)), 0);
                    self.step(ms, Demand::Hold(tenths((aim_kmh - by_kmh).max(1.0))), 0);
                }
                self.speed_kmh = aim_kmh;
            }
            Manner::Creep => {
                // 5 % of grade come to some 1.8 km/h a second.
                let by = if up { -self.dice.within(5, 50) } else { self.dice.within(5, 50) };
                self.grade = (f64::from(self.grade) + f64::from(by)).clamp(-STEEPEST, STEEPEST) as i16;
                let ms = self.dice.ms(4000, 9000);
                self.pedal(ms, pedal);
                self.speed_kmh = aim_kmh;
            }
        }
        self.grade = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive_check::check;
    use crate::drive_text::lines;
    use crate::make::test_spec::van;
    use std::collections::BTreeSet;

    #[test]
    fn aimed_drives_are_within_bounds_and_of_their_length() {
        let mut odd = van();
        odd.map.lines.clear();
        for spec in [van(), odd] {
            for (number, length_ms) in (0..200).map(|n| (n, [1000, 60_000, 600_000][n as usize % 3])) {
                let drive = aimed_drive(&spec, 7, number, length_ms);
                assert_eq!(check(&drive), Ok(()), "{}", lines(&drive).join("\n"));
                assert_eq!(drive.length_ms(), length_ms);
            }
        }
    }

    /// Each point once in a round, and another order in the next.
    #[test]
    fn points_are_dealt() {
        let points = Points::of(&van());
        let len = points.len() as u64;
        let round =
            |n: u64| (n * len..(n + 1) * len).filter_map(|place| points.dealt(3, place)).collect::<Vec<Point>>();
        let first = round(0);
        assert_eq!(first.iter().collect::<BTreeSet<_>>().len(), points.len());
        assert_ne!(first, round(1));
    }
}
