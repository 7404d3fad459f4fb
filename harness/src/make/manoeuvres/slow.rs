//! Slowing down, stopping, and wheels that tell another speed than the road.

use super::keyed;
use crate::drive::{Condition, Drive, Happening};
use crate::make::draft::{Draft, held_grade_pct, lowest_gear, tenths, top_gear};
use crate::spec::Spec;

/// How hard a vehicle slows down to a stop with the foot off, m/s².
pub(super) const COASTS_MPS2: [f64; 4] = [0.3, 1.0, 3.0, 8.0];

/// Down from a speed with the foot off, evenly: what the engine doesn't take off the brake does, and where it takes off
/// more the road falls.
fn slowing<'a>(draft: Draft<'a>, spec: &Spec, (from_gear, from_kmh): (u8, f64), mps2: f64) -> Draft<'a> {
    // In pieces in which the engine's own braking hardly changes, none shorter than a driver moves a foot in.
    let piece_kmh = (mps2 * 3.6 * 0.5).max(4.0);
    let (mut kmh, mut gear) = (from_kmh, from_gear);
    let mut draft = draft;
    while kmh > 0.0 {
        let middle_kmh = (kmh - piece_kmh / 2.0).max(1.0);
        while gear > lowest_gear(spec) && spec.map.down_kmh(gear, 0.0).is_some_and(|line_kmh| line_kmh > middle_kmh) {
            gear -= 1;
        }
        // Near its idle speed the engine takes off nothing more.
        let turning =
            (spec.rpm_per_kmh(gear) * middle_kmh / spec.vehicle.engine.idle.get() - 1.0).clamp(0.0, 0.4) / 0.4;
        let rolling_pct = spec.vehicle.rolling_resistance.get() * 100.0;
        let off_pct = rolling_pct + (-held_grade_pct(spec, gear, middle_kmh, 0.0) - rolling_pct).max(0.0) * turning;
        let more_pct = mps2 / 9.806_65 * 100.0 - off_pct;
        let ms = ((piece_kmh.min(kmh) / 3.6 / mps2) * 100.0).round() as u32 * 10;
        draft = draft.brake(ms, more_pct.max(0.0)).grade(more_pct.min(0.0));
        kmh -= piece_kmh;
    }
    draft
}

pub(super) fn coast_to_stop(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut turn = 0;
    for gear in lowest_gear(spec)..=top_gear(spec) {
        // High in each gear, cruising.
        let kmh = spec.map.up_kmh(gear, 20.0).map_or(110.0, |line| line - 4.0).max(15.0);
        for mps2 in COASTS_MPS2 {
            let draft = slowing(Draft::engaged(spec, turn).reach(kmh).hold(4000, kmh), spec, (gear, kmh), mps2);
            drafts.push(draft.stand(2000).pedal(5000, 40.0));
            turn += 1;
        }
    }
    // From the motorway, rolling out and on the brake.
    for (turn, brake_pct) in (0..).zip([0.0, 10.0, 30.0, 80.0]) {
        let slowing_ms = if brake_pct > 0.0 { (140.0 * 30.0 / brake_pct) as u32 * 10 + 3000 } else { 40_000 };
        let draft = Draft::engaged(spec, turn).reach(140.0).hold(2000, 140.0);
        drafts.push(draft.brake(slowing_ms, brake_pct).stand(2000).pedal(6000, 40.0));
    }
    keyed("coast-to-stop", drafts)
}

pub(super) fn stop_and_go(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([15.0, 30.0, 50.0]) {
        let mut draft = Draft::engaged(spec, turn);
        for stop in 0..4 {
            draft = draft.pedal(6000, kmh).brake(5000, 25.0);
            let stopped_ms = draft.now_ms();
            // The engine goes off at each other stop; cranking it dips the supply, once below what the box needs.
            if stop % 2 == 1 {
                let dip_mv = if stop == 1 { 9500 } else { 6000 };
                draft = draft
                    .at(stopped_ms + 500, Happening::Engine(false))
                    .at(stopped_ms + 3000, Happening::Supply(dip_mv, 300))
                    .at(stopped_ms + 3300, Happening::Engine(true));
            }
            draft = draft.stand(4500);
        }
        drafts.push(draft.pedal(6000, 50.0));
    }
    // Hardly moving: a queue.
    let queue = (0..6).fold(Draft::engaged(spec, 1), |draft, _| draft.pedal(2000, 8.0).brake(2000, 10.0));
    drafts.push(queue.pedal(8000, 40.0));
    keyed("stop-and-go", drafts)
}

