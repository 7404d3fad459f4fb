//! Tables: a curve laid out once on an even grid, so that reading it is an index and a straight line.

/// A curve on an even grid; constant beyond its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    from: f64,
    cells_per_unit: f64,
    /// Value at the left end of each cell, and its change over the cell.
    cells: Vec<(f64, f64)>,
    last: f64,
}

impl Table {
    /// Lays out `curve` between two ends in a number of even cells.
    #[must_use]
    pub fn new(from: f64, to: f64, cells: u16, curve: impl Fn(f64) -> f64) -> Self {
        let count = cells.max(1);
        let at = |i: u16| curve(from + (to - from) * f64::from(i) / f64::from(count));
        let cells = (0..count).map(|i| (at(i), at(i + 1) - at(i))).collect();
        Self { from, cells_per_unit: f64::from(count) / (to - from), cells, last: at(count) }
    }

    /// The value at `x` and the slope there.
    #[inline]
    #[must_use]
    pub fn at(&self, x: f64) -> (f64, f64) {
        let place = (x - self.from) * self.cells_per_unit;
        // A negative place casts to cell 0; keep the first value there. Of all casts to and from f64, those of u32 are
        // the quickest.
        let cell = place as u32;
        match self.cells.get(cell as usize) {
            Some(&(value, _)) if place < 0.0 => (value, 0.0),
            Some(&(value, change)) => (value + (place - f64::from(cell)) * change, change * self.cells_per_unit),
            None => (self.last, 0.0),
        }
    }
}

/// Straight lines between points of rising x, constant beyond the ends; 0 without points.
#[must_use]
pub fn between(points: &[(f64, f64)], x: f64) -> f64 {
    let at = points.partition_point(|&(px, _)| px <= x);
    match (at.checked_sub(1).and_then(|i| points.get(i)), points.get(at)) {
        (Some(&(x0, y0)), Some(&(x1, y1))) => y0 + (y1 - y0) * (x - x0) / (x1 - x0),
        (Some(&(_, y)), None) | (None, Some(&(_, y))) => y,
        (None, None) => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_of_a_straight_line_reads_back_the_line_and_stays_constant_beyond() {
        let table = Table::new(10.0, 20.0, 4, |x| 3.0 * x - 1.0);
        for (x, value, slope) in
            [(10.0, 29.0, 3.0), (11.25, 32.75, 3.0), (19.9, 58.7, 3.0), (5.0, 29.0, 0.0), (25.0, 59.0, 0.0)]
        {
            let read = table.at(x);
            assert!((read.0 - value).abs() < 1e-12 && (read.1 - slope).abs() < 1e-12, "{x}: {read:?}");
        }
    }

    #[test]
    fn points_join_by_straight_lines() {
        let points = [(0.0, 10.0), (2.0, 20.0), (3.0, 0.0)];
        for (x, y) in [(-1.0, 10.0), (0.0, 10.0), (0.5, 12.5), (2.0, 20.0), (2.75, 5.0), (9.0, 0.0)] {
            assert!((between(&points, x) - y).abs() < 1e-12);
        }
        assert!(between(&[], 1.0).abs() < 1e-12);
    }
}
