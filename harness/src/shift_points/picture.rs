//! The measured points over the map's lines, as one static SVG: speed across, pedal up.

use super::{Ceiling, Found, Measured, Point};
use crate::signal::Direction;
use crate::spec::Spec;
use std::fmt::Write;

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 600.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 24.0;
const TOP: f64 = 92.0;
const BOTTOM: f64 = 56.0;
/// Labels above the lines stay this far apart.
const LABEL_APART: f64 = 34.0;

/// The label of the ceiling is about this long.
const CEILING_LABEL: f64 = 190.0;

const UP: &str = "#1b5e9b";
const DOWN: &str = "#b3620a";
const WRONG: &str = "#c4161c";
const INK: &str = "#222";
const FAINT: &str = "#ddd";

/// From speed and pedal to the paper.
struct Paper {
    most_kmh: f64,
}

impl Paper {
    fn x(&self, kmh: f64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * (kmh / self.most_kmh).clamp(0.0, 1.0)
    }

    fn y(pct: f64) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * pct / 100.0
    }
}

/// The picture.
#[must_use]
pub fn svg(spec: &Spec, measured: &Measured) -> String {
    let lines = spec.map.lines.iter().flat_map(|l| l.speeds.iter().map(|v| v.0));
    let fastest = measured.points.iter().filter_map(read_kmh).chain(lines).fold(0.0, f64::max);
    let paper = Paper { most_kmh: ((fastest / 20.0).floor() + 1.0) * 20.0 };
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{HEIGHT}\" \
         viewBox=\"0 0 {WIDTH} {HEIGHT}\" font-family=\"sans-serif\" font-size=\"13\" fill=\"{INK}\">\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#fff\"/>\n"
    );
    title(spec, measured, &mut out);
    axes(&paper, &mut out);
    ceiling(&paper, measured, &mut out);
    for line in super::lines(spec) {
        let way = if line.to > line.from { Direction::Up } else { Direction::Down };
        let points: Vec<String> = spec
            .map
            .pedal
            .iter()
            .zip(&line.speeds)
            .map(|(p, v)| format!("{:.1},{:.1}", paper.x(v.0), Paper::y(p.0)))
            .collect();
        let dashes = if way == Direction::Up { "" } else { " stroke-dasharray=\"6 4\"" };
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"1.4\"{dashes}/>",
            points.join(" "),
            colour(way)
        );
    }
    labels(spec, &paper, &mut out);
    for point in &measured.points {
        mark(&paper, point, &mut out);
    }
    out.push_str("</svg>\n");
    out
}

fn colour(way: Direction) -> &'static str {
    if way == Direction::Up { UP } else { DOWN }
}

fn read_kmh(point: &Point) -> Option<f64> {
    match &point.found {
        Found::Shifted(shifted) => Some(shifted.read_kmh),
        Found::NoCommand(kmh) | Found::OtherWay(kmh) => Some(*kmh),
        Found::NotReached(_) | Found::Silent(_) => None,
    }
}

fn title(spec: &Spec, measured: &Measured, out: &mut String) {
    let names = format!("Shift points of {} over the map of spec {}", measured.controller, spec.name);
    let _ = writeln!(out, "<text x=\"{LEFT}\" y=\"24\" font-size=\"16\">{}</text>", escaped(&names));
    let broken = measured.points.iter().any(Point::broken);
    let missing = measured.points.iter().any(|p| read_kmh(p).is_none());
    let dot = |x: f64, colour| format!("<circle cx=\"{x}\" cy=\"42\" r=\"4\" fill=\"{colour}\"/>");
    type Sign<'a> = (bool, &'a dyn Fn(f64) -> String, &'a str);
    let legend: [Sign<'_>; 4] = [
        (true, &|x| dot(x, UP), "up: line and measured"),
        (true, &|x| dot(x, DOWN), "down: line and measured"),
        (broken, &|x| dot(x, WRONG), "beyond the tolerance"),
        (missing, &|x| cross(x, 42.0), "not reached"),
    ];
    let mut x = LEFT + 5.0;
    for (_, sign, says) in legend.into_iter().filter(|(shown, _, _)| *shown) {
        let _ = writeln!(out, "{}<text x=\"{}\" y=\"46\">{says}</text>", sign(x), x + 10.0);
        x += 210.0;
    }
}

