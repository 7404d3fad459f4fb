//! Progress on stderr: a bar for a person at a terminal, else a line every ten seconds, so that no log drowns.

use super::clock;
use super::clock::Stopwatch;
use crate::campaign::Progress;
use crate::evidence::count;
use clap::ValueEnum;
use std::io;
use std::io::Write;

/// How to show progress.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Mode {
    /// A bar on a terminal, else lines
    Auto,
    /// A line every ten seconds
    Line,
    /// Nothing
    None,
}

/// The CI servers' limits for silence are minutes: ten seconds stay far below.
const LINE_EVERY_S: f64 = 10.0;
const BAR_EVERY_S: f64 = 0.1;
const BAR_CELLS: u64 = 30;

/// Shows progress.
#[derive(Debug)]
pub struct Shown {
    mode: Mode,
    bar: bool,
    watch: Stopwatch,
    last_s: f64,
    bar_stands: bool,
}

impl Shown {
    /// Nothing is shown yet.
    pub fn new(mode: Mode) -> Self {
        let bar = mode == Mode::Auto && clock::is_watched();
        Self { mode, bar, watch: Stopwatch::start(), last_s: 0.0, bar_stands: false }
    }

    /// Shows where the run is, if it is time to.
    pub fn at(&mut self, progress: &Progress) {
        let now_s = self.watch.seconds();
        let every_s = if self.bar { BAR_EVERY_S } else { LINE_EVERY_S };
        if self.mode == Mode::None || now_s - self.last_s < every_s {
            return;
        }
        self.last_s = now_s;
        let text = line(progress, now_s);
        let mut stderr = io::stderr().lock();
        // Progress that can't be shown stops no run.
        let _ = if self.bar {
            self.bar_stands = true;
            write!(stderr, "\r\u{1b}[K{} {text}", bar(progress)).and_then(|()| stderr.flush())
        } else {
            writeln!(stderr, "{text}")
        };
    }

    /// Takes the bar away.
    pub fn end(&mut self) {
        if std::mem::take(&mut self.bar_stands) {
            let _ = write!(io::stderr().lock(), "\r\u{1b}[K");
        }
    }
}

fn line(progress: &Progress, seconds: f64) -> String {
    let left = if progress.done > 0 && progress.total > progress.done {
        let left_s = seconds / progress.done as f64 * (progress.total - progress.done) as f64;
        format!(", about {left_s:.0} s left")
    } else {
        String::new()
    };
    format!("{}: {} of {} drives{left}", progress.doing, count(progress.done as u64), count(progress.total as u64))
}

fn bar(progress: &Progress) -> String {
    let full = (progress.done.min(progress.total) as u64 * BAR_CELLS).checked_div(progress.total as u64).unwrap_or(0);
    (0..BAR_CELLS).map(|cell| if cell < full { '#' } else { '.' }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_done_total_and_left() {
        let mut progress = Progress { doing: "driving", done: 500, total: 2000, simulated_ms: 0 };
        assert_eq!(line(&progress, 10.0), "driving: 500 of 2,000 drives, about 30 s left");
        progress.done = 2000;
        assert_eq!(line(&progress, 40.0), "driving: 2,000 of 2,000 drives");
    }

    #[test]
    fn a_bar_fills_and_never_overflows() {
        for (done, total, full) in [(0, 10, 0), (5, 10, 15), (10, 10, 30), (11, 10, 30), (0, 0, 0)] {
            let progress = Progress { doing: "driving", done, total, simulated_ms: 0 };
            assert_eq!(bar(&progress).matches('#').count(), full);
            assert_eq!(bar(&progress).len(), 30);
        }
    }
}
