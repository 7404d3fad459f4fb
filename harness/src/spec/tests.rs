//! Tests of the reader as a whole: right files, and a table of wrong ones.

use super::pedal::{PedalIdentifier, PedalStops};
use super::*;
use crate::units::{Kmh, Metre, Ms, Percent};
use std::path::PathBuf;

/// The shipped spec files.
pub(super) fn shipped(file: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("specs").join(file)
}

/// A right spec of one file, as short as it gets.
pub(super) const SHORT: &str = r#"format = 1
name = "short"
[box]
name = "b"
take-over = "lever"
driver-tap = "disengages"
lost-data = "disengages"
tap-wiring = "separate"
lowest-gear = 2
[limits]
engagement-speed-ceiling = "40 km/h"
rpm-floor = "1500 rpm"
[vehicle]
name = "v"
class = "diesel-van"
mass = "2600 kg"
tyre = "235/65 R16"
[vehicle.engine]
idle = "750 rpm"
redline = "4400 rpm"
rated-power = { power = "127 kW", speed = "3800 rpm" }
rated-torque = { torque = "400 Nm", speed = "1750 rpm" }
[vehicle.gearbox]
ratios = [3.8, 2.21, 1.46, 1.08]
final-drive = 3.7
[vehicle.gearbox.gate]
means = "held-gear"
entry = { fixed = 2 }
[map]
pedal = ["0 %", "100 %"]
lines = [
  { from = 2, to = 3, speeds = ["40 km/h", "60 km/h"] },
  { from = 3, to = 4, speeds = ["60 km/h", "90 km/h"] },
  { from = 3, to = 2, speeds = ["20 km/h", "40 km/h"] },
  { from = 4, to = 3, speeds = ["40 km/h", "60 km/h"] },
]
"#;

pub(super) fn alone(text: &str) -> Result<Spec, SpecErrors> {
    parse(text, "s.toml", &mut |_| Err("a spec inside a drive file must not name other files".to_owned()))
}

fn errors(text: &str) -> Vec<(usize, usize, String)> {
    alone(text).unwrap_err().lines.into_iter().map(|e| (e.line, e.column, e.message)).collect()
}

#[test]
fn a_short_spec_gets_its_defaults() {
    let spec = alone(SHORT).unwrap();
    assert_eq!(spec.facts.tick, Ms::new(10.0));
    assert_eq!(spec.facts.after_edge, facts::AfterEdge::AnyTime);
    assert!(spec.facts.signals.range && !spec.facts.announces);
    assert_eq!(
        (spec.link.period, spec.link.answer_least, spec.link.answer_most),
        (Ms::new(100.0), Ms::new(5.0), Ms::new(50.0))
    );
    assert_eq!((spec.link.pedal_identifier, spec.link.pedal_stops), (PedalIdentifier::D, PedalStops::WHOLE));
    assert_eq!(spec.facts.re_arm, facts::ReArm::TakeOver);
    assert_eq!(spec.limits, limits::Limits::stated(Kmh(40.0), crate::units::Rpm(1500.0)));
    assert_eq!(spec.runs.keys().collect::<Vec<_>>(), ["commit", "nightly", "release"]);
    assert_eq!(spec.runs["release"].random_drives, 20_000);
    assert_eq!(spec.vehicle.drag_area, known::Known::assumed(1.3, 20.0));
    assert_eq!(spec.vehicle.engine.full_load_known, known::Known::assumed(100.0, 10.0));
    assert_eq!(spec.gears(), 4);
}

/// 64 codes apart are enough, and the relative position may stop short of the whole byte.
#[test]
fn a_pedal_with_stops_of_its_own() {
    for (link, identifier, released, floored) in [
        ("pedal-stops = { released = 100, floored = 164 }", PedalIdentifier::D, 100, 164),
        ("pedal-identifier = \"e\"\npedal-stops = { released = 20 }", PedalIdentifier::E, 20, 255),
        ("pedal-identifier = \"relative\"\npedal-stops = { floored = 200 }", PedalIdentifier::Relative, 0, 200),
    ] {
        let spec = alone(&SHORT.replace("[limits]", &format!("[link]\n{link}\n[limits]"))).unwrap();
        assert_eq!(spec.link.pedal_identifier, identifier);
        assert_eq!(spec.link.pedal_stops, PedalStops { released, floored });
        assert_eq!(alone(&spec.to_toml()).unwrap(), spec);
    }
    let button = SHORT.replace("take-over = \"lever\"", "take-over = \"button\"\nre-arm = \"back-in-gate\"");
    assert_eq!(alone(&button).unwrap().facts.re_arm, facts::ReArm::BackInGate);
}

