//! The gearbox by itself, at speeds that stand. Second to sixth turn 57.84, 38.21, 28.27, 21.72 and 18.84 rpm per km/h.

use super::test_van::van;
use super::tests::start;
use super::{Gearbox, View};
use crate::signal::Direction::{self, Down, Up};
use crate::signal::{Contacts, Lever};
use crate::spec::Spec;
use crate::spec::vehicle::{EntryGear, GateMeans, TapInShift};
use crate::units::Rpm;

/// In the gate at a speed, with a light pedal.
fn at(kmh: f64) -> View {
    let contacts = Contacts::default();
    View { speed_kmh: kmh, engine_on: true, at_limiter: false, pedal: 0.2, lever: Lever::Gate, contacts }
}

fn in_gate(spec: &Spec, gear: u8, kmh: f64) -> Gearbox {
    let mut gearbox = Gearbox::new(spec);
    gearbox.restart(&start(0, gear, Lever::Gate), kmh);
    gearbox
}

/// The gear that it is in or on its way to, after a stretch of 10 ms steps.
fn after(gearbox: &mut Gearbox, view: &View, ms: u32) -> u8 {
    for _ in 0..ms / 10 {
        gearbox.step(view, 10.0);
    }
    gearbox.target()
}

/// The same after a tap of 80 ms, and open contacts for the rest.
fn after_tap(gearbox: &mut Gearbox, direction: Direction, view: &View, ms: u32) -> u8 {
    let contacts = Contacts { up: direction == Up, down: direction == Down };
    after(gearbox, &View { contacts, ..*view }, 80);
    after(gearbox, view, ms - 80)
}

fn with_limit_gate() -> Spec {
    let mut spec = van();
    spec.vehicle.gearbox.gate.means = GateMeans::RangeLimit;
    spec
}

/// At 20 km/h fifth turns 434 rpm, and third is the highest gear above the 700 rpm at which it goes down by itself. It
/// starts there where it would have gone down already: held in the gate, not in D, nor under a limit.
#[test]
fn it_starts_in_a_gear_that_it_would_still_hold() {
    for (spec, lever, gear) in [(van(), Lever::Gate, 3), (van(), Lever::D, 5), (with_limit_gate(), Lever::Gate, 5)] {
        let mut gearbox = Gearbox::new(&spec);
        gearbox.restart(&start(0, 5, lever), 20.0);
        assert_eq!(gearbox.gear(), gear, "{:?} in {lever:?}", spec.vehicle.gearbox.gate.means);
    }
}

/// It decides every 10 ms, at the step that lies nearest; of two as near, at the later one. An order given after the first
/// step is carried out at the next decision.
#[test]
fn it_decides_every_ten_milliseconds_whatever_the_step_is() {
    for (step_ms, due_ms) in [(10.0, 10.0), (5.0, 10.0), (2.5, 10.0), (1.25, 10.0), (3.0, 9.0), (4.0, 12.0)] {
        let mut gearbox = in_gate(&van(), 4, 60.0);
        gearbox.step(&at(60.0), step_ms);
        gearbox.shift_by_itself(3);
        let mut now_ms = step_ms;
        while !gearbox.shifting() && now_ms < 100.0 {
            gearbox.step(&at(60.0), step_ms);
            now_ms += step_ms;
        }
        assert_eq!(now_ms - step_ms, due_ms, "steps of {step_ms} ms");
    }
}

/// Three taps down within the first shift, from fifth at 50 km/h.
#[test]
fn taps_down_in_a_shift_are_dropped_kept_or_queued() {
    for (rule, gear) in [(TapInShift::Dropped, 4), (TapInShift::OneKept, 3), (TapInShift::Queued, 2)] {
        let mut spec = van();
        spec.vehicle.gearbox.gate.tap_in_shift = rule;
        let mut gearbox = in_gate(&spec, 5, 50.0);
        for _ in 0..3 {
            after_tap(&mut gearbox, Down, &at(50.0), 160);
        }
        assert_eq!(after(&mut gearbox, &at(50.0), 3000), gear, "{rule:?}");
    }
}

/// Sixth is the last gear, whether or not a protection would refuse a higher one: by taps, and at the limiter of a gearbox
/// that goes up there by itself.
#[test]
fn above_the_top_gear_there_is_none() {
    let mut spec = van();
    spec.vehicle.gearbox.protection.refuse_up_below = None;
    spec.vehicle.gearbox.protection.up_at_redline = true;
    let mut gearbox = in_gate(&spec, 6, 120.0);
    assert_eq!(after_tap(&mut gearbox, Up, &at(120.0), 1000), 6);
    assert_eq!(after(&mut gearbox, &View { at_limiter: true, ..at(120.0) }, 300), 6);
    assert!(!gearbox.shifting());
    assert_eq!(after_tap(&mut gearbox, Down, &at(120.0), 1000), 5);
}