pub(super) fn wheel_lock(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, lock_ms) in (0..).zip([300, 800, 1500, 3000]) {
        let draft = Draft::engaged(spec, turn).reach(100.0).hold(2000, 100.0);
        let lock = Happening::WheelLock(lock_ms);
        drafts.push(draft.clone().at(draft.now_ms() + 400, lock).brake(3500, 90.0).stand(2000).pedal(5000, 40.0));
        // On ice, a gentle brake locks the wheels; released, they grip at nearly the old speed.
        let ice = draft.grip(25);
        drafts.push(ice.clone().at(ice.now_ms() + 300, lock).brake(1500, 15.0).pedal(5000, 30.0).brake(4000, 15.0));
        // Two locks, one after the other.
        let draft = Draft::engaged(spec, turn).reach(70.0).hold(1500, 70.0);
        let ms = draft.now_ms();
        let twice = draft.at(ms + 200, lock).at(ms + 600 + u32::from(lock_ms), lock);
        drafts.push(twice.brake(2500, 40.0).pedal(6000, 40.0).brake(3000, 20.0));
    }
    // On ice and snow: a brake of 0.1 to 0.25 g locks the wheels; released, they grip at nearly the old speed.
    for grip in [10, 15, 20, 25] {
        for (turn, lock_ms) in (0..).zip([300, 800, 1500, 3000]) {
            // So little grip takes its time to speed up, and a slope to help.
            let kmh = if grip < 20 { 60.0 } else { 90.0 };
            let slippery = Draft::engaged(spec, turn).grip(grip);
            let slippery = slippery.hold((kmh / 3.6 / 0.5) as u32 * 1000, kmh).grade(-3.0).hold(4000, kmh);
            let ms = slippery.now_ms() + 300;
            let locked = slippery.at(ms, Happening::WheelLock(lock_ms));
            let locked = locked.brake(u32::from(lock_ms) + 600, f64::from(grip));
            drafts.push(locked.pedal(5000, 25.0).brake(4000, 10.0));
        }
    }
    // Hard stops that are none of that: down to a crawl at 0.9 g with the wheels turning, and on with light pedal.
    for (turn, to_kmh) in (0..).zip([20.0, 30.0, 40.0]) {
        let draft = Draft::engaged(spec, turn).reach(100.0).hold(2000, 100.0);
        let brake_ms = ((100.0 - to_kmh) * 31.0) as u32 / 10 * 10;
        drafts.push(draft.brake(brake_ms, 95.0).hold(9000, to_kmh).pedal(5000, 40.0));
    }
    keyed("wheel-lock", drafts)
}

pub(super) fn wheel_spin(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, (kmh, by_kmh, ms)) in (0..).zip([
        (20.0, 40.0, 1000),
        (10.0, 25.0, 2000),
        (30.0, 60.0, 1500),
        (45.0, 30.0, 500),
        (20.0, 15.0, 4000),
        (60.0, 40.0, 1000),
    ]) {
        let spin = Happening::WheelSpin(tenths(by_kmh), ms);
        let draft = Draft::engaged(spec, turn).after(Condition::SpeedAbove(tenths(kmh)), 0, spin);
        drafts.push(draft.pedal(8000, 70.0).pedal(5000, 30.0).brake(4000, 20.0));
    }
    keyed("wheel-spin", drafts)
}

pub(super) fn lift_off(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let mut turn = 0;
    for gear in lowest_gear(spec)..=top_gear(spec) {
        // In each gear, high in its range: with the foot well down just before the next line.
        let kmh = spec.map.up_kmh(gear, 45.0).map_or(120.0, |line| line - 3.0).clamp(15.0, 130.0);
        for (grip, brake_pct) in [(90, 0.0), (20, 0.0), (20, 3.0), (25, 10.0)] {
            let ms = if brake_pct < 5.0 { 30_000 } else { (kmh * 3.6) as u32 * 100 };
            let draft = Draft::engaged(spec, turn).grip(grip).reach((kmh - 5.0).max(10.0)).pedal(1500, 45.0);
            drafts.push(draft.brake(ms, brake_pct).stand(2000).pedal(5000, 25.0));
            turn += 1;
        }
    }
    keyed("lift-off", drafts)
}
