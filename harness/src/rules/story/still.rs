//! Stretches in which speed and pedal stand still or only dither.

use super::Story;
use super::pass::Pass;
use super::tape::Extent;
use super::wants::{MOVING_KMH, may_brake};
use crate::recording::Row;
use crate::spec::Spec;

/// The pedal's resolution of 100/255 % and a little, %.
const PEDAL_COUNT_PCT: f64 = 0.4;
/// Speeds read in a dither lie within this, km/h: two counts.
const DITHER_KMH: f64 = 2.0;
/// Pedals read in a dither lie within this, %: two counts either side and a little.
const DITHER_PCT: f64 = 4.0 * PEDAL_COUNT_PCT;
/// Shorter dithers aren't kept, ms.
const SHORT_MS: u32 = 5000;

/// A stretch in which speed and pedal stood still, away from all lines, with the box engaged.
#[derive(Debug, Clone, Copy)]
pub struct Settled {
    /// From when on, ms: nothing has changed since, and no command has come.
    pub from_ms: u32,
    /// To, ms.
    pub to_ms: u32,
    /// How long the gear that the box could know was none that the map allows, ms, and by how many steps.
    pub outside: (u32, u8),
    /// The same of the true gear.
    pub outside_true: (u32, u8),
    /// The box could know the true gear.
    pub known: bool,
}

/// A stretch in which speed and pedal only dither.
#[derive(Debug, Clone, Copy)]
pub struct Dither {
    /// From, ms.
    pub from_ms: u32,
    /// To, ms.
    pub to_ms: u32,
    /// Speeds read.
    pub speed: Extent,
    /// Pedals read.
    pub pedal: Extent,
    /// Gears known in it, one bit each.
    pub gears: u16,
}

/// Where pedal and speed have been standing.
#[derive(Debug, Clone, Copy)]
struct Anchor {
    speed: f64,
    pedal: f64,
    clear: bool,
}

/// What is carried from row to row.
#[derive(Debug, Default)]
pub(super) struct Still {
    anchor: Option<Anchor>,
    /// The pair last looked at, and whether it is clear of all lines: most answers tell the same again.
    looked_at: Option<(f64, f64, bool)>,
    settling: Option<Settled>,
    /// Gears for which `steps` holds: known and true.
    gears: (u8, u8),
    steps: [u8; 2],
    dither: Option<Dither>,
}

impl Still {
    /// So many rows more in which nothing has moved, the last at this time.
    pub fn rest(&mut self, ms: u32, rows: u32, tick_ms: u32) {
        let Some(settling) = &mut self.settling else { return };
        settling.to_ms = ms + tick_ms;
        for (outside, steps) in [&mut settling.outside, &mut settling.outside_true].into_iter().zip(self.steps) {
            if steps > 0 {
                *outside = (outside.0 + rows * tick_ms, outside.1.max(steps));
            }
        }
    }
}

/// What is read may be this old between two answers of a link at work, ms.
fn lately_ms(spec: &Spec) -> u32 {
    let round_ms = spec.link.period.ms() + spec.link.answer_most.ms() + spec.facts.tick.ms();
    round_ms.max(spec.limits.data_fresh.ms() / 2)
}

/// The steps from a gear to the nearest one for which the map asks for no shift at this pair.
fn steps_outside(spec: &Spec, gear: u8, speed: f64, pedal: f64) -> u8 {
    let map = &spec.map;
    let top = map.top_gear().min(spec.gears());
    let mut steps = 0;
    let mut at = gear;
    let rises = map.up_kmh(at, pedal).is_some_and(|line| speed >= line);
    // The pedal stands within a count of this one.
    if rises && may_brake(spec, pedal - PEDAL_COUNT_PCT) {
        return 0;
    }
    while steps < 12 {
        let up = at < top && map.up_kmh(at, pedal).is_some_and(|line| speed >= line);
        let down = at > spec.facts.lowest_gear && map.down_kmh(at, pedal).is_some_and(|line| speed <= line);
        if rises && up {
            at += 1;
        } else if !rises && down {
            at -= 1;
        } else {
            break;
        }
        steps += 1;
    }
    steps
}

fn clear_of_lines(spec: &Spec, speed: f64, pedal: f64) -> bool {
    spec.map.speeds_kmh(pedal).all(|line| (line - speed).abs() > 1.0)
}

