//! A map as it is written: where each speed stands and in which unit, so that a finding can point at its cell and a
//! better speed can be put there with the layout left as it came.

use super::read_map::Placement;
use crate::units::Kmh;
use crate::units::Quantity;
use std::collections::BTreeMap;
use std::ops::Range;

/// How a map's text is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Layout {
    /// CSV, a row for each pedal position.
    PedalDown,
    /// CSV, a column for each pedal position.
    PedalAcross,
    /// TOML.
    #[default]
    Toml,
}

/// The grid on which the maker writes a speed: a unit, and so many decimals of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// The unit's name.
    pub unit: &'static str,
    /// km/h in one of it.
    pub factor: f64,
    /// Decimals.
    pub decimals: u8,
}

/// No speed is cured to more decimals than this.
const MOST_DECIMALS: u8 = 3;

/// A speed as the maker writes it: a whole number of the last decimals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Written {
    /// Its grid.
    pub grid: Grid,
    /// How many steps of the grid.
    pub steps: i32,
}

impl Written {
    /// As the reader reads it, km/h.
    #[must_use]
    pub fn kmh(&self) -> f64 {
        f64::from(self.steps) / self.grid.steps_per_unit() * self.grid.factor
    }

    /// The number alone, with this decimal mark.
    #[must_use]
    pub fn number(&self, mark: char) -> String {
        let decimals = usize::from(self.grid.decimals);
        let digits = format!("{:0width$}", self.steps.unsigned_abs(), width = decimals + 1);
        let (whole, part) = digits.split_at(digits.len() - decimals);
        let sign = if self.steps < 0 { "-" } else { "" };
        if decimals == 0 { format!("{sign}{whole}") } else { format!("{sign}{whole}{mark}{part}") }
    }
}

impl std::fmt::Display for Written {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.number('.'), self.grid.unit)
    }
}

impl Grid {
    /// Whole km/h.
    pub const WHOLE_KMH: Self = Self { unit: "km/h", factor: 1.0, decimals: 0 };

    fn steps_per_unit(&self) -> f64 {
        (0..self.decimals).fold(1.0, |all, _| all * 10.0)
    }

    /// The lowest speed of the grid at or above one in km/h.
    #[must_use]
    pub fn at_or_above(self, kmh: f64) -> Written {
        let mut written = Written { grid: self, steps: (kmh / self.factor * self.steps_per_unit()).ceil() as i32 };
        // The quotient may be off by the last bit either way.
        if (Written { steps: written.steps - 1, ..written }).kmh() >= kmh {
            written.steps -= 1;
        } else if written.kmh() < kmh {
            written.steps += 1;
        }
        written
    }

    /// The highest speed of the grid at or below one in km/h.
    #[must_use]
    pub fn at_or_below(self, kmh: f64) -> Written {
        let above = self.at_or_above(kmh);
        if above.kmh() > kmh { Written { steps: above.steps - 1, ..above } } else { above }
    }
}

/// One speed in the text.
#[derive(Debug, Clone, PartialEq)]
struct Cell {
    /// The bytes of its number.
    number: Range<usize>,
    unit: &'static str,
    factor: f64,
}

/// One line of the map in the text.
#[derive(Debug, Clone, PartialEq)]
struct WrittenLine {
    name: String,
    cells: Vec<Cell>,
    decimals: u8,
    mark: char,
    /// Some speeds stand without decimals though others have them.
    bare: bool,
}

/// A number without the zeros after its decimal mark.
fn without_zeros(number: &str) -> &str {
    if number.contains(['.', ',']) { number.trim_end_matches('0').trim_end_matches(['.', ',']) } else { number }
}

/// A map's text, and where each speed of it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenMap {
    /// The file: the map's own, or the spec where the map stands within it.
    pub file: String,
    /// Its text.
    pub text: String,
    /// Its layout.
    pub layout: Layout,
    pedal: Vec<String>,
    lines: BTreeMap<(u8, u8), WrittenLine>,
}

/// A number within a cell: digits, sign, decimal mark.
fn number_in(text: &str, span: &Range<usize>) -> Range<usize> {
    let inside = text.get(span.clone()).unwrap_or("");
    let is_part = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+');
    let from = inside.find(is_part).unwrap_or(0);
    let rest = inside.get(from..).unwrap_or("");
    let length = rest.find(|c| !is_part(c)).unwrap_or(rest.len());
    span.start + from..span.start + from + length
}

