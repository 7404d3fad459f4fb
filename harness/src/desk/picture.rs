//! The map as a picture: plain SVG without scripts, readable in black and white, the same bytes for the same map.

use super::CHECKS;
use super::Desk;
use super::Finding;
use super::Severity;
use super::ledger::whole;
use crate::spec::Spec;
use std::collections::BTreeMap;
use std::fmt::Write;

/// The plot's edges, in pixels.
const LEFT: f64 = 64.0;
const RIGHT: f64 = 936.0;
const TOP: f64 = 112.0;
const BOTTOM: f64 = 552.0;
const WIDTH: f64 = 960.0;
/// Height of a row of text.
const ROW: f64 = 18.0;
/// Labels of one row keep this far apart.
const LABELS_APART: f64 = 30.0;
/// Trouble spots nearer than this are one mark.
const MARKS_APART: f64 = 17.0;

/// Line colours: dark, and each with its own label, so that none is needed to read the picture.
const INKS: [&str; 6] = ["#1b4f72", "#7b241c", "#145a32", "#4a235a", "#6e4b00", "#17202a"];

/// Speed to x and pedal to y.
struct Scale {
    most_kmh: f64,
}

impl Scale {
    fn x(&self, kmh: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * kmh / self.most_kmh
    }

    fn y(pct: f64) -> f64 {
        BOTTOM - (BOTTOM - TOP) * pct / 100.0
    }
}

/// The picture of a map with its trouble spots: speed to the right, pedal upwards.
#[must_use]
pub fn svg(spec: &Spec, desk: &Desk) -> String {
    let highest = spec.map.lines.iter().flat_map(|l| &l.speeds).map(|s| s.0).fold(60.0, f64::max);
    let scale = Scale { most_kmh: ((highest + 8.0) / 20.0).ceil() * 20.0 };
    let troubled: Vec<&super::Row> = desk.rows.iter().filter(|r| r.gravest >= Some(Severity::Warns)).collect();
    let height = BOTTOM + 84.0 + ROW * (1.0 + troubled.len().max(5) as f64);
    let mut out = String::new();
    head(&mut out, spec, desk, height);
    grid(&mut out, &scale);
    limits(&mut out, spec, &scale);
    lines(&mut out, spec, &scale);
    marks(&mut out, desk, &scale);
    legend(&mut out, spec, &troubled);
    out.push_str("</svg>\n");
    out
}

/// A text as XML takes it.
fn escaped(text: &str) -> String {
    let plain = text.chars().map(|c| if c.is_control() { ' ' } else { c });
    plain.fold(String::new(), |mut out, c| {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
        out
    })
}

/// Writing to a text never fails.
macro_rules! put {
    ($out:expr, $($arg:tt)*) => {
        let _ = writeln!($out, $($arg)*);
    };
}

