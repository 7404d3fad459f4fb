//! Mishaps: what gearbox, engine, wheels and link may do, one after the other, with the box at work; and what is
//! forgotten when it is left.

use super::keyed;
use crate::drive::{Drive, Happening, Which};
use crate::make::draft::{Draft, lowest_gear, top_gear};
use crate::signal::Signal;
use crate::spec::Spec;

pub(super) fn mishaps(spec: &Spec) -> Vec<Drive> {
    let drafts = vec![
        refused(spec, 1),
        parked(spec),
        wrong_way(spec, 0),
        stalled(spec),
        locked(spec),
        by_itself(spec),
        frozen(spec),
        refused(spec, 3),
        wrong_way(spec, 1),
    ];
    keyed("mishaps", drafts)
}

/// Taps are refused on the way up, for a kick, and on the way down; then shifts take long.
fn refused(spec: &Spec, taps: u8) -> Draft<'_> {
    let refuse = Happening::Refuse(taps);
    let draft = Draft::engaged(spec, taps.into()).now(refuse).pedal(9000, 50.0).now(refuse).pedal(3000, 100.0);
    let draft = draft.pedal(2000, 0.0).slowed_to(70.0).reach(75.0).now(refuse).brake(7000, 22.0).stand(1500);
    draft.now(Happening::SlowShifts(1200)).pedal(9000, 60.0).pedal(2000, 0.0).pedal(2500, 100.0).brake(5000, 25.0)
}

/// High in each gear the gearbox goes down by itself, then up, while nothing goes on; and a moment later the foot goes
/// down.
fn by_itself(spec: &Spec) -> Draft<'_> {
    let (lowest, top) = (lowest_gear(spec), top_gear(spec));
    let mut draft = Draft::engaged(spec, 2);
    for gear in lowest..=top {
        let kmh = spec.map.up_kmh(gear, 40.0).map_or(105.0, |line| line - 4.0).clamp(15.0, 105.0);
        for to in [gear.saturating_sub(1).max(1), (gear + 1).min(top)] {
            if to != gear {
                draft = draft.reach(kmh).hold(2500, kmh).now(Happening::SelfShift(to)).hold(1200, kmh);
                draft = draft.pedal(1300, 100.0).pedal(700, 0.0).slowed_to(kmh + 3.0);
            }
        }
    }
    draft.brake(5000, 25.0)
}

/// Taps go the other way: on the way up, on the way down, and for kicks.
fn wrong_way(spec: &Spec, turn: u32) -> Draft<'_> {
    let (swap, put_right) = (Happening::Swapped(true), Happening::Swapped(false));
    let third = (lowest_gear(spec) + 1).min(top_gear(spec));
    // Kicked where one gear after the other still comes the wrong way.
    let kick_kmh = spec.map.down_kmh(third, 100.0).map_or(50.0, |line| line - 4.0 - 3.0 * f64::from(turn));
    let draft = Draft::engaged(spec, turn).reach(kick_kmh).hold(1500, kick_kmh).now(swap).pedal(7000, 100.0);
    let draft = draft.pedal(2000, 0.0).now(put_right).slowed_to(80.0).again().now(swap).slowed_to(30.0);
    let draft = draft.pedal(7000, 45.0).now(put_right).slowed_to(60.0).again().slowed_to(45.0).reach(75.0);
    draft.now(swap).brake(4000, 25.0).pedal(3000, 60.0).now(put_right).brake(4000, 20.0)
}

/// The engine stalls at rest and the vehicle rolls off downhill; while driving; and at rest while the speed read stands
/// still, so that what is due by it finds the engine off.
fn stalled(spec: &Spec) -> Draft<'_> {
    let (off, on) = (Happening::Engine(false), Happening::Engine(true));
    let draft = Draft::engaged(spec, 0).reach(55.0).now(Happening::Frozen(Which::One(Signal::Speed), 14_000));
    let draft = draft.brake(6000, 40.0).now(off).stand(1500).pedal(3500, 100.0).pedal(2500, 0.0).now(on).stand(2500);
    let draft = draft.again().brake(3500, 30.0).stand(1000).now(off).pedal(7000, 0.0).grade(-18.0);
    let draft = draft.brake(3500, 30.0).now(on).slowed_to(15.0).again().slowed_to(40.0).reach(60.0);
    draft.now(off).pedal(2500, 100.0).brake(5000, 20.0).now(on).stand(1500).pedal(5000, 50.0)
}

/// Wheels that lock under the brake and grip again, from high and from middling speed, short and long.
fn locked(spec: &Spec) -> Draft<'_> {
    let mut draft = Draft::engaged(spec, 1);
    for (kmh, lock_ms, brake_pct) in [(75.0, 800, 40.0), (95.0, 1500, 25.0), (70.0, 3000, 25.0)] {
        draft = draft.reach(kmh).hold(1500, kmh);
        let ms = draft.now_ms();
        draft = draft.at(ms + 300, Happening::WheelLock(lock_ms)).brake(u32::from(lock_ms) + 500, brake_pct);
        draft = draft.pedal(2500, 30.0).slowed_to(kmh - 30.0);
    }
    draft.brake(5000, 25.0)
}

/// Answers keep coming and no longer change: of the speed, of the pedal, of all; slowly, and faster.
fn frozen(spec: &Spec) -> Draft<'_> {
    let mut draft = Draft::engaged(spec, 0);
    for (kmh, which) in [(45.0, Which::One(Signal::Speed)), (75.0, Which::One(Signal::Speed)), (50.0, Which::All)] {
        draft = draft.reach(kmh).hold(1500, kmh).now(Happening::Frozen(which, 8000));
        draft = draft.pedal(4500, 70.0).brake(3500, 25.0).slowed_to(kmh).again().slowed_to(45.0);
    }
    draft.brake(4000, 20.0)
}

/// Left with the lever in the gate and the ignition off, for longer than the box may stay awake.
fn parked(spec: &Spec) -> Draft<'_> {
    let asleep_ms = (spec.limits.sleeps_within.ms() + 10_000) / 1000 * 1000;
    let draft = Draft::engaged(spec, 1).pedal(9000, 60.0).pedal(2000, 0.0).brake(8000, 25.0).stand(1500);
    draft.now(Happening::Ignition(false)).stand(asleep_ms.min(120_000))
}
