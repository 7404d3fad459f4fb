//! Whether the map of a hello can be driven: the reference engages on no other.

use super::super::hello::{Hello, HelloLine};
use super::Fault;

/// Whether the reference, or this fault of it, takes the map.
pub(super) fn takes(hello: &Hello, fault: Option<Fault>) -> bool {
    match fault {
        Some(Fault::MapUnchecked | Fault::FallsBackToOwnMap) => true,
        Some(Fault::TakesCutLines) => axis_is_good(hello) && lines_are_good(hello, true) && lines_fit(hello),
        _ => axis_is_good(hello) && lines_are_good(hello, false) && lines_fit(hello),
    }
}

/// Pedal positions rise and stay within 0 to 100 %.
fn axis_is_good(hello: &Hello) -> bool {
    let pedal = &hello.map.pedal_pct;
    !pedal.is_empty()
        && pedal.iter().all(|p| (0.0..=100.0).contains(p))
        && pedal.windows(2).all(|pair| matches!(pair, [a, b] if a < b))
}

/// Each line stands once, leads to the next gear, and has a speed for each pedal position.
fn lines_are_good(hello: &Hello, cut: bool) -> bool {
    let lines = &hello.map.lines;
    let gears = hello.rpm_per_kmh.len();
    let positions = hello.map.pedal_pct.len();
    let good = |line: &HelloLine| {
        let whole = line.speed_kmh.len() == positions || (cut && line.speed_kmh.len() < positions);
        let next = line.from.abs_diff(line.to) == 1;
        let real = line.from.min(line.to) >= 1 && usize::from(line.from.max(line.to)) <= gears;
        whole && next && real && line.speed_kmh.iter().all(|v| (0.0..=255.0).contains(v))
    };
    let alone = |line: &&HelloLine| lines.iter().filter(|l| (l.from, l.to) == (line.from, line.to)).count() == 1;
    !lines.is_empty() && lines.iter().all(good) && lines.iter().all(|line| alone(&line))
}

/// Every gear that the box commands has its lines, and an upshift lies above the downshift back.
fn lines_fit(hello: &Hello) -> bool {
    let line = |from: u8, to: u8| hello.map.lines.iter().find(|l| (l.from, l.to) == (from, to));
    let out_of_first = (hello.lowest_up_from()..hello.lowest_gear).all(|gear| line(gear, gear + 1).is_some());
    out_of_first
        && (hello.lowest_gear..hello.top_gear).all(|gear| match (line(gear, gear + 1), line(gear + 1, gear)) {
            (Some(up), Some(down)) => up.speed_kmh.iter().zip(&down.speed_kmh).all(|(up, down)| up > down),
            _ => false,
        })
}