fn axes(paper: &Paper, out: &mut String) {
    let (floor, roof) = (Paper::y(0.0), Paper::y(100.0));
    let mut kmh = 0.0;
    while kmh <= paper.most_kmh {
        let x = paper.x(kmh);
        let _ = writeln!(out, "<path d=\"M{x:.1} {floor:.1}V{roof:.1}\" stroke=\"{FAINT}\"/>");
        let _ = writeln!(out, "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{kmh}</text>", floor + 18.0);
        kmh += 20.0;
    }
    for pct in [0.0, 20.0, 40.0, 60.0, 80.0, 100.0] {
        let y = Paper::y(pct);
        let _ = writeln!(out, "<path d=\"M{LEFT} {y:.1}H{}\" stroke=\"{FAINT}\"/>", WIDTH - RIGHT);
        let _ = writeln!(out, "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{pct}</text>", LEFT - 8.0, y + 4.0);
    }
    let middle = (LEFT + WIDTH - RIGHT) / 2.0;
    let _ =
        writeln!(out, "<text x=\"{middle}\" y=\"{}\" text-anchor=\"middle\">speed read, km/h</text>", HEIGHT - 14.0);
    let y = (floor + roof) / 2.0;
    let _ = writeln!(
        out,
        "<text x=\"18\" y=\"{y}\" text-anchor=\"middle\" transform=\"rotate(-90 18 {y})\">pedal, %</text>"
    );
}

fn ceiling(paper: &Paper, measured: &Measured, out: &mut String) {
    let Some(Ceiling::UpTo(read)) = measured.ceiling else { return };
    let x = paper.x(f64::from(read));
    let (floor, roof) = (Paper::y(0.0), Paper::y(100.0));
    let _ = writeln!(out, "<path d=\"M{x:.1} {floor:.1}V{roof:.1}\" stroke=\"#2e7d32\" stroke-dasharray=\"2 4\"/>");
    let (beside, anchor) = if x > LEFT + CEILING_LABEL { (x - 6.0, "end") } else { (x + 6.0, "start") };
    let _ = writeln!(
        out,
        "<text x=\"{beside:.1}\" y=\"{:.1}\" fill=\"#2e7d32\" text-anchor=\"{anchor}\">engages up to {read} km/h read</text>",
        Paper::y(94.0)
    );
}

/// Up lines in the upper row, down lines in the lower one, above the end of each line.
fn labels(spec: &Spec, paper: &Paper, out: &mut String) {
    for (way, y) in [(Direction::Up, TOP - 24.0), (Direction::Down, TOP - 8.0)] {
        let mut ends: Vec<(f64, u8, u8)> = super::lines(spec)
            .filter(|l| (l.to > l.from) == (way == Direction::Up))
            .filter_map(|l| Some((paper.x(l.speeds.last()?.0), l.from, l.to)))
            .collect();
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut least = 0.0;
        for (x, from, to) in ends {
            let x = x.max(least);
            least = x + LABEL_APART;
            let _ = writeln!(
                out,
                "<text x=\"{x:.1}\" y=\"{y}\" text-anchor=\"middle\" fill=\"{}\">{from}&gt;{to}</text>",
                colour(way)
            );
        }
    }
}

fn mark(paper: &Paper, point: &Point, out: &mut String) {
    let (x, y) = (paper.x(point.line_kmh), Paper::y(point.at.pedal_pct()));
    let Some(read) = read_kmh(point) else {
        let _ = writeln!(out, "{}", cross(x, y));
        return;
    };
    let at = paper.x(read);
    let fill = if point.broken() { WRONG } else { colour(point.at.way()) };
    if point.broken() {
        let _ = writeln!(out, "<path d=\"M{x:.1} {y:.1}H{at:.1}\" stroke=\"{WRONG}\" stroke-width=\"1.4\"/>");
    }
    let _ = writeln!(out, "<circle cx=\"{at:.1}\" cy=\"{y:.1}\" r=\"3\" fill=\"{fill}\"/>");
}

fn cross(x: f64, y: f64) -> String {
    let arm = 3.5;
    format!(
        "<path d=\"M{:.1} {:.1}L{:.1} {:.1}M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"#777\" stroke-width=\"1.4\"/>",
        x - arm,
        y - arm,
        x + arm,
        y + arm,
        x - arm,
        y + arm,
        x + arm,
        y - arm
    )
}

fn escaped(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control())
        .collect::<String>()
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
