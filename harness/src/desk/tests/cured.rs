//! Cures, and the cured map in every layout that the reader accepts.

use super::super::cure;
use super::path;
use super::van;
use super::van_with;
use crate::spec::Spec;
use crate::spec::load_with_map;
use crate::spec::load_written;
use crate::spec::parse_written;
use crate::spec::written::WrittenMap;

/// A map with something to cure in each way: it lands too low, falls, crosses, lies too close, and is out of force.
const SICK: [(&str, [&str; 8]); 4] = [
    ("0", ["41", "50", "71", "82", "33", "46", "61", "71"]),
    ("20", ["40.5", "55", "71", "82", "33", "46", "61", "71"]),
    ("80", ["67", "102", "138", "180", "63", "96", "130", "170"]),
    ("100", ["67", "102", "138", "180", "66.5", "96", "130", "170"]),
];
const NAMES: [&str; 8] = ["2>3", "3>4", "4>5", "5>6", "3>2", "4>3", "5>4", "6>5"];

/// Pedal down the rows.
fn columns(separator: &str, end: &str, corner: &str, cell: impl Fn(&str) -> String) -> String {
    let head: Vec<String> = std::iter::once(corner.to_owned()).chain(NAMES.map(str::to_owned)).collect();
    let mut text = head.join(separator) + end;
    for (pedal, speeds) in SICK {
        let row: Vec<String> = std::iter::once(pedal).chain(speeds).map(&cell).collect();
        text.push_str(&(row.join(separator) + end));
    }
    text
}

/// Pedal across.
fn rows(separator: &str) -> String {
    let mut text = String::from("% / km/h");
    SICK.iter().for_each(|(pedal, _)| text.push_str(&format!("{separator}{pedal}")));
    for (at, name) in NAMES.iter().enumerate().rev() {
        text.push_str(&format!("\n{name}"));
        SICK.iter().for_each(|(_, speeds)| text.push_str(&format!("{separator}{}", speeds[at])));
    }
    text
}

fn toml(table: &str) -> String {
    let list = |values: Vec<String>| format!("[{}]", values.join(", "));
    let pedal = list(SICK.iter().map(|(p, _)| format!("\"{p} %\"")).collect());
    let lines = NAMES.iter().enumerate().map(|(at, name)| {
        let (from, to) = name.split_once('>').unwrap();
        let speeds = list(SICK.iter().map(|(_, s)| format!("\"{} km/h\"", s[at])).collect());
        format!("# the line {name}\n[[{table}lines]]\nfrom = {from}\nto = {to}\nspeeds = {speeds} # as driven\n")
    });
    format!("pedal = {pedal}\n{}", lines.collect::<String>())
}

/// What stands around the numbers.
fn without_numbers(text: &str) -> String {
    text.chars().filter(|c| !c.is_ascii_digit() && *c != '.').collect()
}

/// Cures a map, writes it, reads it again: nothing fails, and nothing but numbers has changed.
fn cures((spec, written): &(Spec, WrittenMap), again: impl Fn(&str) -> Spec) -> String {
    assert_eq!(written.with(&std::collections::BTreeMap::new()), written.text);
    let sick = super::check(spec, Some(written));
    assert!(sick.fails());
    let cured = cure(spec, Some(written));
    let text = written.with(&cured.speeds);
    let read = again(&text);
    assert_eq!(read.map, cured.spec.map, "{text}");
    let left = super::check(&read, None);
    assert!(!left.fails(), "{text}\n{:#?}", left.findings);
    let spared = |(from, to, position): (u8, u8, usize)| !cured.speeds.contains_key(&(from, to, position));
    for (old, new) in spec.map.lines.iter().zip(&read.map.lines) {
        for (position, (old_kmh, new_kmh)) in old.speeds.iter().zip(&new.speeds).enumerate() {
            assert_eq!(old_kmh == new_kmh, spared((old.from, old.to, position)), "{}>{}", old.from, old.to);
        }
    }
    text
}

