//! First gear where the gearbox leaves it by itself, and where the box commands out of it on a line 1>2 at 27 km/h. The
//! van's 2>3 lies at 43 km/h, up to 20 % pedal.

use super::made::Made;
use crate::signal::Direction::{Down, Up};
use crate::signal::{Content, Signal};
use crate::spec::facts::OutOfFirst::{self, ByItself, Commanded};
use crate::spec::map::Line;
use crate::units::Kmh;

const LINE: &str = "only on the line";
const SOON: &str = "response deadline";
const SETTLES: &str = "settles on map gear";
const FIRST: &str = "never commands first";
const COUNT: &str = "counted gear agrees";
const INVALID: &str = "invalid answer is not a number";

/// The van's box with a gear signal, engaged in a gear since 1 s; now it is 3 s.
fn engaged_in(gear: u8, whose: OutOfFirst, kmh: f64) -> Made {
    let mut made = Made::van();
    made.spec.facts.signals.gear = true;
    made.spec.facts.out_of_first = whose;
    if whose == Commanded {
        let speeds = vec![Kmh(27.0); made.spec.map.pedal.len()];
        made.spec.map.lines.insert(0, Line { from: 1, to: 2, speeds });
    }
    (made.gear, made.gear_read) = (gear, Some(f64::from(gear)));
    made.take_over();
    made.speed = kmh;
    made.until(3000);
    made
}

fn shifted(mut made: Made) -> Made {
    made.shift(Up);
    made.gear_read = Some(f64::from(made.gear));
    made.run(500);
    made
}

/// Below the lowest gear that it commands, the box goes by that gear's line.
#[test]
fn an_up_command_in_first() {
    for (whose, line_kmh) in [(ByItself, 43.0), (Commanded, 27.0)] {
        let kept = shifted(engaged_in(1, whose, line_kmh));
        kept.seen(LINE, 0.0);
        assert_eq!(kept.measure(LINE).reached[..2], [1, 0]);
        let broken = shifted(engaged_in(1, whose, line_kmh - 1.0));
        broken.seen(LINE, -1.0);
        assert_eq!(broken.broken(), [LINE]);
    }
}

/// From 3 s on 28 km/h are read, 1 km/h beyond the line 1>2: three updates of 100 ms, an answer of 45 ms more, and a tick.
#[test]
fn whose_affair_the_upshift_out_of_first_is() {
    let after = |whose: OutOfFirst, ms: u32| {
        let mut made = engaged_in(1, whose, 26.0);
        made.speed = 28.0;
        made.run(ms);
        shifted(made)
    };
    assert_eq!(after(Commanded, 350).seen(SOON, 0.005).at_ms, 3000);
    assert_eq!(after(Commanded, 350).measure(SOON).reached[..2], [1, 0]);
    after(Commanded, 360).seen(SOON, -0.005);
    assert_eq!(after(Commanded, 360).broken(), [SOON]);
    let stays = |whose: OutOfFirst| {
        let mut made = engaged_in(1, whose, 30.0);
        made.run(5000);
        made
    };
    assert_eq!(stays(Commanded).broken(), [SOON, SETTLES]);
    assert!(stays(ByItself).broken().is_empty());
    stays(ByItself).nothing(SOON);
}

#[test]
fn first_is_never_commanded_whoever_leaves_it() {
    for whose in [ByItself, Commanded] {
        let mut made = engaged_in(2, whose, 20.0);
        made.shift(Down);
        made.seen(FIRST, -1.0);
    }
}

/// The box shows second in first for 5 s: where it launches under a commanded second that is no miscount.
#[test]
fn a_count_of_second_in_first() {
    let shows_second = |whose: OutOfFirst| {
        let mut made = engaged_in(1, whose, 20.0);
        made.run(5000);
        made.recording.rows.iter_mut().for_each(|row| row.counted_gear = Some(2));
        made
    };
    assert!(!shows_second(ByItself).broken().contains(&COUNT));
    assert!(shows_second(Commanded).broken().contains(&COUNT));
}

/// The pedal is refused from 2.5 s on; 30 km/h and the pedal read before explain an upshift on the line 1>2 alone.
#[test]
fn what_explains_an_up_command_in_first() {
    for (whose, margin) in [(ByItself, -1.0), (Commanded, 1.0)] {
        let mut made = engaged_in(1, whose, 30.0);
        made.pulse(Up, 100);
        made.run(300);
        let late = |signal: Signal, arrived_ms: u32| signal == Signal::Pedal && arrived_ms >= 2500;
        for d in made.recording.delivered.iter_mut().filter(|d| late(d.answer.signal, d.arrived_ms)) {
            d.answer.content = Content::Negative(0x12);
        }
        made.seen(INVALID, margin);
    }
}