/// At 60 km/h, with limits of just the engine speed that the new gear brings: it refuses what lies beyond a limit, and not
/// what lies on it.
#[test]
fn a_tap_that_just_keeps_a_protection_is_taken() {
    for (off_rpm, up, down, above_launch) in [(0.0, 4, 2, 4), (0.01, 3, 3, 3)] {
        let spec = van();
        let (fourth, second) = (spec.rpm_per_kmh(4) * 60.0, spec.rpm_per_kmh(2) * 60.0);
        let tapped = |direction, refuse_up_below, refuse_down_above, down_below| {
            let mut spec = van();
            let protection = &mut spec.vehicle.gearbox.protection;
            protection.refuse_up_below = refuse_up_below;
            protection.refuse_down_above = refuse_down_above;
            protection.down_below = down_below;
            after_tap(&mut in_gate(&spec, 3, 60.0), direction, &at(60.0), 300)
        };
        assert_eq!(tapped(Up, Some(Rpm(fourth + off_rpm)), None, None), up);
        assert_eq!(tapped(Down, None, Some(Rpm(second - off_rpm)), None), down);
        // Too slow for fourth, it would go down again at once: the gear stays until it is fast enough.
        assert_eq!(tapped(Up, None, None, Some(Rpm(fourth + off_rpm))), above_launch);
    }
}

/// Third at 70.7 km/h under a limit of fourth, and the full pedal lets it stay there: fourth would turn 1,999 rpm, and the
/// schedule takes it from 1.1·1,918 rpm on. Third turns 2,701 rpm, above the limit for forced downshifts; but a limit of
/// third forces none, so the tap is taken: with the pedal released third stays.
#[test]
fn a_tap_down_to_the_limit_of_the_gear_itself_is_never_refused() {
    let mut spec = with_limit_gate();
    spec.vehicle.gearbox.gate.entry = EntryGear::Fixed(4);
    spec.vehicle.gearbox.protection.refuse_down_above = Some(Rpm(2500.0));
    for (taps, gear) in [(0, 4), (1, 3)] {
        let mut gearbox = Gearbox::new(&spec);
        gearbox.restart(&start(0, 3, Lever::D), 70.7);
        let floored = View { pedal: 1.0, ..at(70.7) };
        assert_eq!(after(&mut gearbox, &floored, 1000), 3);
        for _ in 0..taps {
            assert_eq!(after_tap(&mut gearbox, Down, &floored, 1000), 3);
        }
        assert_eq!(after(&mut gearbox, &View { pedal: 0.0, ..at(70.7) }, 2000), gear, "{taps} taps");
    }
}

/// Sixth turns 697 rpm at 37 km/h: it goes down to fifth by itself, and the command goes down along. Faster again it stays.
#[test]
fn what_it_went_down_from_by_itself_is_commanded_no_more() {
    let mut gearbox = in_gate(&van(), 6, 100.0);
    assert_eq!(after(&mut gearbox, &at(37.0), 1000), 5);
    assert_eq!(after(&mut gearbox, &at(100.0), 3000), 5);
}

/// Under a limit of third at 100 km/h: where it goes up at the limiter the limit goes up by one, and the gear with it.
#[test]
fn a_limit_goes_up_at_the_limiter_where_the_spec_says_so() {
    for (up_at_redline, at_limiter, gear) in [(true, true, 4), (true, false, 3), (false, true, 3)] {
        let mut spec = with_limit_gate();
        spec.vehicle.gearbox.protection.up_at_redline = up_at_redline;
        let mut gearbox = in_gate(&spec, 3, 100.0);
        let floored = View { pedal: 1.0, at_limiter, ..at(100.0) };
        assert_eq!(after(&mut gearbox, &floored, 300), gear, "{up_at_redline} {at_limiter}");
    }
}

/// In top gear the limit is at its highest: after seconds at the limiter one tap down leads to fifth.
#[test]
fn a_limit_of_the_top_gear_goes_no_further_up() {
    let mut spec = with_limit_gate();
    spec.vehicle.gearbox.protection.up_at_redline = true;
    let mut gearbox = in_gate(&spec, 6, 120.0);
    assert_eq!(after(&mut gearbox, &View { at_limiter: true, ..at(120.0) }, 3000), 6);
    assert_eq!(after_tap(&mut gearbox, Down, &at(120.0), 300), 5);
}
