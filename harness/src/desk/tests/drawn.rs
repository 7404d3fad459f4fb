//! The picture.

use super::super::check;
use super::super::svg;
use super::path;
use crate::spec::load_written;

fn drawn(name: &str) -> String {
    let (spec, written) = load_written(&path(name)).unwrap();
    svg(&spec, &check(&spec, Some(&written)))
}

#[test]
fn the_picture_is_well_formed_named_and_static() {
    for name in ["van.toml", "van-narrow.toml", "hatch.toml"] {
        let text = drawn(name);
        let mut reader = quick_xml::Reader::from_str(&text);
        let mut names = std::collections::BTreeMap::new();
        loop {
            match reader.read_event().unwrap() {
                quick_xml::events::Event::Eof => break,
                quick_xml::events::Event::Start(e) | quick_xml::events::Event::Empty(e) => {
                    let name = String::from_utf8(e.name().as_ref().to_vec()).unwrap();
                    *names.entry(name).or_insert(0) += 1;
                }
                _ => {}
            }
        }
        // Four pairs of lines each.
        assert_eq!((names["polyline"], names["title"], names["desc"]), (8, 1, 1), "{name}");
        assert!(!names.contains_key("script") && !text.contains("href") && !text.contains("NaN"));
        assert_eq!(text, drawn(name));
    }
}

#[test]
fn every_line_and_every_trouble_is_named_without_colour() {
    let text = drawn("van-narrow.toml");
    for part in [
        ">2&gt;3<",
        ">3&gt;2<",
        ">5&gt;6<",
        ">6&gt;5<",
        ">floor 2&gt;3<",
        ">redline in 2<",
        "stroke-dasharray=\"7 4\"",
        ">5 equal-force gap: fails (black mark)<",
        "below 1,500 rpm",
        "4,400 rpm",
        "equal-force gap fails",
    ] {
        assert!(text.contains(part), "{part}");
    }
}

#[test]
fn a_name_is_shown_as_it_is() {
    let (mut spec, _) = load_written(&path("van.toml")).unwrap();
    spec.name = "a<b> & \"c\"".into();
    let text = svg(&spec, &check(&spec, None));
    assert!(text.contains("Shift map of a&lt;b&gt; &amp; &quot;c&quot;<"));
}
