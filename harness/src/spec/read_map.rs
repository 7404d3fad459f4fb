//! Reads a map's TOML form, and checks a map of either form.

use super::map::{Line, ShiftMap};
use super::reader::{Doc, Table, Value};
use super::values::quantity;
use super::written::{Layout, WrittenMap, unit_of};
use crate::units::{Kmh, Percent};
use std::ops::Range;

/// A map may have this many pedal positions.
pub const MOST_PEDAL: usize = 64;
/// A map may have this many lines: up and down between ten gears.
pub const MOST_LINES: usize = 18;

/// A number with its place.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The number.
    pub value: f64,
    /// Its place in the text.
    pub span: Range<usize>,
    /// The unit it is written in, and the factor to the canonical one.
    pub unit: (&'static str, f64),
}

/// A line with the places of its parts.
#[derive(Debug, Clone)]
pub struct PlacedLine {
    /// The gear left.
    pub from: u8,
    /// The gear entered.
    pub to: u8,
    /// Where the line is named.
    pub span: Range<usize>,
    /// Speeds, km/h.
    pub speeds: Vec<Placed>,
}

/// A map as written.
#[derive(Debug, Clone, Default)]
pub struct Placement {
    /// Pedal positions, %.
    pub pedal: Vec<Placed>,
    /// The lines, in the order of the text.
    pub lines: Vec<PlacedLine>,
    /// How the text is laid out.
    pub layout: Layout,
}

/// The gears a map must serve; 0 where vehicle or box couldn't be read.
#[derive(Debug, Clone, Copy)]
pub struct Gears {
    /// The lowest gear the box commands.
    pub lowest: u8,
    /// The lowest gear out of which it commands an upshift.
    pub lowest_up_from: u8,
    /// The vehicle's top gear.
    pub top: u8,
}

/// Reads `pedal` and `[[lines]]`.
pub fn toml(t: &Table<'_>) -> Option<Placement> {
    let doc = t.doc;
    let pedal = t.list("pedal", "Percent", MOST_PEDAL, true);
    let pedal =
        pedal.map(|items| items.into_iter().map(|v| placed::<Percent>(doc, "pedal", v, 100.0)).collect::<Vec<_>>());
    let lines = t.list("lines", "table", MOST_LINES, true);
    let lines = lines.map(|items| {
        let read = items.into_iter().map(|value| {
            let line = t.inner("lines[]", value)?;
            let (from, to) = (line.byte("from", 1..=10, None), line.byte("to", 1..=10, None));
            let speeds = line.list("speeds", "Kmh", MOST_PEDAL, true);
            let speeds =
                speeds.map(|all| all.into_iter().map(|v| placed::<Kmh>(doc, "speeds", v, 255.0)).collect::<Vec<_>>());
            line.done();
            let speeds = speeds?.into_iter().collect::<Option<Vec<_>>>()?;
            Some(PlacedLine { from: from?, to: to?, span: value.span(), speeds })
        });
        read.collect::<Vec<_>>()
    });
    let pedal = pedal?.into_iter().collect::<Option<Vec<_>>>()?;
    let lines = lines?.into_iter().collect::<Option<Vec<_>>>()?;
    Some(Placement { pedal, lines, layout: Layout::Toml })
}

fn placed<T: crate::units::Quantity>(doc: Doc<'_>, key: &str, value: &Value<'_>, most: f64) -> Option<Placed> {
    let read: T = quantity(doc, key, value, 0.0..=most)?;
    Some(Placed { value: read.canonical(), span: value.span(), unit: unit_of(value.get_ref().as_str().unwrap_or("")) })
}

