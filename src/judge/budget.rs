//! The uncertainty of one figure, line by line.

use super::combined;

/// What one thing brings to the uncertainty of a figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What is uncertain, in the trade's words.
    pub quantity: &'static str,
    /// Its estimate with unit, as people read it.
    pub value: String,
    /// How it spreads, as people read it.
    pub distribution: String,
    /// Change of the figure with the quantity, as people read it.
    pub sensitivity: String,
    /// Standard uncertainty it brings, in the figure's unit, never negative.
    pub contribution: f64,
}

/// All of them, greatest first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Budget {
    lines: Vec<Line>,
}

impl Budget {
    /// Adds a line; one that brings nothing is kept out.
    pub fn add(&mut self, line: Line) {
        if line.contribution > 0.0 {
            let at = self
                .lines
                .partition_point(|known| known.contribution >= line.contribution);
            self.lines.insert(at, line);
        }
    }

    /// The lines, greatest contribution first.
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// The root of the sum of squares: the contributions are taken as independent.
    pub fn combined(&self) -> f64 {
        combined(self.lines.iter().map(|line| line.contribution))
    }

    /// The line that weighs most and its share of the variance, 0 to 1.
    pub fn heaviest(&self) -> Option<(&Line, f64)> {
        let line = self.lines.first()?;
        let share = (line.contribution / self.combined()).powi(2);
        Some((line, share))
    }
}
