//! How margins are kept: the smallest of a drive, how many came close, and at what kind of instant.

use super::made::Made;
use crate::failing_cause::Instant;
use crate::outcome::Mark;
use crate::rules::tally::{Tally, keep_smaller};
use crate::rules::{Judge, RULES, find};
use crate::signal::Direction::{Down, Up};

/// A margin within two units of nearness of the limit is close, on either side, seen or true: 0.2 s for announcements.
#[test]
fn a_margin_within_two_units_of_nearness_is_close() {
    let card = RULES[find("no false announcement").unwrap()].card;
    assert_eq!(card.near, 0.1);
    let close = |margins: &[f64]| {
        let (mut seen, mut truth) = (Tally::new(card), Tally::new(card));
        for &margin in margins {
            seen.seen(margin, 1000);
            truth.truth(margin, 0.05, 1000);
        }
        assert_eq!(seen.measure.close, truth.measure.close);
        seen.measure.close
    };
    assert_eq!(close(&[]), 0);
    assert_eq!(close(&[0.2]), 1);
    assert_eq!(close(&[-0.2]), 1);
    assert_eq!(close(&[0.21, -0.21, 5.0]), 0);
    assert_eq!(close(&[0.0, 0.1, 0.3, -0.1]), 3);
}

/// The mark that stands of two of (margin, tolerance, unknowable): the first or the second.
fn stands(first: (f64, f64, bool), second: (f64, f64, bool)) -> u32 {
    let mut slot = None;
    for (at_ms, (margin, tolerance, unknowable)) in (1..).zip([first, second]) {
        keep_smaller(&mut slot, Mark { margin, tolerance, at_ms, unknowable });
    }
    slot.map_or(0, |m| m.at_ms)
}

/// A failure is a margin below 0: one of 0 is kept, and goes by depth, margin and tolerance together, known or not. The
/// earlier wins a tie.
#[test]
fn a_margin_of_nothing_is_no_failure() {
    // Both kept or alike in depth: the first stays.
    assert_eq!(stands((0.0, 0.0, false), (0.0, 0.0, true)), 1);
    assert_eq!(stands((0.0, 0.0, true), (0.0, 0.0, false)), 1);
    // -0.5 within 1 lies half a unit from broken, further than 0 within 0, and is no deeper for being known.
    assert_eq!(stands((0.0, 0.0, true), (-0.5, 1.0, false)), 1);
    // Kept, but nearer to broken than an unknowable margin far within its tolerance: 0.2 against 0.5, and a tie.
    assert_eq!(stands((-0.5, 1.0, true), (0.2, 0.0, false)), 2);
    assert_eq!(stands((-0.5, 1.0, true), (0.5, 0.0, false)), 1);
    assert_eq!(stands((-0.5, 1.0, true), (0.7, 0.0, false)), 1);
}

/// A rule on single shifts tells which way and out of which gear, one on going to and fro only between which gears, and
/// one that counts shifts neither: which one is one too many is chance.
#[test]
fn each_kind_of_rule_tells_its_instants() {
    let mut made = Made::engaged();
    made.speed = 45.0;
    for (at_ms, direction) in [(2000, Up), (6000, Down)] {
        made.until(at_ms);
        made.shift(direction);
    }
    made.run(1000);
    let instant = |rule: &str, at_ms: u32| {
        let rule = &RULES[find(rule).unwrap()];
        Judge::default().instant(&made.spec, &made.recording, rule, at_ms)
    };
    assert_eq!(instant("rpm floor after upshift", 2000), Instant::Upshift(2));
    assert_eq!(instant("over-rev after downshift", 6000), Instant::Downshift(3));
    for to_and_fro in ["hunting count", "opposite-shift dwell", "dither immunity"] {
        assert_eq!([2000, 6000].map(|ms| instant(to_and_fro, ms)), [Instant::Gears(2); 2], "{to_and_fro}");
    }
    assert_eq!(instant("busy-ness", 6000), Instant::Otherwise);
    assert_eq!(instant("rpm floor after upshift", 2010), Instant::Otherwise);
    // Announced at 800 ms.
    assert_eq!(instant("rpm floor after upshift", 800), Instant::Engaging);
}