impl Story {
    /// A value has been read, or the gear known has changed.
    pub(super) fn stands(&mut self, pass: &mut Pass<'_>, row: &Row) {
        let (Some((speed, ..)), Some((pedal, ..))) = (pass.speed, pass.pedal) else {
            pass.wanting.still.anchor = None;
            self.end_still(pass);
            return;
        };
        let still = &mut pass.wanting.still;
        let clear = match still.looked_at {
            Some((v, p, clear)) if (v, p) == (speed, pedal) => clear,
            _ => clear_of_lines(pass.spec, speed, pedal),
        };
        still.looked_at = Some((speed, pedal, clear));
        // Beside a line nothing rests: what rests clear of it begins there.
        let stands = |a: &Anchor| {
            (a.clear || !clear) && (a.speed - speed).abs() <= 1.0 && (a.pedal - pedal).abs() <= PEDAL_COUNT_PCT
        };
        let old = pass.wanting.still.anchor.filter(stands);
        if old.is_none() {
            self.end_settling(pass);
        }
        let mut anchor = old.unwrap_or(Anchor { speed, pedal, clear: true });
        anchor.clear &= clear;
        pass.wanting.still.anchor = Some(anchor);
        self.dither(pass, row.t_ms, speed, pedal);
    }

    fn dither(&mut self, pass: &mut Pass<'_>, ms: u32, speed: f64, pedal: f64) {
        let gear = pass.wanting.gear().filter(|_| pass.wanting.engaged());
        let Some(gear) = gear else {
            self.end_dither(pass, ms);
            return;
        };
        let wider = |e: Extent, v: f64| Extent { least: e.least.min(v), most: e.most.max(v) };
        if let Some(open) = &mut pass.wanting.still.dither {
            let (speeds, pedals) = (wider(open.speed, speed), wider(open.pedal, pedal));
            if speeds.most - speeds.least <= DITHER_KMH && pedals.most - pedals.least <= DITHER_PCT {
                (open.speed, open.pedal, open.to_ms) = (speeds, pedals, ms);
                open.gears |= 1 << gear.min(15);
                return;
            }
        }
        self.end_dither(pass, ms);
        let one = |value: f64| Extent { least: value, most: value };
        let gears = 1 << gear.min(15);
        let (speed, pedal) = (one(speed), one(pedal));
        pass.wanting.still.dither = Some(Dither { from_ms: ms, to_ms: ms, speed, pedal, gears });
    }

    fn end_dither(&mut self, pass: &mut Pass<'_>, ms: u32) {
        if let Some(mut done) = pass.wanting.still.dither.take() {
            done.to_ms = ms;
            if ms - done.from_ms >= SHORT_MS {
                self.dithers.push(done);
            }
        }
    }

    fn end_settling(&mut self, pass: &mut Pass<'_>) {
        self.settled.extend(pass.wanting.still.settling.take());
    }

    /// The end of the recording, or of what is read, ends every stretch.
    pub(super) fn end_still(&mut self, pass: &mut Pass<'_>) {
        self.end_settling(pass);
        let end_ms = pass.was.map_or(0, |row| row.t_ms);
        self.end_dither(pass, end_ms);
    }

    /// One row of speed and pedal standing still, with the box engaged and sure of what it reads.
    pub(super) fn settle(&mut self, pass: &mut Pass<'_>, row: &Row, commands: bool) {
        let (ms, spec) = (row.t_ms, pass.spec);
        let limits = &spec.limits;
        let anchor = pass.wanting.still.anchor.filter(|a| a.clear && a.speed > limits.standstill.0 + MOVING_KMH);
        let gear = pass.wanting.gear();
        let since = |at: Option<u32>, ms_least: u32| at.map_or(ms_least == 0, |at| pass.alarm.passed(ms, at, ms_least));
        let rests = !commands
            && since(pass.wanting.engaged_since(), limits.quiet_after_engaging.ms())
            && (pass.leapt_ms.is_none() || since(pass.leapt_ms, 2 * limits.plausible_for.ms()))
            && pass.older_than(ms, lately_ms(spec)) == Some(false)
            && row.truth.engine_on
            && !pass.wanting.refused();
        let (Some(anchor), Some(gear), true) = (anchor, gear, rests) else {
            self.end_settling(pass);
            return;
        };
        let true_gear = row.truth.gear;
        let still = &mut pass.wanting.still;
        // The gears move seldom: look again when they have.
        if still.settling.is_none() || still.gears != (gear, true_gear) {
            still.gears = (gear, true_gear);
            still.steps = [gear, true_gear].map(|g| steps_outside(spec, g, anchor.speed, anchor.pedal));
        }
        let settling = still.settling.get_or_insert(Settled {
            from_ms: ms,
            to_ms: ms,
            outside: (0, 0),
            outside_true: (0, 0),
            known: true,
        });
        settling.known &= true_gear == gear || row.truth.shifting;
        still.rest(ms, 1, spec.facts.tick.ms());
    }
}
