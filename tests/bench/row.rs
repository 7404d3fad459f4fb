//! One line of the table.

use std::fmt;

/// What is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// The figure must not be below.
    High,
    /// The figure must not be above.
    Low,
}

/// A figure.
#[derive(Debug, Clone)]
pub struct Row {
    /// What was measured, and against what.
    pub what: String,
    /// The figure.
    pub figure: f64,
    /// Its unit, `x` for a ratio.
    pub unit: &'static str,
    /// What it must reach.
    pub must: f64,
    /// What we aim at.
    pub aim: f64,
    /// Which way is better.
    pub better: Better,
    /// Seeds, repeats, and whatever else a reader needs.
    pub note: String,
}

/// The table's head.
pub const HEAD: &str = "| what | measured | must reach | aim | note |\n|---|---|---|---|---|";

impl Row {
    /// Whether it reaches what it must.
    #[must_use]
    pub fn reached(&self) -> bool {
        match self.better {
            Better::High => self.figure >= self.must,
            Better::Low => self.figure <= self.must,
        }
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { what, figure, unit, must, aim, note, .. } = self;
        let missed = if self.reached() { "" } else { " **missed**" };
        write!(f, "| {what} | {figure:.3} {unit}{missed} | {must} {unit} | {aim} {unit} | {note} |")
    }
}
