//! Requests with the ignition off: all must be quiet 60 s and a tick later.

use super::made::Made;
use crate::signal::Request;

const REQUESTS: &str = "read-only link and sleep";

/// The ignition goes off at 10 s for so long; the box asks at these times.
fn off_for(ms: u32, asks_ms: &[u32]) -> Made {
    let mut made = Made::van();
    made.spec.facts.sends_requests = true;
    made.until(10_000);
    made.ignition = false;
    made.run(ms);
    made.ignition = true;
    made.until(120_000);
    let speed = Request::read("010D").unwrap();
    made.recording.requests.extend(asks_ms.iter().map(|&at_ms| (at_ms, speed)));
    made
}

/// At 70.01 s it may still ask; what comes 0.99 s later is broken, and shown where it begins.
#[test]
fn the_first_request_that_comes_too_late_is_shown() {
    let made = off_for(100_000, &[1000, 70_010, 71_000]);
    assert_eq!(made.seen(REQUESTS, -0.99).at_ms, 71_000);
    let made = off_for(100_000, &[1000, 70_010, 70_020, 71_000]);
    assert_eq!(made.seen(REQUESTS, -0.99).at_ms, 70_020);
}

/// Counted is what lasts longer than the bus may stay awake; one tick without ignition doesn't.
#[test]
fn how_long_the_ignition_must_be_off_to_tell() {
    for (ms, counted) in [(10, 0), (60_010, 0), (60_020, 1)] {
        assert_eq!(off_for(ms, &[1000]).measure(REQUESTS).reached[1], counted, "{ms} ms");
    }
}
