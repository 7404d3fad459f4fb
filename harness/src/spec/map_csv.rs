//! Reads a map as spreadsheets save it: separated by comma, semicolon or tab; decimal point or comma; lines in
//! columns with the pedal down the rows, or the other way round; km/h, mph or m/s as the head says.

use super::map::ShiftMap;
use super::read_map::{Gears, MOST_LINES, MOST_PEDAL, Placed, PlacedLine, Placement, check};
use super::reader::Doc;
use super::written::Layout;
use crate::units::{Kmh, Quantity};
use std::borrow::Cow;
use std::ops::Range;

/// A unit's name and its factor to km/h.
type Unit = (&'static str, f64);

/// One cell: its text without quotes, and its place.
#[derive(Debug, Clone)]
struct Cell<'t> {
    text: Cow<'t, str>,
    quoted: bool,
    span: Range<usize>,
}

/// Reads a map's CSV text.
pub fn map(doc: Doc<'_>, gears: Gears) -> Option<ShiftMap> {
    let separator = separator(doc.text);
    let rows = rows(doc, separator)?;
    let Some((head, body)) = rows.split_first() else {
        doc.fail(0..0, "the map is empty: write a head such as \"% / km/h,2>3,3>2\" and a row for each pedal position");
        return None;
    };
    if !same_width(doc, head, body, separator) {
        return None;
    }
    let (corner, names) = head.split_first()?;
    let read =
        Reader { doc, separator, corner_speed: speed_unit(&corner.text), corner_percent: corner.text.contains('%') };
    let in_columns = names.iter().any(|c| line_name(&c.text).is_some());
    let in_rows = body.iter().filter_map(|r| r.first()).any(|c| line_name(&c.text).is_some());
    let before = doc.log.errors.borrow().len();
    let placement = if in_columns {
        let pedal = body.iter().filter_map(|row| read.pedal(row.first()?)).collect();
        let column = |(n, name)| read.line(name, body.iter().filter_map(move |row| row.get(n + 1)));
        let lines = names.iter().enumerate().filter_map(column).collect();
        Placement { pedal, lines, layout: Layout::PedalDown }
    } else if in_rows {
        let pedal = names.iter().filter_map(|cell| read.pedal(cell)).collect();
        let row = |row: &Vec<Cell<'_>>| row.split_first().and_then(|(name, cells)| read.line(name, cells.iter()));
        Placement { pedal, lines: body.iter().filter_map(row).collect(), layout: Layout::PedalAcross }
    } else {
        doc.fail(
            corner.span.clone(),
            "no line is named: name them 2>3, 3>2 and so on in the first row or the first column",
        );
        return None;
    };
    if placement.lines.len() > MOST_LINES || placement.pedal.len() > MOST_PEDAL {
        doc.fail(
            corner.span.clone(),
            &format!("too large: at most {MOST_LINES} lines and {MOST_PEDAL} pedal positions are read"),
        );
        return None;
    }
    if doc.log.errors.borrow().len() > before {
        return None;
    }
    check(doc, &corner.span, placement, gears)
}

/// The separator: what the head uses most, outside quotes.
fn separator(text: &str) -> char {
    let head = text.lines().find(|l| !l.trim().is_empty()).unwrap_or("");
    let mut counts = [(';', 0), ('\t', 0), (',', 0)];
    let mut quoted = false;
    for c in head.chars() {
        quoted ^= c == '"';
        for (separator, count) in &mut counts {
            *count += i32::from(!quoted && c == *separator);
        }
    }
    counts.iter().find(|&&(_, count)| count > 0).map_or(',', |&(separator, _)| separator)
}

/// Rows of cells; rows and last columns that are empty throughout are what spreadsheets leave behind.
fn rows<'t>(doc: Doc<'t>, separator: char) -> Option<Vec<Vec<Cell<'t>>>> {
    let mut rows = Vec::new();
    let mut at = if doc.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    while let Some(rest) = doc.text.get(at..).filter(|rest| !rest.is_empty()) {
        let line = rest.split('\n').next().unwrap_or("");
        let next = at + line.len() + 1;
        let mut row = cells(doc, line.strip_suffix('\r').unwrap_or(line), at, separator)?;
        while row.len() > 1 && row.last().is_some_and(|c| c.text.is_empty()) {
            row.pop();
        }
        if row.iter().any(|c| !c.text.is_empty()) {
            rows.push(row);
        }
        if rows.len() > 1 + MOST_PEDAL.max(MOST_LINES) {
            doc.fail(at..at, &format!("too many rows: at most {MOST_PEDAL} pedal positions are read"));
            return None;
        }
        at = next;
    }
    Some(rows)
}

