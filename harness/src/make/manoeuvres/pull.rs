//! Pulling away and kicking down.

use super::keyed;
use crate::drive::{Drive, Event, Happening, When, Which};
use crate::make::draft::{Draft, highest_line_kmh, lowest_gear, top_gear};
use crate::spec::Spec;

pub(super) fn light_pedal(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, pedal_pct) in (0..).zip([10.0, 15.0, 20.0, 25.0, 35.0]) {
        drafts.push(Draft::engaged(spec, turn).pedal(45_000, pedal_pct).brake(6000, 15.0));
        // Foot off just before a line: the line of the lifted pedal is passed at once.
        drafts.push(Draft::engaged(spec, turn).pedal(7000, pedal_pct + 20.0).pedal(8000, 0.0).pedal(15_000, pedal_pct));
    }
    // Uphill just below each line of the closed pedal, and the foot comes off.
    for gear in lowest_gear(spec)..top_gear(spec) {
        let Some(kmh) = spec.map.up_kmh(gear, 0.0).map(|line| line - 2.0) else { continue };
        let draft = Draft::engaged(spec, gear.into()).reach(kmh).hold(5000, kmh).grade(4.0);
        drafts.push(draft.pedal(2000, 0.0).grade(-2.0).pedal(3000, 40.0).pedal(3000, 0.0).grade(4.0));
    }
    drafts.push(Draft::engaged(spec, 2).pedal(45_000, 25.0).grade(3.0));
    drafts.push(Draft::engaged(spec, 0).pedal_to(30_000, 60.0).pedal_to(10_000, 0.0));
    keyed("light-pedal", drafts)
}

/// The port at full pedal: one round of polls of so many is answered.
pub(super) const SLOW_PORTS: [u32; 3] = [3, 9, 10];

pub(super) fn full_pedal(spec: &Spec) -> Vec<Drive> {
    let top = highest_line_kmh(spec) + 10.0;
    let mut drafts = vec![
        Draft::engaged(spec, 0).reach(top).pedal(20_000, 100.0).pedal(10_000, 0.0),
        Draft::engaged(spec, 1).pedal(60_000, 100.0).brake(8000, 60.0),
        Draft::engaged(spec, 2).pedal(60_000, 80.0).brake(8000, 30.0),
        Draft::engaged(spec, 0).pedal(60_000, 100.0).grade(-6.0).brake(10_000, 40.0),
        Draft::engaged(spec, 1).pedal(60_000, 100.0).grade(6.0).pedal(10_000, 0.0),
    ];
    let usual = drafts.len();
    drafts.extend(
        (0..).zip(SLOW_PORTS).map(|(turn, _)| Draft::engaged(spec, turn).pedal(45_000, 100.0).brake(6000, 50.0)),
    );
    let mut drives = keyed("full-pedal", drafts);
    for (drive, rounds) in drives.iter_mut().skip(usual).zip(SLOW_PORTS) {
        slow_port(spec, drive, rounds);
    }
    drives
}

/// Lets one round of polls of so many through, from the full pedal on.
fn slow_port(spec: &Spec, drive: &mut Drive, rounds: u32) {
    let (period_ms, tick_ms) = (spec.link.period.ms().max(10), spec.facts.tick.ms().max(1));
    let pulling_ms = drive.steps.first().map_or(0, |step| step.ms);
    // In the last tick before a round begins, so that no round is lost in part.
    let round_ms = pulling_ms.next_multiple_of(period_ms) + u32::from(drive.start.poll_phase_ms);
    let first_ms = (round_ms - 1) / tick_ms * tick_ms;
    let lost = Happening::Lost(Which::All, period_ms * (rounds - 1));
    let all =
        (0..).map(|n| first_ms + n * period_ms * rounds).take_while(|ms| ms + period_ms * rounds < drive.length_ms());
    let events: Vec<Event> = all.map(|ms| Event { when: When::At(ms), what: lost }).collect();
    drive.events.extend(events);
}

/// Holding a speed on the level takes about this pedal, %.
const CRUISING_PCT: f64 = 20.0;

/// The pedals stabbed at, %: two beside 90 %, which no byte shows (229/255 is 89.8 %, 230/255 is 90.2 %).
pub(super) const STABS_PCT: [f64; 4] = [88.0, 90.0, 92.0, 100.0];

/// Speeds in steps of 10 km/h from 30 up to the highest line, or to 140 km/h.
fn ladder_kmh(spec: &Spec) -> impl Iterator<Item = (u32, f64)> {
    let highest = highest_line_kmh(spec);
    (0..).zip((3..).map(|tens: u32| f64::from(tens) * 10.0).take_while(move |&kmh| kmh <= highest.min(140.0)))
}