/// The map then has a line 1>2 and none back; a limit of the range or a higher lowest gear leave the box nothing to command.
#[test]
fn a_box_that_commands_out_of_first() {
    let commanded =
        SHORT.replace("lowest-gear = 2", "lowest-gear = 2\nsignals.gear = true\nout-of-first = \"commanded\"");
    let says = |text: &str, words: &str| {
        let found = errors(text);
        assert!(found.iter().any(|(_, _, message)| message.starts_with(words)), "{words}: {found:?}");
    };
    says(&commanded, "lines are missing: 1>2 ");
    let line = "lines = [\n  { from = 1, to = 2, speeds = [\"26 km/h\", \"30 km/h\"] },\n";
    let whole = commanded.replace("lines = [\n", line);
    let spec = alone(&whole).unwrap();
    assert_eq!((spec.facts.out_of_first, spec.facts.lowest_up_from()), (facts::OutOfFirst::Commanded, 1));
    assert_eq!((spec.map.up_kmh(1, 50.0), spec.map.down_kmh(2, 50.0)), (Some(28.0), None));
    assert_eq!(alone(&spec.to_toml()).unwrap(), spec);
    let by_itself = alone(SHORT).unwrap();
    assert_eq!((by_itself.facts.out_of_first, by_itself.facts.lowest_up_from()), (facts::OutOfFirst::ByItself, 2));
    says(&whole.replace("held-gear", "range-limit"), "below a range limit the gearbox goes up by itself");
    says(&whole.replace("lowest-gear = 2", "lowest-gear = 3"), "out of first it goes into second");
    says(&whole.replace("from = 1, to = 2", "from = 2, to = 1"), "the line 2>1 goes below the box's lowest gear, 2");
}

#[test]
fn every_shipped_spec_reads_and_its_resolved_form_reads_back_the_same() {
    for file in ["van.toml", "van-narrow.toml", "hatch.toml"] {
        let spec = load(&shipped(file)).unwrap_or_else(|e| panic!("{e}"));
        let text = spec.to_toml();
        assert_eq!(alone(&text).unwrap_or_else(|e| panic!("{e}\n{text}")), spec);
    }
    let spec = alone(SHORT).unwrap();
    assert_eq!(alone(&spec.to_toml()).unwrap(), spec);
}

/// The van's numbers as the demo states them; 60·3.70·3.80/(3.6·2π·0.375) = 99.45 rpm per km/h.
#[test]
fn the_demo_van_is_what_it_says() {
    let spec = load(&shipped("van.toml")).unwrap();
    assert_eq!(spec.vehicle.wheel_radius, known::Known::stated(0.375));
    assert!((spec.rpm_per_kmh(1) - 99.45).abs() < 0.01);
    assert_eq!(spec.vehicle.gearbox.gate.entry, vehicle::EntryGear::Fixed(2));
    assert_eq!(spec.facts.after_edge, facts::AfterEdge::WithinMs(1500));
    assert_eq!(spec.map.up_kmh(2, 100.0), Some(68.0));
    assert_eq!(spec.map.down_kmh(6, 0.0), Some(64.0));
    assert_eq!(spec.map.top_gear(), 6);
}

/// 13.5 mph = 13.5 · 1.609344 km/h; 195/55 R16: (406.4 + 214.5) mm · 3.05/2π = 301.4 mm.
#[test]
fn the_hatch_reads_its_map_in_mph_and_its_tyre() {
    let spec = load(&shipped("hatch.toml")).unwrap();
    assert_eq!(spec.map.speed_kmh(3, 2, 25.0), Some(13.5 * 1.609_344));
    assert!((spec.vehicle.wheel_radius.value.0 - Metre(0.3014).0).abs() < 1e-4);
    assert_eq!(spec.vehicle.drag_area.spread, Percent(5.0));
    assert_eq!(spec.facts.answers, facts::Answers::Requests { width: Ms::new(120.0), gap: Ms::new(100.0) });
    assert_eq!(spec.facts.driver_tap, facts::OnCause::PausesMs(3000));
    assert_eq!(spec.runs["commit"].top_speed, Kmh(75.0 * 1.609_344));
    assert_eq!(spec.runs["release"].top_speed, Kmh(130.0));
}