/// Checks a map and puts its lines in order. `whole` is where an error about the whole map is shown.
pub fn check(doc: Doc<'_>, whole: &Range<usize>, map: Placement, gears: Gears) -> Option<ShiftMap> {
    let before = doc.log.errors.borrow().len();
    check_pedal(doc, whole, &map.pedal);
    for (n, line) in map.lines.iter().enumerate() {
        check_line(doc, line, map.pedal.len(), gears);
        if map.lines.iter().take(n).any(|l| (l.from, l.to) == (line.from, line.to)) {
            doc.fail(line.span.clone(), &format!("the line {}>{} is there twice", line.from, line.to));
        }
    }
    if gears.lowest > 0 && gears.top > 0 {
        let has = |from: u8, to: u8| map.lines.iter().any(|l| (l.from, l.to) == (from, to));
        let first = (gears.lowest_up_from..gears.lowest).map(|g| (g, g + 1));
        let pairs = first.chain((gears.lowest..gears.top).flat_map(|g| [(g, g + 1), (g + 1, g)]));
        let missing: Vec<String> =
            pairs.filter(|&(from, to)| !has(from, to)).map(|(from, to)| format!("{from}>{to}")).collect();
        if !missing.is_empty() {
            let (lowest, top) = (gears.lowest, gears.top);
            let names = missing.join(", ");
            doc.fail(whole.clone(), &format!("lines are missing: {names} (the box commands gears {lowest} to {top})"));
        }
    }
    if doc.log.errors.borrow().len() > before {
        return None;
    }
    doc.log.written.replace(Some(WrittenMap::new(doc.file, doc.text, &map)));
    let mut lines: Vec<Line> = map
        .lines
        .into_iter()
        .map(|l| Line { from: l.from, to: l.to, speeds: l.speeds.into_iter().map(|s| Kmh(s.value)).collect() })
        .collect();
    lines.sort_by_key(|l| (l.to < l.from, l.from));
    Some(ShiftMap { pedal: map.pedal.into_iter().map(|p| Percent(p.value)).collect(), lines })
}

fn check_pedal(doc: Doc<'_>, whole: &Range<usize>, pedal: &[Placed]) {
    let (Some(first), Some(last)) = (pedal.first(), pedal.last()) else {
        doc.fail(whole.clone(), "the map has no pedal positions");
        return;
    };
    if pedal.len() > MOST_PEDAL {
        doc.fail(whole.clone(), &format!("{} pedal positions: at most {MOST_PEDAL} are read", pedal.len()));
    }
    for pair in pedal.windows(2) {
        if let [a, b] = pair
            && a.value >= b.value
        {
            doc.fail(b.span.clone(), &format!("pedal positions must rise: {} % follows {} %", b.value, a.value));
        }
    }
    if first.value != 0.0 {
        doc.fail(first.span.clone(), &format!("the pedal positions must begin at 0 %, not {} %", first.value));
    }
    if last.value != 100.0 {
        doc.fail(last.span.clone(), &format!("the pedal positions must end at 100 %, not {} %", last.value));
    }
}

fn check_line(doc: Doc<'_>, line: &PlacedLine, positions: usize, gears: Gears) {
    let (from, to) = (line.from, line.to);
    let name = format!("{from}>{to}");
    if from.abs_diff(to) != 1 {
        doc.fail(line.span.clone(), &format!("the line {name} must lead to the gear above or below"));
    } else if gears.top > 0 && from.max(to) > gears.top {
        doc.fail(line.span.clone(), &format!("the line {name} goes beyond the vehicle's top gear, {}", gears.top));
    } else if (from, to) == (1, 2) && gears.lowest == 2 {
        if gears.lowest_up_from > 1 {
            doc.fail_hint(
                line.span.clone(),
                "the line 1>2 is not the box's: out of first the gearbox goes up by itself",
                Some("leave the line out, or declare `out-of-first = \"commanded\"` in [box]".to_owned()),
            );
        }
    } else if from.min(to) < gears.lowest.max(1) {
        doc.fail(line.span.clone(), &format!("the line {name} goes below the box's lowest gear, {}", gears.lowest));
    }
    if line.speeds.len() != positions {
        let speeds = line.speeds.len();
        let message = format!("the line {name} has {speeds} of {positions} speeds: one for each pedal position");
        doc.fail(line.span.clone(), &message);
    }
    for speed in &line.speeds {
        if !(0.0..=255.0).contains(&speed.value) {
            let shown = Kmh(speed.value);
            doc.fail(speed.span.clone(), &format!("the line {name} must stay from 0 to 255 km/h, not {shown}"));
        }
    }
}