/// The cells of one row.
fn cells<'t>(doc: Doc<'t>, line: &'t str, offset: usize, separator: char) -> Option<Vec<Cell<'t>>> {
    let mut cells = Vec::new();
    let mut at = 0;
    loop {
        let rest = line.get(at..).unwrap_or("");
        let blank = rest.len() - rest.trim_start_matches(' ').len();
        let inner = rest.get(blank..).unwrap_or("");
        let (text, quoted, length) = if let Some(body) = inner.strip_prefix('"') {
            let mut end = None;
            let mut bytes = body.bytes().enumerate().peekable();
            while let Some((n, b)) = bytes.next() {
                if b == b'"' && bytes.next_if(|&(_, next)| next == b'"').is_none() {
                    end = Some(n);
                    break;
                }
            }
            let Some(end) = end else {
                doc.fail(offset + at + blank..offset + line.len(), "this quote is not closed in its row");
                return None;
            };
            let after = body.get(end + 1..).unwrap_or("");
            let tail = after.find(separator).unwrap_or(after.len());
            if !after.get(..tail).unwrap_or("").trim().is_empty() {
                let from = offset + at + blank + end + 2;
                doc.fail(from..from + tail, "text after a closing quote: quote the whole cell or nothing of it");
                return None;
            }
            let text = body.get(..end).unwrap_or("");
            let text = if text.contains("\"\"") { Cow::Owned(text.replace("\"\"", "\"")) } else { Cow::Borrowed(text) };
            (text, true, blank + 1 + end + 1 + tail)
        } else {
            let length = rest.find(separator).unwrap_or(rest.len());
            (Cow::Borrowed(rest.get(..length).unwrap_or("").trim()), false, length)
        };
        let (start, end) = (offset + at + blank.min(length), offset + at + length);
        cells.push(Cell { text, quoted, span: start..end.max(start) });
        at += length + separator.len_utf8();
        if at > line.len() {
            return Some(cells);
        }
    }
}

/// Whether all rows are as wide as the head; says what is likely where not.
fn same_width(doc: Doc<'_>, head: &[Cell<'_>], body: &[Vec<Cell<'_>>], separator: char) -> bool {
    let mut same = true;
    for row in body {
        let Some(last) = row.last().filter(|_| row.len() != head.len()) else { continue };
        same = false;
        let hint = (separator == ',' && row.len() > head.len()).then(|| {
            "a decimal comma can't be told from a separating comma: separate by semicolons, or use decimal points"
                .to_owned()
        });
        let message = format!("this row has {} cells, the head has {}", row.len(), head.len());
        doc.fail_hint(last.span.clone(), &message, hint);
    }
    same
}

/// The gears of a name such as `2>3`, and what stands after it.
fn line_name(text: &str) -> Option<(u8, u8, &str)> {
    let (from, rest) = text.split_once('>')?;
    let rest = rest.trim_start();
    let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
    let gear = |text: &str| text.trim().parse::<u8>().ok().filter(|g| (1..=99).contains(g));
    Some((gear(from)?, gear(rest.get(..digits)?)?, rest.get(digits..)?))
}

/// A unit of speed among the words of a head cell, with its factor to km/h.
fn speed_unit(text: &str) -> Option<Unit> {
    let words = text.split(|c: char| c.is_whitespace() || matches!(c, '(' | ')' | '[' | ']' | ',' | ';' | ':'));
    let units: Vec<Unit> =
        words.filter_map(|word| Kmh::UNITS.iter().find(|(name, _)| *name == word)).copied().collect();
    match units.as_slice() {
        [one] => Some(*one),
        _ => None,
    }
}

/// What the corner says of all cells.
struct Reader<'d> {
    doc: Doc<'d>,
    separator: char,
    corner_speed: Option<Unit>,
    corner_percent: bool,
}