fn head(out: &mut String, spec: &Spec, desk: &Desk, height: f64) {
    let name = escaped(&spec.name);
    put!(out, r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" "#);
    put!(out, r#"  aria-labelledby="title desc" font-family="sans-serif" font-size="12" fill="black">"#);
    put!(out, r#"<title id="title">Shift map of {name}</title>"#);
    let say = |r: &super::Row| format!("{} {}", r.check.name, r.word());
    let troubles: Vec<String> = desk.rows.iter().filter(|r| r.gravest >= Some(Severity::Warns)).map(say).collect();
    let troubles = if troubles.is_empty() { "no check fails or warns".to_owned() } else { troubles.join(", ") };
    put!(
        out,
        r#"<desc id="desc">Road speed to the right, pedal upwards. {} shift lines; upshifts solid, downshifts dashed. {}.</desc>"#,
        spec.map.lines.len(),
        escaped(&troubles)
    );
    put!(out, r#"<rect width="{WIDTH}" height="{height}" fill="white"/>"#);
    put!(out, r#"<text x="{LEFT}" y="26" font-size="16" font-weight="bold">Shift map of {name}</text>"#);
}

fn grid(out: &mut String, scale: &Scale) {
    put!(out, r##"<g stroke="#d5d5d5" stroke-width="1">"##);
    let tens = (scale.most_kmh / 20.0) as u32;
    for n in 0..=tens {
        let x = scale.x(f64::from(n) * 20.0);
        put!(out, r#"<line x1="{x:.1}" y1="{TOP}" x2="{x:.1}" y2="{BOTTOM}"/>"#);
    }
    for n in 0..=5 {
        let y = Scale::y(f64::from(n) * 20.0);
        put!(out, r#"<line x1="{LEFT}" y1="{y:.1}" x2="{RIGHT}" y2="{y:.1}"/>"#);
    }
    put!(out, "</g>");
    for n in 0..=tens {
        let kmh = f64::from(n) * 20.0;
        put!(out, r#"<text x="{:.1}" y="{}" text-anchor="middle">{kmh}</text>"#, scale.x(kmh), BOTTOM + 16.0);
    }
    for n in 0..=5 {
        let pct = f64::from(n) * 20.0;
        put!(out, r#"<text x="{}" y="{:.1}" text-anchor="end">{pct} %</text>"#, LEFT - 6.0, Scale::y(pct) + 4.0);
    }
    put!(out, r#"<text x="{RIGHT}" y="{}" text-anchor="end">road speed, km/h</text>"#, BOTTOM + 52.0);
    let middle = (TOP + BOTTOM) / 2.0;
    put!(out, r#"<text x="16" y="{middle}" text-anchor="middle" transform="rotate(-90 16 {middle})">pedal</text>"#);
}

/// Where upshifts would land on the rpm floor, and where each gear reaches the redline.
fn limits(out: &mut String, spec: &Spec, scale: &Scale) {
    let top = spec.map.top_gear().min(spec.gears());
    let gears = spec.facts.lowest_up_from().max(1)..top;
    let draw = |out: &mut String, dashes: &str, y: f64, all: Vec<(f64, String)>| {
        let shown: Vec<(f64, String)> = all.into_iter().filter(|(kmh, _)| *kmh <= scale.most_kmh).collect();
        for (kmh, _) in &shown {
            let x = scale.x(*kmh);
            put!(
                out,
                r##"<line x1="{x:.1}" y1="{TOP}" x2="{x:.1}" y2="{BOTTOM}" stroke="#555555" stroke-width="1" stroke-dasharray="{dashes}"/>"##
            );
        }
        labels(
            out,
            y,
            shown.into_iter().map(|(kmh, text)| (scale.x(kmh), text, "#333333")).collect(),
            2.0 * LABELS_APART,
        );
    };
    let floor = spec.limits.rpm_floor.0;
    let floors = gears.clone().map(|g| (floor / spec.rpm_per_kmh(g + 1), format!("floor {}>{}", g, g + 1)));
    draw(out, "2 4", BOTTOM + 32.0, floors.collect());
    let redline = spec.vehicle.engine.redline.get();
    let redlines = gears.map(|g| (redline / spec.rpm_per_kmh(g), format!("redline in {g}")));
    draw(out, "8 3 1 3", TOP - 50.0, redlines.collect());
}

/// Labels of one row, moved to the right where they would meet.
fn labels(out: &mut String, y: f64, mut all: Vec<(f64, String, &str)>, apart: f64) {
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut least = 0.0;
    for (x, text, ink) in all {
        let x = f64::max(x, least);
        least = x + apart;
        put!(
            out,
            r#"<text x="{x:.1}" y="{y}" text-anchor="middle" fill="{ink}" font-size="11">{}</text>"#,
            escaped(&text)
        );
    }
}

fn ink(gear: u8) -> &'static str {
    INKS.get(usize::from(gear) % INKS.len()).copied().unwrap_or("black")
}

fn lines(out: &mut String, spec: &Spec, scale: &Scale) {
    let (mut ups, mut downs) = (Vec::new(), Vec::new());
    for line in &spec.map.lines {
        let points = line.speeds.iter().zip(&spec.map.pedal);
        let points: Vec<String> = points.map(|(v, p)| format!("{:.1},{:.1}", scale.x(v.0), Scale::y(p.0))).collect();
        let up = line.to > line.from;
        let ink = ink(line.from.min(line.to));
        let dashes = if up { "" } else { r#" stroke-dasharray="7 4""# };
        put!(out, r#"<polyline points="{}" fill="none" stroke="{ink}" stroke-width="2"{dashes}/>"#, points.join(" "));
        if let Some(last) = line.speeds.last() {
            let label = (scale.x(last.0), format!("{}>{}", line.from, line.to), ink);
            if up { ups.push(label) } else { downs.push(label) }
        }
    }
    labels(out, TOP - 14.0, ups, LABELS_APART);
    labels(out, TOP - 30.0, downs, LABELS_APART);
}

/// A mark for all trouble spots that lie together, with the numbers of their checks.
fn marks(out: &mut String, desk: &Desk, scale: &Scale) {
    let mut marks: Vec<(f64, f64, BTreeMap<u8, Severity>)> = Vec::new();
    let troubles = desk.findings.iter().filter(|f| f.severity >= Severity::Warns);
    for Finding { spot, check, severity, .. } in troubles {
        let Some((kmh, pct)) = *spot else { continue };
        let (x, y) = (scale.x(kmh), Scale::y(pct));
        let near = |m: &&mut (f64, f64, _)| (m.0 - x).abs() < MARKS_APART && (m.1 - y).abs() < MARKS_APART;
        let numbers = match marks.iter_mut().find(near) {
            Some((_, _, numbers)) => numbers,
            None => {
                marks.push((x, y, BTreeMap::new()));
                let Some((_, _, numbers)) = marks.last_mut() else { continue };
                numbers
            }
        };
        let worst = numbers.entry(*check).or_insert(*severity);
        *worst = (*worst).max(*severity);
    }
    for (x, y, numbers) in marks {
        let fails = numbers.values().any(|s| *s == Severity::Fails);
        let text: Vec<String> = numbers.keys().map(u8::to_string).collect();
        let text = text.join(" ");
        let half = 5.0 + 3.4 * text.len() as f64;
        let (fill, letters) = if fails { ("black", "white") } else { ("white", "black") };
        put!(
            out,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="16" rx="8" fill="{fill}" stroke="black"/>"#,
            x - half,
            y - 8.0,
            2.0 * half
        );
        put!(
            out,
            r#"<text x="{x:.1}" y="{:.1}" text-anchor="middle" font-size="11" font-weight="bold" fill="{letters}">{text}</text>"#,
            y + 4.0
        );
    }
}

/// What the strokes mean, and which checks the numbers in the marks are.
fn legend(out: &mut String, spec: &Spec, troubled: &[&super::Row]) {
    let from = BOTTOM + 84.0;
    let floor = format!("an upshift further left lands below {} rpm", whole(spec.limits.rpm_floor.0));
    let redline = format!("the gear reaches the redline, {} rpm", whole(spec.vehicle.engine.redline.get()));
    let strokes = [
        ("", "2", "upshift, labelled above the plot".to_owned()),
        ("7 4", "2", "downshift, labelled one row higher".to_owned()),
        ("2 4", "1", floor),
        ("8 3 1 3", "1", redline),
    ];
    for (row, (dashes, width, text)) in strokes.into_iter().enumerate() {
        let y = from + ROW * row as f64;
        put!(
            out,
            r#"<line x1="{LEFT}" y1="{}" x2="{}" y2="{}" stroke="black" stroke-width="{width}" stroke-dasharray="{dashes}"/>"#,
            y - 4.0,
            LEFT + 44.0,
            y - 4.0
        );
        put!(out, r#"<text x="{}" y="{y}">{}</text>"#, LEFT + 52.0, escaped(&text));
    }
    let x = (LEFT + RIGHT) / 2.0;
    if troubled.is_empty() {
        put!(out, r#"<text x="{x}" y="{from}">No check fails or warns.</text>"#);
    }
    for (row, trouble) in troubled.iter().enumerate() {
        let y = from + ROW * row as f64;
        let name = CHECKS.iter().find(|c| c.number == trouble.check.number).map_or("", |c| c.name);
        put!(
            out,
            r#"<text x="{x}" y="{y}">{} {}: {} ({} mark)</text>"#,
            trouble.check.number,
            escaped(name),
            trouble.word(),
            if trouble.gravest == Some(Severity::Fails) { "black" } else { "white" }
        );
    }
}