#[test]
fn a_cured_map_keeps_its_layout_whatever_it_is() {
    let comma = |cell: &str| cell.replace('.', ",");
    let quoted = |cell: &str| format!("\"{}\"", cell.replace('.', ","));
    let kept = str::to_owned;
    for (text, commas) in [
        (columns(",", "\n", "pedal % / km/h", kept), false),
        (format!("\u{feff}{}", columns(";", "\r\n", "% / km/h", comma)), true),
        (columns("\t", "\n", "% / km/h", comma), true),
        (columns(",", "\n", "\"% / km/h\"", quoted), true),
        (columns(" , ", "\n", "% / km/h", kept), false),
        (columns(";", ";;\n\n", "% / km/h", kept), false),
        (rows(","), false),
        (rows("\t"), false),
    ] {
        let again = |text: &str| van_with(text).0;
        let cured = cures(&van_with(&text), again);
        if !commas {
            assert_eq!(without_numbers(&text), without_numbers(&cured));
        }
        let count = |text: &str, c: char| text.matches(c).count();
        for mark in [';', '\t', '"', '\r', '\n', '\u{feff}'] {
            assert_eq!(count(&text, mark), count(&cured, mark), "{cured}");
        }
        assert_eq!(cured.lines().next(), text.lines().next());
    }
}

#[test]
fn a_map_in_toml_keeps_its_comments() {
    let (_, csv) = van();
    let van_toml = std::fs::read_to_string(path("van.toml")).unwrap();
    // In a file of its own.
    let map = format!("# ours\nformat = 1\n{}", toml(""));
    let spec = van_toml.replace("maps/van.csv", "maps/sick.toml");
    let vehicle = std::fs::read_to_string(path("vehicles/van.toml")).unwrap();
    let read = |map: &str| {
        let mut open = |file: &str| if file == "maps/sick.toml" { Ok(map.to_owned()) } else { Ok(vehicle.clone()) };
        parse_written(&spec, "van.toml", &mut open).unwrap_or_else(|e| panic!("{e}"))
    };
    let cured = cures(&read(&map), |text| read(text).0);
    assert_eq!(without_numbers(&map), without_numbers(&cured));
    // Within the spec.
    let spec = van_toml.replace("map = \"maps/van.csv\"\n", "") + "\n[map]\n" + &toml("map.");
    let read =
        |spec: &str| parse_written(spec, "van.toml", &mut |_| Ok(vehicle.clone())).unwrap_or_else(|e| panic!("{e}"));
    let cured = cures(&read(&spec), |text| read(text).0);
    assert_eq!(without_numbers(&spec), without_numbers(&cured));
    assert_ne!(csv.text, cured);
}

/// The narrow map in whole mph: cured in whole mph.
#[test]
fn a_map_in_mph_is_cured_in_mph() {
    let mph = "% / mph,2>3,3>4,4>5,5>6,3>2,4>3,5>4,6>5\n\
        0,25,34,44,51,20,28,38,44\n20,25,34,44,51,20,28,38,44\n\
        80,42,63,86,112,39,60,81,106\n100,42,63,86,112,39,60,81,106\n";
    let map = van_with(mph);
    let cured = cures(&map, |text| van_with(text).0);
    assert!(!cured.contains('.'), "{cured}");
    // 6>5 aside, the cure of the light-pedal lines is none: they were right.
    assert!(cured.contains("\n0,25,34,44,51,"), "{cured}");
}

/// A map read with decimals in one line only is cured with decimals there only.
#[test]
fn each_line_is_cured_with_its_own_decimals() {
    let cured = cures(&van_with(&columns(",", "\n", "% / km/h", str::to_owned)), |text| van_with(text).0);
    let names: Vec<&str> = cured.lines().next().unwrap().split(',').collect();
    for row in cured.lines().skip(1) {
        for (name, cell) in names.iter().zip(row.split(',')) {
            assert!(!cell.contains('.') || ["2>3", "3>2"].contains(name), "{name}: {cell}");
        }
    }
}

#[test]
fn the_narrow_map_is_cured_where_it_stands() {
    let file = path("van-narrow.toml");
    let narrow = load_written(&file).unwrap();
    cures(&narrow, |text| load_with_map(&file, &narrow.1, text).unwrap().0);
}

/// What no speed of the map can mend goes on failing, and the cure ends.
#[test]
fn what_the_map_cannot_mend_still_fails() {
    let (mut spec, written) = van();
    // Sixth can't land at 4,300 rpm and stay below what the engine pulls.
    spec.limits.rpm_floor = crate::units::Rpm(4300.0);
    assert!(cure(&spec, Some(&written)).desk.fails());
}
