//! Tables on an even grid: a look-up is one index and one straight line.

/// A function of one number on an even grid; held constant beyond its ends.
#[derive(Debug, Clone)]
pub struct Table {
    from: f64,
    per_cell: f64,
    values: Vec<f64>,
}

impl Table {
    /// Samples a function at `cells + 1` places.
    #[must_use]
    pub fn sampled(from: f64, to: f64, cells: usize, function: impl Fn(f64) -> f64) -> Self {
        let cells = cells.max(1);
        let width = (to - from) / cells as f64;
        let values = (0..=cells).map(|at| function(from + width * at as f64)).collect();
        Self { from, per_cell: 1.0 / width, values }
    }

    /// The value and the slope at a place.
    #[must_use]
    pub fn at(&self, x: f64) -> (f64, f64) {
        let place = (x - self.from) * self.per_cell;
        let last = self.values.len() - 1;
        if place <= 0.0 || place.is_nan() {
            return (self.values[0], 0.0);
        }
        let cell = place as usize;
        if cell >= last {
            return (self.values[last], 0.0);
        }
        let (low, high) = (self.values[cell], self.values[cell + 1]);
        (low + (high - low) * (place - cell as f64), (high - low) * self.per_cell)
    }
}

/// Straight lines between points with rising x; constant beyond the ends.
#[must_use]
pub fn between(points: &[(f64, f64)], x: f64) -> f64 {
    let at = points.partition_point(|p| p.0 <= x);
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
    fn a_straight_line_is_met_exactly_and_its_ends_hold() {
        let table = Table::sampled(0.0, 10.0, 5, |x| 3.0 * x + 1.0);
        assert!((table.at(4.3).0 - 13.9).abs() < 1e-12);
        assert!((table.at(4.3).1 - 3.0).abs() < 1e-12);
        assert_eq!(table.at(-1.0), (1.0, 0.0));
        assert_eq!(table.at(99.0), (31.0, 0.0));
        assert_eq!(table.at(f64::NAN), (1.0, 0.0));
        assert_eq!(between(&[(0.0, 0.0), (2.0, 10.0)], 0.5), 2.5);
    }
}