impl WrittenMap {
    /// Of a map that was read without an error.
    pub(super) fn new(file: &str, text: &str, map: &Placement) -> Self {
        let word = |span: &Range<usize>| {
            let word = text.get(span.clone()).unwrap_or("").trim_matches(|c: char| c == '"' || c.is_whitespace());
            word.chars().filter(|c| !c.is_control()).take(40).collect::<String>()
        };
        let line = |line: &super::read_map::PlacedLine| {
            let cell = |speed: &super::read_map::Placed| {
                let (unit, factor) = speed.unit;
                Cell { number: number_in(text, &speed.span), unit, factor }
            };
            let cells: Vec<Cell> = line.speeds.iter().map(cell).collect();
            let numbers = || cells.iter().map(|c| text.get(c.number.clone()).unwrap_or(""));
            let decimals = numbers().filter_map(|n| n.split_once(['.', ',']).map(|(_, d)| d.len())).max().unwrap_or(0);
            let decimals = u8::try_from(decimals).unwrap_or(u8::MAX).min(MOST_DECIMALS);
            let mark = if numbers().any(|n| n.contains(',')) { ',' } else { '.' };
            let bare = numbers().any(|n| !n.contains(['.', ',']));
            let name = if map.layout == Layout::Toml { format!("{}>{}", line.from, line.to) } else { word(&line.span) };
            ((line.from, line.to), WrittenLine { name, cells, decimals, mark, bare })
        };
        Self {
            file: file.to_owned(),
            text: text.to_owned(),
            layout: map.layout,
            pedal: map.pedal.iter().map(|p| word(&p.span)).collect(),
            lines: map.lines.iter().map(line).collect(),
        }
    }

    fn cell(&self, from: u8, to: u8, position: usize) -> Option<(&WrittenLine, &Cell)> {
        let line = self.lines.get(&(from, to))?;
        Some((line, line.cells.get(position)?))
    }

    /// The grid of a speed: the unit it is written in, and the most decimals of its line.
    #[must_use]
    pub fn grid(&self, from: u8, to: u8, position: usize) -> Option<Grid> {
        let (line, cell) = self.cell(from, to, position)?;
        Some(Grid { unit: cell.unit, factor: cell.factor, decimals: line.decimals })
    }

    /// Where a speed stands: `maps/van.csv:5:7 (row 30, column 2>3)`.
    #[must_use]
    pub fn place(&self, from: u8, to: u8, position: usize) -> Option<String> {
        let (line, cell) = self.cell(from, to, position)?;
        let before = self.text.get(..cell.number.start).unwrap_or("");
        let row = before.matches('\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |n| n + 1);
        let column = before.get(start..).unwrap_or("").trim_start_matches('\u{feff}').chars().count() + 1;
        let pedal = self.pedal.get(position).map_or("", String::as_str);
        let names = match self.layout {
            Layout::PedalDown => format!("row {pedal}, column {}", line.name),
            Layout::PedalAcross => format!("row {}, column {pedal}", line.name),
            Layout::Toml => format!("line {}, speed {} at {pedal}", line.name, position + 1),
        };
        Some(format!("{}:{row}:{column} ({names})", self.file))
    }

    /// The units in which speeds are written, each once, in the order of the lines.
    #[must_use]
    pub fn units(&self) -> Vec<&'static str> {
        let mut units = Vec::new();
        for cell in self.lines.values().flat_map(|l| &l.cells) {
            if !units.contains(&cell.unit) {
                units.push(cell.unit);
            }
        }
        units
    }

    /// The text with these speeds in their cells and everything else as it came; a speed for a cell that isn't there
    /// is left out.
    #[must_use]
    pub fn with(&self, speeds: &BTreeMap<(u8, u8, usize), Written>) -> String {
        let mut changes: Vec<(Range<usize>, String)> = speeds
            .iter()
            .filter_map(|(&(from, to, position), speed)| {
                let (line, cell) = self.cell(from, to, position)?;
                let number = speed.number(line.mark);
                let number = if line.bare { without_zeros(&number).to_owned() } else { number };
                Some((cell.number.clone(), number))
            })
            .collect();
        changes.sort_by_key(|(range, _)| std::cmp::Reverse(range.start));
        let mut text = self.text.clone();
        for (range, number) in changes {
            if text.get(range.clone()).is_some() {
                text.replace_range(range, &number);
            }
        }
        text
    }
}

/// The unit in which a quantity's text is written, with its factor; km/h where none is found.
pub(super) fn unit_of(text: &str) -> (&'static str, f64) {
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+');
    let unit = text.trim().trim_start_matches(is_number).trim();
    Kmh::UNITS.iter().find(|(name, _)| *name == unit).copied().unwrap_or(("km/h", 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 69.07 km/h are 42.92 mph: 43 mph (69.20 km/h) is the next whole one, 42 mph (67.59) the one before; with a
    /// decimal 43.0 (42.9 mph are 69.04) and 42.9.
    #[test]
    fn rounding_is_on_the_makers_grid() {
        let mph = Grid { unit: "mph", factor: 1.609_344, decimals: 0 };
        let tenth = Grid { decimals: 1, ..mph };
        assert_eq!((mph.at_or_above(69.07).steps, mph.at_or_below(69.07).steps), (43, 42));
        assert_eq!(
            (tenth.at_or_above(69.07).number(','), tenth.at_or_below(69.07).number('.')),
            ("43,0".into(), "42.9".into())
        );
        assert_eq!(tenth.at_or_above(0.3).number('.'), "0.2");
    }

    /// What lies on the grid stays where it is, whatever the last bit of the division says.
    #[test]
    fn a_speed_on_the_grid_is_its_own_rounding() {
        for decimals in 0..=3 {
            for factor in [1.0, 1.609_344, 3.6] {
                let grid = Grid { unit: "", factor, decimals };
                for steps in 0..3000 {
                    let kmh = Written { grid, steps }.kmh();
                    assert_eq!((grid.at_or_above(kmh).steps, grid.at_or_below(kmh).steps), (steps, steps));
                }
            }
        }
    }
}
