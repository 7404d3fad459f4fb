//! The vehicle isn't the one that box and map were made for.

use super::keyed;
use crate::drive::{Drive, Happening};
use crate::make::draft::{Draft, ceiling_kmh};
use crate::spec::Spec;

/// Other tyres: how far the speed read is off, 0.1 % (our choice: a tyre of the next size is 3 % off, two sizes and worn 8).
pub(super) const TYRES: [i16; 2] = [80, -80];

/// Where a pedal stands that never reads released nor floored, %.
pub(super) const END_STOPS_PCT: [f64; 2] = [8.0, 88.0];

pub(super) fn wrong_data(spec: &Spec) -> Vec<Drive> {
    let mut drafts = Vec::new();
    for (turn, off) in (0..).zip(TYRES) {
        let other = Happening::SpeedOff(off);
        // Up through the gears lightly and with the foot down, off it, a kick, and down to a stop.
        let light = Draft::engaged(spec, turn).at(0, other).pedal(40_000, 25.0).pedal(12_000, 0.0);
        drafts.push(light.pedal(3000, 100.0).pedal(3000, 10.0).brake(9000, 25.0).stand(2000).pedal(5000, 40.0));
        let hard = Draft::engaged(spec, turn + 1).at(0, other).pedal(40_000, 100.0).pedal(8000, 0.0);
        drafts.push(hard.pedal(3000, 100.0).brake(12_000, 30.0).stand(2000).pedal(5000, 40.0));
        let cruised = Draft::engaged(spec, turn + 2).at(0, other).reach(90.0).hold(20_000, 90.0).grade(4.0);
        drafts.push(cruised.pedal(20_000, 0.0).pedal(3000, 92.0).brake(6000, 20.0));
        // Around the ceiling: what is read there is not what is driven.
        let ceiling = ceiling_kmh(spec);
        let near = Draft::rolling(spec, ceiling - 1.0).at(0, other).hold(5000, ceiling - 1.0).gate_at(2000);
        drafts.push(near.crossing().again());
    }
    // The pedal reads 8 % with the foot off it and 88 % on the floor.
    let [released_pct, floored_pct] = END_STOPS_PCT;
    for (turn, kmh) in (0..).zip([30.0, 60.0, 90.0]) {
        let draft = Draft::engaged(spec, turn).pedal(4000, released_pct).reach(kmh).hold(3000, kmh);
        let draft = draft.pedal(3500, floored_pct).pedal(6000, released_pct).pedal(3000, floored_pct);
        drafts.push(draft.pedal(15_000, released_pct).brake(3000, 15.0).stand(2000).pedal(8000, floored_pct));
    }
    keyed("wrong-vehicle-data", drafts)
}