/// (what to replace, by what, line, column, first words): one wrong thing each.
const WRONG: [(&str, &str, usize, usize, &str); 57] = [
    ("format = 1", "format = 2", 1, 10, "`format` must be 1"),
    ("format = 1\n", "", 1, 1, "`format` is missing"),
    ("name = \"short\"", "name = \"\"", 2, 8, "`name` must be a text of 1 to 200"),
    ("name = \"short\"", "name = 3", 2, 8, "`name` must be a text"),
    ("take-over = \"lever\"", "take-over = \"leaver\"", 5, 13, "`take-over` must be one of: \"lever\""),
    ("take-over = \"lever\"\n", "", 3, 1, "`take-over` is missing in [box]"),
    ("driver-tap = \"disengages\"", "driver-tap = { pauses = 3 }", 6, 14, "`driver-tap` must be one of"),
    (
        "driver-tap = \"disengages\"",
        "driver-tap = { pauses-ms = -3 }",
        6,
        28,
        "`pauses-ms` must be a whole number from 0",
    ),
    ("driver-tap = \"disengages\"", "driver-tap = { pauses-ms = 3.5 }", 6, 28, "`pauses-ms` must be a whole number"),
    ("lowest-gear = 2", "lowest-gear = 1", 9, 15, "`lowest-gear` must be a whole number from 2 to 3"),
    ("lowest-gear = 2", "lowest-gear = 2\ntick = \"21 ms\"", 10, 8, "`tick` must be from 1 ms to 20 ms, not 21 ms"),
    ("lowest-gear = 2", "lowest-gear = 2\ntick = \"2.5 ms\"", 10, 8, "`tick` must be whole milliseconds, not 2.5 ms"),
    ("lowest-gear = 2", "lowest-gear = 2\nanswers = { requests = { width = \"9 ms\" } }", 10, 24, "`gap` is missing"),
    ("lowest-gear = 2", "lowest-gear = 2\nsignals = { gears = true }", 10, 13, "unknown key `gears` in [box.signals]"),
    ("lowest-gear = 2", "lowest-gear = 2\nannounces = 1", 10, 13, "`announces` must be true or false"),
    ("\"40 km/h\"\nrpm", "40\nrpm", 11, 28, "`engagement-speed-ceiling` has no unit: write a text"),
    ("\"40 km/h\"\nrpm", "\"40 kmh\"\nrpm", 11, 28, "\"kmh\" is no unit of speed"),
    ("rpm-floor = \"1500 rpm\"\n", "", 10, 1, "`rpm-floor` is missing in [limits]"),
    ("rpm-floor = \"1500 rpm\"", "rpm-floor = \"4200 rpm\"", 12, 13, "no engine speed is left between"),
    ("rpm-floor", "shortest-pulse = \"300 ms\"\nrpm-floor", 12, 18, "`shortest-pulse` (300 ms) is longer"),
    (
        "lowest-gear = 2",
        "lowest-gear = 2\nre-arm = \"back-in-gate\"",
        10,
        10,
        "a box that takes over by the lever is armed by the lever anyhow",
    ),
    (
        "lowest-gear = 2",
        "lowest-gear = 2\nout-of-first = \"commanded\"",
        10,
        16,
        "a box that commands out of first must read the `gear`",
    ),
    (
        "lowest-gear = 2",
        "lowest-gear = 2\nout-of-first = \"box\"",
        10,
        16,
        "`out-of-first` must be one of: \"by-itself\"",
    ),
    ("[limits]", "[link]\npedal-identifier = \"49\"\n[limits]", 11, 20, "`pedal-identifier` must be one of: \"d\""),
    (
        "[limits]",
        "[link]\npedal-stops = { released = 256 }\n[limits]",
        11,
        28,
        "`released` must be a whole number from 0 to 255",
    ),
    (
        "[limits]",
        "[link]\npedal-stops = { released = 200, floored = 263 }\n[limits]",
        11,
        43,
        "`floored` must be a whole number from 0 to 255",
    ),
    (
        "[limits]",
        "[link]\npedal-stops = { released = 100, floored = 163 }\n[limits]",
        11,
        43,
        "`floored` (163) must be at least 64 codes above `released` (100)",
    ),
    (
        "[limits]",
        "[link]\npedal-identifier = \"relative\"\npedal-stops = { released = 20 }\n[limits]",
        12,
        28,
        "the relative pedal position counts from the released stop: `released` must be 0",
    ),
    ("class = \"diesel-van\"", "class = \"diesel-fan\"", 15, 9, "`class` must be one of: \"light-petrol\""),
    ("mass = \"2600 kg\"", "mass = \"0 kg\"", 16, 8, "`mass` must be from 200 kg to 60000 kg, not 0 kg"),
    ("mass = \"2600 kg\"", "mass = 1e300", 16, 8, "`mass` has no unit"),
    ("mass = \"2600 kg\"", "mass = \"1e300 kg\"", 16, 8, "\"e300 kg\" is no unit of mass"),
    ("mass = \"2600 kg\"", "mas = \"2600 kg\"", 16, 1, "unknown key `mas` in [vehicle]"),
    ("mass = \"2600 kg\"", "mass = { value = \"2600 kg\", spred = \"5 %\" }", 16, 29, "unknown key `spred`"),
    (
        "mass = \"2600 kg\"",
        "mass = { value = \"2600 kg\", spread = \"60 %\" }",
        16,
        38,
        "`spread` must be from 0 % to 50 %",
    ),
    (
        "tyre = \"235/65 R16\"",
        "tyre = \"235/65 R16\"\ntowing = { mass = \"2600 kg\", drag-area = \"1.9 m2\" }",
        18,
        19,
        "`mass` (2600 kg) is that of vehicle and trailer together: more than 2600 kg",
    ),
    (
        "tyre = \"235/65 R16\"",
        "tyre = \"235/65 R16\"\ntowing = { mass = \"5500 kg\", drag-area = \"1.2 m2\" }",
        18,
        42,
        "`drag-area` is that of vehicle and trailer together: 1.3 m2 or more",
    ),
    ("tyre = \"235/65 R16\"", "tyre = \"235-65-16\"", 17, 8, "\"235-65-16\" is no tyre size"),
    ("tyre = \"235/65 R16\"", "wheel-radius = \"0 m\"", 17, 16, "`wheel-radius` must be from 0.15 m to 0.8 m"),
    ("tyre = \"235/65 R16\"\n", "", 13, 1, "neither `wheel-radius` nor `tyre`"),
    ("redline = \"4400 rpm\"", "redline = \"1100 rpm\"", 20, 11, "`redline` (1100 rpm) must be at least 500 rpm above"),
    ("power = \"127 kW\"", "power = \"227 kW\"", 21, 15, "227 kW at 3800 rpm take 570 Nm"),
    ("rated-torque", "# rated-torque", 18, 1, "`rated-torque` is missing"),
    ("rated-torque", "full-load = []\nrated-torque", 22, 13, "`full-load` is given, so"),
    ("ratios = [3.8, 2.21, 1.46, 1.08]", "ratios = [3.8, 2.21, 1.46]", 24, 10, "`ratios` has 3 entries"),
    ("ratios = [3.8, 2.21, 1.46, 1.08]", "ratios = [3.8, 2.21, 2.46, 1.08]", 24, 22, "the ratios must fall"),
    ("ratios = [3.8, 2.21, 1.46, 1.08]", "ratios = [3.8, nan, 1.46, 1.08]", 24, 16, "`ratios` must be a plain number"),
    ("ratios = [3.8, 2.21, 1.46, 1.08]", "ratios = \"3.8\"", 24, 10, "`ratios` must be a list, not a text"),
    ("entry = { fixed = 2 }", "entry = { fixed = 5 }", 28, 19, "`fixed` must be a whole number from 1 to 4"),
    ("[\"0 %\", \"100 %\"]", "[\"0 %\", \"0 %\"]", 30, 17, "pedal positions must rise: 0 % follows 0 %"),
    ("[\"20 km/h\", \"40 km/h\"]", "[\"20 km/h\"]", 34, 3, "the line 3>2 has 1 of 2 speeds"),
    ("[\"20 km/h\", \"40 km/h\"]", "[\"20 km/h\", \"300 km/h\"]", 34, 44, "`speeds` must be from 0 km/h to 255 km/h"),
    ("from = 4, to = 3", "from = 2, to = 1", 35, 3, "the line 2>1 goes below the box's lowest gear, 2"),
    ("from = 4, to = 3", "from = 1, to = 2", 35, 3, "the line 1>2 is not the box's: out of first the gearbox goes"),
    ("from = 4, to = 3", "from = 5, to = 4", 35, 3, "the line 5>4 goes beyond the vehicle's top gear, 4"),
    ("from = 4, to = 3", "from = 3, to = 2", 35, 3, "the line 3>2 is there twice"),
    ("from = 4, to = 3", "from = 4, to = 2", 35, 3, "the line 4>2 must lead to the gear above or below"),
];

