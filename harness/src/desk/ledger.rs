//! Where a check writes what it finds: of each cell of the map the worst only.

use super::paper::Paper;
use crate::spec::written::Written;
use std::collections::BTreeMap;

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Good to know.
    Reported,
    /// Look at it.
    Warns,
    /// The map is at fault.
    Fails,
}

impl Severity {
    /// The word on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Reported => "reported",
            Self::Warns => "warns",
            Self::Fails => "fails",
        }
    }
}

/// A speed that would cure a finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cure {
    /// The gear left.
    pub from: u8,
    /// The gear entered.
    pub to: u8,
    /// Which of the map's pedal positions.
    pub position: usize,
    /// The speed, in the maker's unit.
    pub speed: Written,
    /// The cell's speed goes up.
    pub raises: bool,
}

/// Something a check found.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Number of the check.
    pub check: u8,
    /// How grave.
    pub severity: Severity,
    /// The line, by the gear left and the gear entered.
    pub line: (u8, u8),
    /// Which of the map's pedal positions.
    pub position: usize,
    /// Where in the file; empty where there is none.
    pub place: String,
    /// What is wrong.
    pub says: String,
    /// What would cure it.
    pub cures: Vec<Cure>,
    /// Speed (km/h) and pedal (%) at which it happens.
    pub spot: Option<(f64, f64)>,
}

/// A point on a line, and the cell that is to blame.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    /// The line.
    pub line: (u8, u8),
    /// The cell: which of the map's pedal positions.
    pub position: usize,
    /// Speed at which it happens, km/h.
    pub kmh: f64,
    /// Pedal at which it happens, %.
    pub pct: f64,
}

/// What one check writes down.
pub struct Ledger<'p, 's> {
    paper: &'p Paper<'s>,
    check: u8,
    exercised: bool,
    worst: Option<(f64, String)>,
    /// By line and cell, with the margin.
    found: BTreeMap<(u8, u8, usize), (f64, Finding)>,
    general: Vec<Finding>,
}

/// A margin this little below 0 is rounding, not a fault of the map.
pub const SLACK: f64 = 1e-9;

impl<'p, 's> Ledger<'p, 's> {
    /// An empty one.
    pub fn new(paper: &'p Paper<'s>, check: u8) -> Self {
        Self { paper, check, exercised: false, worst: None, found: BTreeMap::new(), general: Vec::new() }
    }

    /// Something was looked at; the figure with the smallest rank is the worst one.
    pub fn figure(&mut self, rank: f64, text: impl FnOnce() -> String) {
        self.exercised = true;
        if self.worst.as_ref().is_none_or(|(worst, _)| rank < *worst) {
            self.worst = Some((rank, text()));
        }
    }

    /// Notes a finding at a cell, unless a worse one stands there.
    pub fn find(
        &mut self,
        severity: Severity,
        spot: Spot,
        margin: f64,
        says: impl FnOnce() -> String,
        cures: impl FnOnce() -> Vec<Cure>,
    ) {
        let Spot { line, position, kmh, pct } = spot;
        let key = (line.0, line.1, position);
        let worse = self.found.get(&key).is_none_or(|(old, finding)| {
            (severity, std::cmp::Reverse(Order(margin))) > (finding.severity, std::cmp::Reverse(Order(*old)))
        });
        if worse {
            let place = self.paper.written.and_then(|w| w.place(line.0, line.1, position)).unwrap_or_default();
            let finding = Finding {
                check: self.check,
                severity,
                line,
                position,
                place,
                says: says(),
                cures: cures(),
                spot: Some((kmh, pct)),
            };
            self.found.insert(key, (margin, finding));
        }
    }

    /// Notes a finding about the whole map.
    pub fn say(&mut self, severity: Severity, says: String) {
        self.exercised = true;
        let place = self.paper.written.map_or(String::new(), |w| w.file.clone());
        self.general.push(Finding {
            check: self.check,
            severity,
            line: (0, 0),
            position: 0,
            place,
            says,
            cures: Vec::new(),
            spot: None,
        });
    }

    /// Whether anything was looked at, the worst figure, all findings.
    pub fn close(self) -> (bool, String, Vec<Finding>) {
        let worst = self.worst.map_or(String::new(), |(_, text)| text);
        let findings = self.general.into_iter().chain(self.found.into_values().map(|(_, finding)| finding));
        (self.exercised, worst, findings.collect())
    }
}

/// A margin in total order.
#[derive(PartialEq)]
struct Order(f64);

impl Eq for Order {}

impl PartialOrd for Order {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Order {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

impl Paper<'_> {
    /// Raises a cell to a speed at least.
    pub fn raise(&self, (from, to): (u8, u8), position: usize, kmh: f64) -> Option<Cure> {
        let speed = self.grid(from, to, position).at_or_above(kmh);
        (speed.kmh() <= 255.0).then_some(Cure { from, to, position, speed, raises: true })
    }

    /// Raises a cell above a speed.
    pub fn raise_above(&self, line: (u8, u8), position: usize, kmh: f64) -> Option<Cure> {
        let mut cure = self.raise(line, position, kmh)?;
        if cure.speed.kmh() <= kmh {
            cure.speed.steps += 1;
        }
        (cure.speed.kmh() <= 255.0).then_some(cure)
    }

    /// Lowers a cell to a speed at most.
    pub fn lower(&self, (from, to): (u8, u8), position: usize, kmh: f64) -> Option<Cure> {
        let speed = self.grid(from, to, position).at_or_below(kmh);
        (speed.steps >= 0).then_some(Cure { from, to, position, speed, raises: false })
    }

    /// Lowers a cell below a speed.
    pub fn lower_below(&self, line: (u8, u8), position: usize, kmh: f64) -> Option<Cure> {
        let mut cure = self.lower(line, position, kmh)?;
        if cure.speed.kmh() >= kmh {
            cure.speed.steps -= 1;
        }
        (cure.speed.steps >= 0).then_some(cure)
    }

    /// The cells around a pedal that have a say in the speed read there, and their speeds.
    pub fn cells(&self, line: (u8, u8), pct: f64) -> Vec<(usize, f64)> {
        let around = self.around(pct).into_iter().filter(|(_, share)| *share > 0.0);
        around.filter_map(|(position, _)| Some((position, self.at(line.0, line.1, position)?))).collect()
    }
}

/// "1,442".
pub fn whole(value: f64) -> String {
    let rounded = (value + 0.5).floor();
    let digits = format!("{:.0}", rounded.abs());
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    if rounded < 0.0 { format!("-{text}") } else { text }
}
