//! Driving on the lines of the map.

use super::keyed;
use crate::drive::Drive;
use crate::make::draft::{Draft, held_grade_pct, lowest_gear, top_gear};
use crate::spec::Spec;
use crate::spec::link::Rounding;
use crate::spec::map::Line;

pub(super) fn cruising(spec: &Spec) -> Vec<Drive> {
    // Holding a speed on the level takes about this pedal.
    const PEDAL_PCT: f64 = 20.0;
    let mut drafts = Vec::new();
    let mut turn = 0;
    for line in &spec.map.lines {
        let Some(kmh) = spec.map.speed_kmh(line.from, line.to, PEDAL_PCT) else { continue };
        for off_kmh in [-1.0, -0.5, 0.0, 0.5, 1.0] {
            let held_kmh = (kmh + off_kmh).max(1.0);
            let draft = Draft::engaged(spec, turn);
            // To the line from the side on which the gear left is right.
            let draft = if line.to > line.from {
                draft.reach((held_kmh - 8.0).max(1.0))
            } else {
                draft.reach(held_kmh + 12.0).brake(700, 15.0)
            };
            // Once per line long enough to tell hunting: run-in and a minute.
            let draft = draft.hold(if off_kmh == 0.0 { 85_000 } else { 30_000 }, held_kmh);
            drafts.push(if turn % 5 == 4 { draft.cruise(8000, held_kmh) } else { draft.hold(8000, held_kmh + 0.5) });
            turn += 1;
        }
    }
    // Cruise control about each line of the closed pedal: the speed dithers by one count for over a minute.
    for line in &spec.map.lines {
        let Some(kmh) = asks_from_kmh(spec, line) else { continue };
        let start = Draft::engaged(spec, turn);
        let start = if line.to > line.from {
            start.reach((kmh - 5.0).max(1.0)).cruise(6000, kmh - 0.6)
        } else {
            // Up into the gear that is left, and down to its line from above.
            let up_kmh = spec.map.up_kmh(line.to, 0.0).unwrap_or(kmh).max(kmh) + 3.0;
            start.reach(up_kmh).cruise(4000, up_kmh).reach(kmh + 4.0).cruise(6000, kmh + 0.6)
        };
        drafts.push((0..12).fold(start, |draft, _| draft.cruise(3000, kmh + 0.6).cruise(3000, kmh - 0.6)));
        turn += 1;
    }
    // A trembling foot at mid pedal, on the grade that this pedal holds.
    for gear in lowest_gear(spec)..top_gear(spec) {
        let Some(kmh) = spec.map.up_kmh(gear, 50.0) else { continue };
        let grade_pct = held_grade_pct(spec, gear, kmh, 50.0).clamp(-14.0, 14.0);
        let start = Draft::engaged(spec, turn).reach(kmh - 1.0);
        drafts.push(
            (0..24).fold(start, |draft, _| draft.pedal(1500, 50.8).grade(grade_pct).pedal(1500, 49.2).grade(grade_pct)),
        );
        turn += 1;
    }
    keyed("line-cruising", drafts)
}

/// Where the speed read changes between one that asks for a line's shift, foot off, and one that doesn't, km/h.
fn asks_from_kmh(spec: &Spec, line: &Line) -> Option<f64> {
    let kmh = spec.map.speed_kmh(line.from, line.to, 0.0)?;
    // The upper one of the two whole numbers.
    let count = if line.to > line.from { kmh.ceil() } else { kmh.floor() + 1.0 };
    Some(match spec.link.speed_rounding {
        Rounding::Floor => count,
        Rounding::Nearest => count - 0.5,
    })
}

pub(super) fn grade_hunt(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut turn = 0;
    for gear in lowest_gear(spec)..top_gear(spec) {
        // The gear above can't hold this speed with this pedal on this grade: it takes more pedal and falls back over
        // its down line.
        for pedal_pct in [50.0, 80.0] {
            let Some(line_kmh) = spec.map.up_kmh(gear, pedal_pct) else { continue };
            let grade_pct = held_grade_pct(spec, gear, line_kmh, pedal_pct).clamp(1.0, 14.0);
            for off_kmh in [0.0, 2.0] {
                let kmh = line_kmh + off_kmh;
                drafts.push(Draft::engaged(spec, turn).reach(kmh).hold(85_000, kmh).grade(grade_pct));
                turn += 1;
            }
        }
        // A sweep, for what the arithmetic doesn't know.
        let Some(line_kmh) = spec.map.up_kmh(gear, 30.0) else { continue };
        for (grade_pct, off_kmh) in [(2.0, 0.0), (4.0, 2.0), (6.0, -2.0), (8.0, 3.0)] {
            let kmh = line_kmh + off_kmh;
            let draft = Draft::engaged(spec, turn).reach(kmh);
            drafts
                .push(if turn % 4 == 3 { draft.cruise(85_000, kmh) } else { draft.hold(85_000, kmh) }.grade(grade_pct));
            turn += 1;
        }
    }
    keyed("grade-hunt", drafts)
}