impl Reader<'_> {
    fn pedal(&self, cell: &Cell<'_>) -> Option<Placed> {
        let bare = cell.text.strip_suffix('%').map(str::trim_end);
        if bare.is_none() && !self.corner_percent {
            let message = format!(
                "the pedal position \"{}\" has no unit: write \"{} %\", or % in the first cell",
                cell.text, cell.text
            );
            self.doc.fail(cell.span.clone(), &message);
            return None;
        }
        self.number(cell, bare.unwrap_or(&cell.text), "pedal position")
    }

    fn line<'c, 't: 'c>(&self, name: &Cell<'_>, cells: impl Iterator<Item = &'c Cell<'t>>) -> Option<PlacedLine> {
        let Some((from, to, rest)) = line_name(&name.text) else {
            self.doc.fail(name.span.clone(), &format!("\"{}\" names no line: write 2>3, 3>2 and so on", name.text));
            return None;
        };
        let own = speed_unit(rest);
        if own.is_none() && !rest.trim().is_empty() {
            let message = format!("\"{}\" is no unit of speed: write km/h, mph or m/s", rest.trim());
            self.doc.fail(name.span.clone(), &message);
            return None;
        }
        let Some(unit) = own.or(self.corner_speed) else {
            let message = format!(
                "the line {from}>{to} has no unit: write \"{from}>{to} km/h\" (or mph), or the unit in the first cell"
            );
            self.doc.fail(name.span.clone(), &message);
            return None;
        };
        let speed = |cell: &Cell<'_>| {
            let read = self.number(cell, &cell.text, "speed")?;
            Some(Placed { value: read.value * unit.1, span: read.span, unit })
        };
        let speeds: Vec<Option<Placed>> = cells.map(speed).collect();
        let speeds = speeds.into_iter().collect::<Option<Vec<_>>>()?;
        Some(PlacedLine { from, to, span: name.span.clone(), speeds })
    }

    /// A number with decimal point, or with decimal comma where the comma doesn't separate.
    fn number(&self, cell: &Cell<'_>, text: &str, what: &str) -> Option<Placed> {
        let comma_allowed = self.separator != ',' || cell.quoted;
        let plain = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'-' | b'+'));
        let one_mark = text.bytes().filter(|b| matches!(b, b'.' | b',')).count() <= 1;
        let read = (plain && one_mark && (comma_allowed || !text.contains(',')))
            .then(|| text.replace(',', ".").parse::<f64>().ok())
            .flatten()
            .filter(|n| n.is_finite());
        if read.is_none() {
            let message = if text.is_empty() {
                format!("a {what} is missing here")
            } else {
                format!(
                    "\"{text}\" is no {what}: write a number alone, such as 45 or 45.5; the unit stands in the head"
                )
            };
            self.doc.fail(cell.span.clone(), &message);
        }
        Some(Placed { value: read? + 0.0, span: cell.span.clone(), unit: ("%", 1.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::super::parse_map_csv;
    use crate::units::{Kmh, Percent};

    const PLAIN: &str = "% / km/h,2>3,3>2\n0,40,20\n50,45.5,30\n100,60,40\n";

    fn wrong(text: &str) -> Vec<(usize, usize, String)> {
        let errors = parse_map_csv(text, "m.csv", 4).unwrap_err();
        errors.lines.into_iter().map(|e| (e.line, e.column, e.message)).collect()
    }

    #[test]
    fn the_same_map_reads_in_every_layout_a_spreadsheet_saves() {
        let map = parse_map_csv(PLAIN, "m.csv", 4).unwrap();
        assert_eq!(map.pedal, [Percent(0.0), Percent(50.0), Percent(100.0)]);
        assert_eq!((map.lines[0].from, map.lines[0].to), (2, 3));
        assert_eq!(map.lines[0].speeds, [Kmh(40.0), Kmh(45.5), Kmh(60.0)]);
        assert_eq!(map.lines[1].speeds, [Kmh(20.0), Kmh(30.0), Kmh(40.0)]);
        for text in [
            "\u{feff}% / km/h;2>3;3>2\r\n0;40;20\r\n50;45,5;30\r\n100;60;40\r\n",
            "pedal\t2>3 km/h\t3>2 km/h\n0 %\t40\t20\n50 %\t45,5\t30\n100 %\t60\t40",
            "km/h,0 %,50 %,100 %\n3>2,20,30,40\n2>3,40,45.5,60\n",
            "\"% / km/h\",\"2>3\",\"3>2\"\n\"0\",\"40\",\"20\"\n\"50\",\"45,5\",\"30\"\n\"100\",\"60\",\"40\"\n",
            ",2 > 3 (km/h),3 > 2 [km/h],,\n0%,40,20,,\n\n50%,45.5,30,,\n100%,60,40,,\n,,,,\n",
        ] {
            assert_eq!(parse_map_csv(text, "m.csv", 4).unwrap_or_else(|e| panic!("{e}")), map, "{text}");
        }
    }

    /// The mile is exactly 1.609344 km, and nothing is rounded.
    #[test]
    fn miles_per_hour_convert_exactly() {
        let text = "%;2>3 mph;3>2 km/h\n0;25;20\n100;30,5;20\n";
        let map = parse_map_csv(text, "m.csv", 4).unwrap();
        assert_eq!(map.lines[0].speeds, [Kmh(25.0 * 1.609_344), Kmh(30.5 * 1.609_344)]);
        assert_eq!(map.lines[1].speeds, [Kmh(20.0), Kmh(20.0)]);
    }

    #[test]
    fn each_wrong_map_is_named_at_its_place() {
        let table: [(&str, &str, usize, usize, &str); 16] = [
            ("% / km/h", "%", 1, 3, "the line 2>3 has no unit"),
            ("% / km/h", "km/h", 2, 1, "the pedal position \"0\" has no unit"),
            ("3>2\n", "3>2 knots\n", 1, 14, "\"knots\" is no unit of speed"),
            ("3>2\n", "note\n", 1, 14, "\"note\" names no line"),
            ("2>3,3>2", "a,b", 1, 1, "no line is named"),
            ("3>2\n", "3>1\n", 1, 14, "the line 3>1 must lead to the gear above or below"),
            ("3>2\n", "5>4\n", 1, 14, "the line 5>4 goes beyond the vehicle's top gear, 4"),
            ("3>2\n", "2>3\n", 1, 14, "the line 2>3 is there twice"),
            ("45.5", "45,5", 3, 9, "this row has 4 cells, the head has 3"),
            ("45.5", "4x", 3, 4, "\"4x\" is no speed"),
            ("45.5", "", 3, 4, "a speed is missing here"),
            ("45.5", "1.234.5", 3, 4, "\"1.234.5\" is no speed"),
            ("45.5", "\"45", 3, 4, "this quote is not closed"),
            ("100,60,40", "99,60,40", 4, 1, "the pedal positions must end at 100 %, not 99 %"),
            ("50,45.5", "0,45.5", 3, 1, "pedal positions must rise"),
            ("60,40", "60,256", 4, 8, "the line 3>2 must stay from 0 to 255 km/h, not 256 km/h"),
        ];
        for (right, bad, line, column, words) in table {
            assert_eq!(PLAIN.matches(right).count(), 1, "{right}");
            let found = wrong(&PLAIN.replace(right, bad));
            let hit = found.iter().any(|(l, c, m)| (*l, *c) == (line, column) && m.starts_with(words));
            assert!(hit, "{bad:?} should give {line}:{column} {words}; it gives {found:?}");
        }
    }

    #[test]
    fn a_decimal_comma_among_separating_commas_is_refused_with_the_way_out() {
        let errors = parse_map_csv(&PLAIN.replace("45.5", "45,5"), "m.csv", 4).unwrap_err();
        assert!(errors.to_string().contains("separate by semicolons, or use decimal points"));
    }

    #[test]
    fn all_wrong_cells_appear_at_once() {
        let text = PLAIN.replace("40,20", "4o,2o").replace("60,40", "6o,40");
        let places: Vec<_> = wrong(&text).into_iter().map(|(line, column, _)| (line, column)).collect();
        assert_eq!(places, [(2, 3), (2, 6), (4, 5)]);
    }

    #[test]
    fn too_much_and_nothing_are_refused() {
        assert_eq!(
            wrong("")[0].2,
            "the map is empty: write a head such as \"% / km/h,2>3,3>2\" and a row for each pedal position"
        );
        let long: String = (0..70).map(|n| format!("{n},40,20\n")).collect();
        assert!(wrong(&format!("% / km/h,2>3,3>2\n{long}"))[0].2.starts_with("too many rows"));
        let wide = format!("% / km/h{}\n0{}\n", ",2>3".repeat(90), ",4".repeat(90));
        assert!(wrong(&wide)[0].2.starts_with("too large"));
    }
}
