//! The rules on going to and fro.

use super::made::Made;
use crate::signal::Direction::{Down, Up};

const DITHER: &str = "dither immunity";
const BUSY: &str = "busy-ness";

/// The speed read flips between 42 and 43 km/h, on the line 2>3, each second from 2 s on; commands at these times by
/// turns.
fn dither(kmh: f64, commands: &[u32], seconds: u32) -> Made {
    let mut made = Made::engaged();
    made.until(2000);
    for second in 0..seconds {
        made.speed = kmh + f64::from(second % 2);
        let end_ms = made.now() + 1000;
        if let Some(at) = commands.iter().position(|&at| at == second) {
            made.shift(if at % 2 == 0 { Up } else { Down });
        }
        made.until(end_ms);
    }
    made
}

#[test]
fn dither_about_a_line() {
    let kept = dither(42.0, &[3], 65);
    kept.seen(DITHER, 0.0);
    assert_eq!(kept.measure(DITHER).reached[0], 1);
    dither(42.0, &[], 65).seen(DITHER, 1.0);
    let broken = dither(42.0, &[3, 13], 65);
    assert_eq!(broken.seen(DITHER, -1.0).at_ms, 15_000);
    // Up once more takes back the downshift.
    assert_eq!(dither(42.0, &[3, 13, 23], 65).seen(DITHER, -2.0).at_ms, 25_000);
    // Too many in a shorter time are too many; too few tell nothing.
    dither(42.0, &[3, 13], 20).seen(DITHER, -1.0);
    dither(42.0, &[3], 20).nothing(DITHER);
    // No line of second gear at 33 km/h.
    dither(33.0, &[3, 13], 65).nothing(DITHER);
}

/// At 5 s the gearbox leaves third for fourth by itself: what comes down from there goes back on no upshift of the box.
#[test]
fn a_shift_of_the_gearbox_between_two_commands_is_no_to_and_fro() {
    let shifts = |by_itself: bool| {
        let mut made = Made::engaged();
        made.spec.facts.signals.gear = true;
        made.gear_read = Some(2.0);
        made.speed = 42.0;
        made.until(3000);
        made.shift(Up);
        made.gear_read = Some(3.0);
        made.until(5000);
        if by_itself {
            made.shifts_to = Some(4);
            made.run(600);
            (made.gear, made.gear_read, made.shifts_to) = (4, Some(4.0), None);
        }
        made.until(13_000);
        made.shift(Down);
        for second in 14..20 {
            made.speed = 42.0 + f64::from(second % 2);
            made.until(second * 1000);
        }
        made
    };
    shifts(false).seen(DITHER, -1.0);
    shifts(true).nothing(DITHER);
}

/// A command each 4 s by turns, the pedal by turns too.
fn busy(commands: u32, swing: f64) -> Made {
    let mut made = Made::engaged();
    made.speed = 45.0;
    for at in 0..commands {
        made.until(3000 + at * 4000);
        made.pedal = if at % 2 == 0 { 20.0 } else { 20.0 + swing };
        made.run(200);
        made.shift(if at % 2 == 0 { Up } else { Down });
    }
    made.until(70_000);
    made
}

#[test]
fn shifts_in_a_minute() {
    // Twelve are allowed, and all come within 50 s.
    busy(12, 0.0).seen(BUSY, 0.0);
    busy(13, 0.0).seen(BUSY, -1.0);
    assert_eq!(busy(13, 0.0).measure(BUSY).reached[..2], [1, 1]);
    // Each asked for by 25 % of pedal but the first.
    busy(13, 25.0).seen(BUSY, 11.0);
    busy(13, 24.0).seen(BUSY, -1.0);
    Made::van().nothing(BUSY);
}

/// From standstill up is a launch; steps in a row count once.
#[test]
fn a_launch_and_a_stop_are_no_business() {
    let mut made = Made::van();
    made.speed = 0.0;
    made.take_over();
    for kmh in [45.0, 60.0] {
        made.speed = kmh;
        made.run(2000);
        made.shift(Up);
    }
    made.seen(BUSY, 12.0);
    for _ in 0..2 {
        made.run(2000);
        made.shift(Down);
    }
    made.seen(BUSY, 11.0);
    made.speed = 0.0;
    made.run(500);
    made.seen(BUSY, 12.0);
}
