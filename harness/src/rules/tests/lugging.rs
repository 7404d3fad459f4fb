//! Lugging in truth: whether what the box has read could have told it.

use super::legality::slow_in_third;
use super::made::Made;
use std::ops::Range;

const LUGGING: &str = "no lugging under load";

/// In third at 30 km/h, 1,146 rpm, where 1,300 rpm is the limit. The pedal asks for load in one stretch, the engine is
/// loaded in another.
fn loaded(pedal_ms: Range<u32>, engine_ms: Range<u32>) -> Made {
    let mut made = slow_in_third();
    made.until(pedal_ms.start);
    made.pedal = 80.0;
    made.until(pedal_ms.end);
    made.pedal = 20.0;
    made.until(14_000);
    let rows = made.recording.rows.iter_mut().filter(|row| engine_ms.contains(&row.t_ms));
    rows.for_each(|row| row.truth.load = 0.9);
    made
}

/// Half a second longer than the 3 s allowed. Known is what the pedal has shown at the same time, for too long itself.
#[test]
fn a_load_that_the_pedal_does_not_show_can_not_be_known() {
    for (pedal_ms, engine_ms, margin_s, known) in [
        (6000..9500, 6000..9500, -0.5, true),
        // The last tick of the one is the first of the other.
        (6000..9500, 9490..13_000, -0.51, true),
        (9500..13_000, 6000..9510, -0.51, true),
        // The one ends where the other begins.
        (6000..9500, 9500..13_000, -0.5, false),
        (9500..13_000, 6000..9500, -0.5, false),
        // The pedal asks for it for the 3 s allowed, and a tick of the link longer.
        (6000..9000, 6000..9500, -0.5, false),
        (6000..9100, 6000..9500, -0.5, true),
    ] {
        let mark = loaded(pedal_ms.clone(), engine_ms.clone()).truth(LUGGING, margin_s, 0.1);
        assert_eq!(mark.unknowable, !known, "pedal {pedal_ms:?}, engine {engine_ms:?}");
    }
}