/// The rungs: each gear with the speeds in tens of km/h that the map cruises at in it, up to 140 km/h.
fn rungs(spec: &Spec) -> Vec<(u8, f64)> {
    let mut rungs = Vec::new();
    for gear in lowest_gear(spec)..=top_gear(spec) {
        let low_kmh = spec.map.down_kmh(gear, CRUISING_PCT).map_or(20.0, |line| line + 4.0);
        let high_kmh = spec.map.up_kmh(gear, CRUISING_PCT).map_or(140.0, |line| line - 2.0).min(140.0);
        let tens = (2..=14_u32).map(|tens| f64::from(tens) * 10.0).filter(|kmh| (low_kmh..=high_kmh).contains(kmh));
        rungs.extend(tens.map(|kmh| (gear, kmh)));
    }
    rungs
}

/// To a speed in a gear: from above where the gear below would cruise at it too.
fn onto_rung<'a>(draft: Draft<'a>, spec: &Spec, gear: u8, kmh: f64) -> Draft<'a> {
    match spec.map.up_kmh(gear.saturating_sub(1), CRUISING_PCT) {
        Some(line_kmh) if gear > lowest_gear(spec) && line_kmh + 2.0 > kmh => {
            let over_kmh = line_kmh + 5.0;
            // A light brake and the engine take off 5 km/h a second.
            let brake_ms = ((over_kmh - kmh) / 5.0 * 100.0) as u32 * 10;
            draft.reach(over_kmh).hold(2000, over_kmh).brake(brake_ms, 10.0).hold(4000, kmh)
        }
        // Speeding up may kick it down: until it has settled, which takes longest in the top gear.
        _ => draft.reach(kmh).hold(if gear == top_gear(spec) { 20_000 } else { 9000 }, kmh),
    }
}

pub(super) fn kickdown_ladder(spec: &Spec) -> Vec<Drive> {
    let rung = |(turn, (gear, kmh)): (u32, (u8, f64))| {
        // Where even a lifted foot leaves it in this gear at the highest.
        let slow_kmh = spec.map.down_kmh(gear + 1, 0.0).map_or(kmh, |line| line - 4.0).min(kmh - 8.0).max(5.0);
        let brake_ms = ((kmh + 20.0 - slow_kmh) / 7.0 * 100.0) as u32 * 10;
        STABS_PCT.into_iter().fold(Draft::engaged(spec, turn), |draft, stab_pct| {
            let stab = onto_rung(draft, spec, gear, kmh).pedal(2500, stab_pct);
            // Off it again, and down to where the next one begins.
            stab.pedal(1500, 0.0).brake(brake_ms, 20.0).slowed_to(slow_kmh)
        })
    };
    keyed("kickdown-ladder", (0..).zip(rungs(spec)).map(rung).collect())
}

pub(super) fn two_step_kick(spec: &Spec) -> Vec<Drive> {
    // The first step down by a braked, released pedal; the second by a kick before the first is over.
    let mut drafts = Vec::new();
    for (turn, kmh) in ladder_kmh(spec).step_by(2) {
        for gap_ms in [300, 900] {
            let draft = Draft::engaged(spec, turn).reach(kmh).pedal(1500, 0.0).brake(1500, 15.0);
            drafts.push(draft.pedal(gap_ms, 55.0).pedal(3500, 100.0).pedal(3000, 10.0));
        }
    }
    keyed("two-step-kick", drafts)
}

pub(super) fn stab_and_lift(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([40.0, 60.0, 80.0, 110.0]) {
        for half_ms in [500, 1000] {
            let start = Draft::engaged(spec, turn).reach(kmh);
            let stabs = (0..10).fold(start, |draft, _| draft.pedal(half_ms, 100.0).pedal(half_ms, 0.0));
            // Brake and pedal together: the only way to meet a line twice within a second or two.
            drafts.push(stabs.brake(1500, 30.0).pedal(1500, 100.0).brake(1500, 30.0).pedal(3000, 60.0));
        }
    }
    keyed("stab-and-lift", drafts)
}

/// The foot twitches, speed after speed, too little to ask for another gear.
pub(super) fn unsteady_foot(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([60.0, 75.0, 90.0, 105.0]) {
        let start = Draft::engaged(spec, turn).reach(kmh).hold(4000, kmh);
        let twitches = (0..12).fold(start, |draft, _| draft.pedal(2500, 12.0).pedal(2500, 20.0));
        drafts.push(twitches.brake(3000, 20.0));
    }
    keyed("unsteady-foot", drafts)
}
