//! The map on paper: what a shift map and its vehicle say before anything is driven.
//!
//! Fifteen checks, each at all 256 pedal codes. What fails carries its place in the map's file and the speed that would
//! cure it, rounded outward on the maker's own grid; `cure` puts all of them in.

mod cure;
mod equal_force;
mod force;
mod gaps;
mod ledger;
mod paper;
mod path;
mod picture;
mod revs;
mod shape;
mod table;
#[cfg(test)]
mod tests;
mod units;

pub use cure::Cured;
pub use cure::cure;
pub use equal_force::EqualForce;
pub use equal_force::equal_force;
pub use ledger::Cure;
pub use ledger::Finding;
pub use ledger::Severity;
pub use picture::svg;
pub use table::CHECKS;
pub use table::Check;

use crate::spec::Spec;
use crate::spec::written::WrittenMap;
use ledger::Ledger;
use paper::Paper;

/// What became of one check.
#[derive(Debug, Clone)]
pub struct Row {
    /// The check.
    pub check: &'static Check,
    /// The gravest of its findings; `None` where it kept.
    pub gravest: Option<Severity>,
    /// The map gave it something to look at.
    pub exercised: bool,
    /// Its worst figure, and where.
    pub worst: String,
}

impl Row {
    /// The word on screen.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self.gravest {
            Some(severity) => severity.word(),
            None if self.exercised => "kept",
            None => "not reached",
        }
    }
}

/// All that the checks say.
#[derive(Debug, Clone)]
pub struct Desk {
    /// One row a check.
    pub rows: Vec<Row>,
    /// What they found, the gravest first, then by check, gear and pedal.
    pub findings: Vec<Finding>,
}

impl Desk {
    /// Something fails.
    #[must_use]
    pub fn fails(&self) -> bool {
        self.rows.iter().any(|row| row.gravest == Some(Severity::Fails))
    }
}

/// Checks a spec's map; `written` tells the places and the maker's units.
#[must_use]
pub fn check(spec: &Spec, written: Option<&WrittenMap>) -> Desk {
    let paper = Paper::new(spec, written);
    let mut desk = Desk { rows: Vec::new(), findings: Vec::new() };
    for check in &CHECKS {
        let mut ledger = Ledger::new(&paper, check.number);
        (check.look)(&paper, &mut ledger);
        let (exercised, worst, findings) = ledger.close();
        let gravest = findings.iter().map(|f| f.severity).max();
        desk.rows.push(Row { check, gravest, exercised, worst });
        desk.findings.extend(findings);
    }
    desk.findings.sort_by_key(|f| (std::cmp::Reverse(f.severity), f.check));
    desk
}