#[test]
fn each_wrong_text_is_named_at_its_place() {
    let mut missed = Vec::new();
    for (right, wrong, line, column, words) in WRONG {
        assert_eq!(SHORT.matches(right).count(), 1, "{right}");
        let found = errors(&SHORT.replace(right, wrong));
        let hit = found.iter().any(|(l, c, m)| (*l, *c) == (line, column) && m.starts_with(words));
        if !hit {
            missed.push(format!("{wrong:?} should give {line}:{column} {words}; it gives {found:?}"));
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

#[test]
fn several_errors_in_one_file_all_appear_in_order_and_nothing_else() {
    let text = SHORT
        .replace("lowest-gear = 2", "lowest-gear = 2\ncolour = \"red\"")
        .replace("\"40 km/h\"\nrpm", "40\nrpm")
        .replace("mass = \"2600 kg\"", "mas = \"2600 kg\"")
        .replace("redline = \"4400 rpm\"", "redline = \"4400 Nm\"");
    let found: Vec<(usize, usize)> = errors(&text).into_iter().map(|(line, column, _)| (line, column)).collect();
    // Unknown colour, bare number, [vehicle] without mass, unknown mas, bad unit.
    assert_eq!(found, [(10, 1), (12, 28), (14, 1), (17, 1), (21, 11)]);
}

#[test]
fn several_syntax_errors_appear_at_once() {
    let found = errors("format = 1\na = \nb = [1,\nc = = 2\n");
    assert!(found.len() >= 2, "{found:?}");
    assert_eq!(found[0].0, 2);
}

#[test]
fn a_spec_in_a_drive_file_names_no_other_files() {
    let start = SHORT.find("[map]").unwrap();
    let text = format!("map = \"m.csv\"\n{}", &SHORT[..start]);
    let found = errors(&text);
    assert_eq!(found, [(1, 7, "m.csv: a spec inside a drive file must not name other files".to_owned())]);
    for name in ["/etc/m.csv", "m.exe", "m.csv\\u0000"] {
        assert!(errors(&text.replace("m.csv", name))[0].2.starts_with("`map` must name a .csv or .toml file"));
    }
}

#[test]
fn errors_of_a_named_file_show_that_file_and_nothing_hides_the_others() {
    let start = SHORT.find("[map]").unwrap();
    let text = format!("map = \"maps/m.csv\"\n{}", SHORT[..start].replace("2600 kg", "2600"));
    let csv = "% / km/h,2>3,3>2\n0,40,20\n100,6o,40\n";
    let found = parse(&text, "specs/s.toml", &mut |name| {
        assert_eq!(name, "maps/m.csv");
        Ok(csv.to_owned())
    })
    .unwrap_err();
    let places: Vec<_> = found.lines.iter().map(|e| (e.file.as_str(), e.line, e.column)).collect();
    assert_eq!(places, [("specs/s.toml", 17, 8), ("specs/maps/m.csv", 3, 5)]);
    assert!(found.to_string().contains("specs/maps/m.csv:3:5"));
}

#[test]
fn missing_lines_are_named() {
    let text = SHORT.replace("  { from = 4, to = 3, speeds = [\"40 km/h\", \"60 km/h\"] },\n", "");
    assert_eq!(errors(&text), [(29, 1, "lines are missing: 4>3 (the box commands gears 2 to 4)".to_owned())]);
}

#[test]
fn a_missing_file_and_a_folder_are_said_in_a_sentence() {
    let missing = load(&shipped("nothing.toml")).unwrap_err().to_string();
    assert!(missing.contains("the file can't be read") && missing.contains("nothing.toml"), "{missing}");
    assert!(load(&shipped("maps")).unwrap_err().to_string().contains("this is no file"));
}

#[test]
fn a_file_of_more_than_a_mebibyte_is_refused() {
    let text = format!("{SHORT}# {}", "x".repeat(LARGEST_FILE));
    assert_eq!(errors(&text), [(1, 1, "the file is larger than 1 MiB".to_owned())]);
}

/// Whatever a text holds, reading it ends with a spec or with errors that can be shown.
#[test]
fn no_damage_to_a_text_makes_the_reader_panic() {
    let map = "% / km/h;2>3;3>2\r\n0;40,5;20\r\n100;\"60\";40\r\n";
    for damage in ["", "\"", "'", "\n", "[", "}", "=", ",", ";", "9", "é", "\u{feff}", "\0", ">"] {
        for at in 0..SHORT.len() {
            let text = format!("{}{damage}{}", &SHORT[..at], SHORT.get(at + 1..).unwrap_or(""));
            if let Err(errors) = alone(&text) {
                assert!(!errors.lines.is_empty() && !errors.to_string().is_empty());
            }
        }
        for at in 0..map.len() {
            for text in [format!("{}{damage}{}", &map[..at], &map[at + 1..]), format!("{}{damage}", &map[..at])] {
                if let Err(errors) = parse_map_csv(&text, "m.csv", 6) {
                    assert!(!errors.to_string().is_empty());
                }
            }
        }
    }
}

/// What is filled in lies within what may be stated, at the far ends too.
#[test]
fn the_far_ends_of_what_may_be_stated_read_back() {
    let ends = [("5 kW", "15000 rpm", "10 Nm", "400 rpm"), ("2000 kW", "2000 rpm", "10000 Nm", "1999 rpm")];
    for class in ["light-petrol", "diesel-van", "heavy-diesel"] {
        for (power, at, torque, from) in ends {
            let text = SHORT
                .replace("diesel-van", class)
                .replace("127 kW", power)
                .replace("3800 rpm", at)
                .replace("400 Nm", torque)
                .replace("1750 rpm", from)
                .replace("750 rpm", "300 rpm")
                .replace("4400 rpm", "15000 rpm");
            let spec = alone(&text).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(alone(&spec.to_toml()).unwrap_or_else(|e| panic!("{e}")), spec);
        }
    }
}

/// On paper, by n = v·(rpm per km/h): upshifts land at the floor or above, downshifts below the redline's guard.
#[test]
fn the_lines_of_the_shipped_maps_land_within_the_limits() {
    for file in ["van.toml", "van-narrow.toml", "hatch.toml"] {
        let spec = load(&shipped(file)).unwrap();
        let most = spec.vehicle.engine.redline.get() - spec.limits.redline_guard.0;
        for line in &spec.map.lines {
            for speed in &line.speeds {
                let landing_rpm = speed.0 * spec.rpm_per_kmh(line.to);
                assert!(line.to < line.from || landing_rpm >= spec.limits.rpm_floor.0, "{file} {line:?}");
                assert!(landing_rpm <= most, "{file} {line:?}");
            }
        }
    }
}

#[test]
fn hostile_texts_end_in_errors() {
    let many_keys: String = (0..20_000).map(|n| format!("k{n} = 1\n")).collect();
    for text in [
        format!("a = {}", "[".repeat(200_000)),
        format!("a = {}", "{a=".repeat(100_000)),
        format!("{}a = 1", "a.".repeat(100_000)),
        format!("[{}a]", "a.".repeat(100_000)),
        format!("format = 1\n{many_keys}"),
        format!("format = {}", "9".repeat(100_000)),
        "\u{feff}format = 2".to_owned(),
    ] {
        let errors = alone(&text).unwrap_err();
        assert!(errors.lines.len() <= 61 && errors.to_string().len() < 100_000);
    }
}
