//! The uncertainty of one figure, line by line.

use super::{Random, combined, unit_normal};
use rand::Rng;

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
    /// How it is drawn in a trial.
    pub spread: Spread,
    /// Whether it stands beside the chain from samples to figures, so that a trial of the chain
    /// draws it apart.
    pub apart: bool,
}

/// How what a line brings is drawn in a trial.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// Normal about nothing.
    Normal,
    /// Rectangular about nothing.
    Rectangular,
    /// Rectangular from nothing upwards.
    Upwards,
    /// Not at all: it is where the figure is drawn about.
    Offset,
}

impl Spread {
    /// A draw with a standard deviation of 1; of [`Self::Upwards`] with 1 as its root mean square.
    #[inline]
    pub(super) fn draw(self, random: &mut Random) -> f64 {
        match self {
            Spread::Normal => unit_normal(random),
            Spread::Rectangular => 3f64.sqrt() * (2.0 * random.random::<f64>() - 1.0),
            Spread::Upwards => 3f64.sqrt() * random.random::<f64>(),
            Spread::Offset => 0.0,
        }
    }
}

/// All of them, greatest first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Budget {
    lines: Vec<Line>,
    /// Whether a line brings nobody knows how much: then so does the whole.
    unknown: bool,
}

impl Budget {
    /// Adds a line; one that brings nothing is kept out. One whose contribution is no number leaves
    /// the whole unknown: what could not be worked out is not nothing.
    pub fn add(&mut self, line: Line) {
        if !line.contribution.is_finite() {
            self.unknown = true;
        } else if line.contribution > 0.0 {
            let at = self
                .lines
                .partition_point(|known| known.contribution >= line.contribution);
            self.lines.insert(at, line);
        }
    }

    /// One without lines, unknown where this one is.
    pub(super) fn emptied(&self) -> Self {
        Self {
            lines: Vec::new(),
            unknown: self.unknown,
        }
    }

    /// The lines, greatest contribution first.
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// The root of the sum of squares: the contributions are taken as independent. Not a number
    /// where one of them is unknown.
    pub fn combined(&self) -> f64 {
        if self.unknown {
            return f64::NAN;
        }
        combined(self.lines.iter().map(|line| line.contribution))
    }

    /// The line that weighs most and its share of the variance, 0 to 1.
    pub fn heaviest(&self) -> Option<(&Line, f64)> {
        let line = self.lines.first()?;
        let share = (line.contribution / self.combined()).powi(2);
        Some((line, share))
    }
}
