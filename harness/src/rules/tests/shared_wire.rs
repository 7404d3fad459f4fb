//! The driver's taps on a wire that carries the box's own pulses too.

use super::made::{Made, spec};
use super::retold::{excuses, flagged, lets_go, row, told};
use crate::rules::may_command::{Cause, State, Why};
use crate::signal::Direction;
use crate::spec::Spec;
use crate::spec::facts::{OnCause, TapWiring};

fn shared() -> Spec {
    let mut spec = spec("van.toml");
    spec.facts.tap_wiring = TapWiring::Shared;
    spec
}

/// An own pulse up from 2000 to 2100 ms, and the edge of a tap so short that no tick finds it closed: when the driver's tap
/// ends the engagement, and when the driver did something last. The lever came at 500 ms.
fn tapped_at(ms: u32, up: bool) -> (Option<u32>, Option<u32>) {
    let mut made = flagged(shared());
    made.until(2000);
    made.pulse(Direction::Up, 100);
    made.until(3000);
    let inputs = &mut row(&mut made, ms).inputs;
    (inputs.tap_up_edges, inputs.tap_down_edges) = (u8::from(up), u8::from(!up));
    let made = lets_go(made);
    let ends = told(&made).releases.first().map(|r| (r.closing.cause, r.closing.at_ms));
    assert!(ends.is_none_or(|(cause, _)| cause == Cause::Tap), "{ends:?}");
    (ends.map(|(_, at_ms)| at_ms), excuses(&made).driver_ms)
}

/// What the box closes in a tick it reads in the next: its own pulse is last read at 2100 ms, and up to 80 ms later what it
/// reads may be the bounce of it.
#[test]
fn a_tap_shows_when_the_own_pulse_can_bounce_no_more() {
    assert_eq!(tapped_at(2050, true), (None, Some(490)), "under the pulse");
    assert_eq!(tapped_at(2170, true), (None, Some(490)));
    assert_eq!(tapped_at(2180, true), (Some(2180), Some(2180)));
}

/// The other contact bounces with nothing of the box's own.
#[test]
fn a_tap_the_other_way_shows_at_once() {
    for ms in [2050, 2170] {
        assert_eq!(tapped_at(ms, false), (Some(ms), Some(ms)));
    }
}

/// A tap from 2000 to 3000 ms pauses for 3 s after its end, give or take a tick: until 5980 ms.
#[test]
fn a_pause_counts_from_the_end_of_the_tap() {
    for up in [true, false] {
        let mut spec = shared();
        spec.facts.driver_tap = OnCause::PausesMs(3000);
        let mut made = Made::of(spec);
        made.take_over();
        made.until(2000);
        (made.taps.up, made.taps.down) = (up, !up);
        made.run(1000);
        (made.taps.up, made.taps.down) = (false, false);
        made.until(9000);
        let story = told(&made);
        let must_not = |ms: u32| {
            let span = story.spans.iter().find(|s| (s.from_ms..s.to_ms).contains(&ms));
            span.map(|s| s.state == State::MustNot(Why::After(Cause::Tap, 2000)))
        };
        assert_eq!([5500, 5970, 5990, 8000].map(must_not), [Some(true), Some(true), Some(false), Some(false)]);
    }
}
