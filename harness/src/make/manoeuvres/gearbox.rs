//! The gearbox doesn't do what it is told.

use super::keyed;
use crate::drive::{Condition, Drive, Happening};
use crate::make::draft::{Draft, lowest_gear, top_gear};
use crate::signal::Direction;
use crate::spec::Spec;

pub(super) fn misbehaves(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    let (lowest, top) = (lowest_gear(spec), top_gear(spec));
    for (turn, taps) in (0..).zip([1, 2, 3, 20]) {
        // From the first tap on, and later: on the way up, on the way down, and for a kick.
        let refuse = Happening::Refuse(taps);
        drafts.push(Draft::engaged(spec, turn).now(refuse).pedal(15_000, 45.0).brake(5000, 20.0).crossing());
        let fast = Draft::engaged(spec, turn + 1).reach(85.0).now(refuse);
        drafts.push(fast.clone().brake(8000, 25.0).stand(2000).pedal(6000, 50.0));
        drafts.push(fast.crossing());
    }
    for (turn, slow_ms) in (0..).zip([300, 700, 1500, 3000]) {
        let draft = Draft::engaged(spec, turn).now(Happening::SlowShifts(slow_ms));
        drafts.push(draft.pedal(15_000, 60.0).brake(4000, 30.0).crossing());
    }
    let mut turn = 0;
    for gear in lowest..=top {
        for to in [gear.saturating_sub(1).max(1), (gear + 1).min(top)] {
            if to != gear {
                // While nothing goes on.
                let kmh = spec.map.up_kmh(gear, 20.0).map_or(100.0, |line| line - 4.0).max(15.0);
                let draft = Draft::engaged(spec, turn).reach(kmh).hold(2500, kmh).now(Happening::SelfShift(to));
                drafts.push(draft.hold(4000, kmh).crossing());
                turn += 1;
            }
        }
    }
    // While the box taps.
    let pulse = Condition::Closes(Direction::Up);
    for to in [lowest, (lowest + 2).min(top)] {
        let draft = Draft::engaged(spec, turn).after(pulse, 50, Happening::SelfShift(to));
        drafts.push(draft.pedal(10_000, 50.0).crossing());
    }
    keyed("gearbox-misbehaves", drafts)
}

/// Up through the gears, down again and a kick.
fn up_and_down(draft: Draft<'_>) -> Draft<'_> {
    draft.pedal(14_000, 45.0).brake(4000, 20.0).pedal(5000, 40.0).pedal(2500, 100.0).brake(4000, 25.0)
}

pub(super) fn swapped(spec: &Spec) -> Vec<Drive> {
    let swap = Happening::Swapped(true);
    let mut drafts = Vec::new();
    for turn in 0..3 {
        // From the first tap on; in the middle of a drive; put right again while it drives.
        drafts.push(up_and_down(Draft::engaged(spec, turn).at(0, swap)).again());
        let fast = Draft::engaged(spec, turn).reach(60.0 + 20.0 * f64::from(turn)).now(swap);
        drafts.push(up_and_down(fast.clone()).crossing());
        drafts.push(fast.brake(4000, 25.0).pedal(9000, 50.0).now(Happening::Swapped(false)).crossing());
        let pulse = Condition::Closes(Direction::Down);
        let kicked = Draft::engaged(spec, turn).after(pulse, 0, swap).reach(85.0).hold(2000, 85.0);
        drafts.push(kicked.pedal(4000, 100.0).pedal(4000, 0.0).pedal(5000, 60.0));
    }
    // Kicked where one gear after the other still comes the wrong way.
    let third = (lowest_gear(spec) + 1).min(top_gear(spec));
    if let Some(line_kmh) = spec.map.down_kmh(third, 100.0) {
        for (turn, below_kmh) in (0..).zip([2.0, 4.0, 7.0]) {
            let kmh = (line_kmh - below_kmh).max(10.0);
            let draft = Draft::engaged(spec, turn).reach(kmh).hold(1500, kmh).now(swap);
            drafts.push(draft.pedal(7000, 100.0).pedal(3000, 0.0).crossing());
        }
    }
    keyed("swapped-taps", drafts)
}

pub(super) fn limp_mode(spec: &Spec) -> Vec<Drive> {
    let (lowest, top) = (lowest_gear(spec), top_gear(spec));
    let fourth = 4.clamp(lowest, top);
    let mut drafts = Vec::new();
    for (turn, kmh) in (0..).zip([30.0, 60.0, 90.0]) {
        // Limp mode: fourth and nothing else, whatever is tapped.
        let limp = Draft::engaged(spec, turn).reach(kmh);
        let limp = limp.now(Happening::Refuse(200)).now(Happening::SelfShift(fourth));
        drafts.push(limp.hold(4000, kmh).pedal(9000, 60.0).brake(6000, 25.0).stand(2500).pedal(6000, 50.0));
        // Cold: the top gear is refused for a while.
        let below_top = Condition::Gear(top.saturating_sub(1).max(lowest));
        let cold = Draft::engaged(spec, turn).after(below_top, 0, Happening::Refuse(if turn == 2 { 60 } else { 2 }));
        let top_kmh = spec.map.up_kmh(top.saturating_sub(1), 20.0).unwrap_or(90.0) + 6.0;
        drafts.push(cold.reach(top_kmh).hold(20_000, top_kmh).brake(3000, 30.0).crossing());
    }
    for gear in lowest..top {
        // An upshift is refused, and the driver brakes soon after.
        let kmh = spec.map.up_kmh(gear, 20.0).unwrap_or(60.0);
        for (after_ms, brake_pct) in [(300, 30.0), (900, 60.0)] {
            let draft = Draft::engaged(spec, gear.into()).reach((kmh - 4.0).max(5.0)).now(Happening::Refuse(1));
            let draft = draft.pedal(1800, 45.0).pedal(after_ms, 15.0).brake(1500, brake_pct).pedal(4000, 10.0);
            drafts.push(draft.crossing());
        }
        // Refused on the way up, then a stop: who counts on sees the gear one too high.
        let draft = Draft::engaged(spec, gear.into()).reach((kmh - 4.0).max(5.0)).now(Happening::Refuse(1));
        drafts.push(draft.pedal(2500, 40.0).brake(9000, 12.0).stand(2000).pedal(5000, 40.0));
    }
    keyed("limp-mode", drafts)
}
