//! The uncertainty of one figure: what it hangs on, and how much each of that brings.

use super::{Contribution, Input, Random, combined, effective_degrees_of_freedom, unit_normal};
use crate::numeric::quantile;
use rand::Rng;

/// Uncertainties on more degrees of freedom than this are taken as known for certain (chosen, no
/// source).
pub(super) const MANY: f64 = 200.0;
/// On fewer than this Student's distribution has no standard deviation, and a range by it no use.
pub(super) const FEWEST: f64 = 3.0;

/// What one input brings to the uncertainty of a figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What is uncertain.
    pub input: Input,
    /// Its best estimate, in the unit of `input`; nothing where what is uncertain is a departure.
    pub estimate: Option<f64>,
    /// Its standard uncertainty, in the unit of `input`.
    pub standard_uncertainty: f64,
    /// How it spreads.
    pub spread: Spread,
    /// Change of the figure with it, in the figure's unit per the unit of `input`.
    pub sensitivity: f64,
    /// Degrees of freedom that its standard uncertainty rests on; nothing where they are many.
    pub degrees_of_freedom: Option<f64>,
    /// Whether it stands beside the chain from samples to figures, so that a trial of the chain
    /// draws it apart.
    pub apart: bool,
}

/// How an input spreads about its estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// Normal.
    Normal,
    /// Anywhere within limits alike.
    Rectangular,
    /// Anywhere from the estimate up to a limit alike; its uncertainty is its root mean square.
    Upwards,
    /// Anywhere within a disc alike.
    Disc,
    /// Within limits at each place, and alike at places near each other.
    Path,
    /// One of a few, by their odds.
    Odds,
    /// It is where the figure is drawn about.
    Offset,
}

impl Spread {
    /// The word for it in results.
    pub const fn as_str(self) -> &'static str {
        match self {
            Spread::Normal => "normal",
            Spread::Rectangular => "rectangular",
            Spread::Upwards => "upwards",
            Spread::Disc => "disc",
            Spread::Path => "path",
            Spread::Odds => "odds",
            Spread::Offset => "offset",
        }
    }

    /// A draw with a standard deviation of 1; of [`Self::Upwards`] with 1 as its root mean square.
    /// What many readings average over is drawn as normal.
    #[inline]
    pub(super) fn draw(self, random: &mut Random) -> f64 {
        match self {
            Spread::Normal | Spread::Disc | Spread::Path => unit_normal(random),
            Spread::Rectangular | Spread::Odds => {
                3f64.sqrt() * (2.0 * random.random::<f64>() - 1.0)
            }
            Spread::Upwards => 3f64.sqrt() * random.random::<f64>(),
            Spread::Offset => 0.0,
        }
    }
}

impl Line {
    /// An input by its standard uncertainty, normal, with a sensitivity.
    pub(super) fn of(input: Input, standard_uncertainty: f64, sensitivity: f64) -> Self {
        Self {
            input,
            estimate: None,
            standard_uncertainty,
            spread: Spread::Normal,
            sensitivity,
            degrees_of_freedom: None,
            apart: false,
        }
    }

    /// An input of which the whole contribution is known, in the figure's unit.
    pub(super) fn bringing(input: Input, standard_uncertainty: f64, contribution: f64) -> Self {
        let sensitivity = if standard_uncertainty > 0.0 {
            contribution / standard_uncertainty
        } else {
            0.0
        };
        Self::of(input, standard_uncertainty, sensitivity)
    }

    /// What is a departure of the figure itself: its sensitivity is 1.
    pub fn departure(input: Input, contribution: f64) -> Self {
        Self::of(input, contribution, 1.0)
    }

    pub(super) fn at(mut self, estimate: f64) -> Self {
        self.estimate = Some(estimate);
        self
    }

    pub(super) fn spread(mut self, spread: Spread) -> Self {
        self.spread = spread;
        self
    }

    /// With so many degrees of freedom, where they are few.
    #[must_use]
    pub fn resting_on(mut self, degrees_of_freedom: f64) -> Self {
        let few = (0.0..MANY).contains(&degrees_of_freedom);
        self.degrees_of_freedom = few.then_some(degrees_of_freedom);
        self
    }

    pub(super) fn apart(mut self) -> Self {
        self.apart = true;
        self
    }

    /// The standard uncertainty that it brings, in the figure's unit, never negative.
    pub fn contribution(&self) -> f64 {
        (self.sensitivity * self.standard_uncertainty).abs()
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
    /// Of a figure of which nobody knows how it answers.
    pub(super) fn unknown() -> Self {
        Self {
            lines: Vec::new(),
            unknown: true,
        }
    }

    /// Adds a line; one that brings nothing is kept out. One whose contribution is no number leaves
    /// the whole unknown: what could not be worked out is not nothing.
    pub fn add(&mut self, line: Line) {
        let brings = line.contribution();
        if !brings.is_finite() {
            self.unknown = true;
        } else if brings > 0.0 {
            let lines = &self.lines;
            let at = lines.partition_point(|known| known.contribution() >= brings);
            self.lines.insert(at, line);
        }
    }

    /// The budget of a figure that grows by `per` with this one's.
    pub(super) fn scaled(&self, per: f64) -> Self {
        let mut budget = self.clone();
        for line in &mut budget.lines {
            // What is a departure of the one figure is one of the other.
            if line.input.unit() == super::InputUnit::Figure {
                line.standard_uncertainty *= per.abs();
            } else {
                line.sensitivity *= per;
            }
        }
        budget
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
        combined(self.lines.iter().map(Line::contribution))
    }

    /// By what to multiply the combined uncertainty for a value to lie below the result and it
    /// together with this probability: by Student's distribution where few degrees of freedom weigh
    /// (JCGM 100, G.4.1). `None` where the probability is none.
    pub fn quantile(&self, probability: f64) -> Option<f64> {
        let contributions: Vec<Contribution> = self
            .lines
            .iter()
            .map(|line| Contribution {
                standard_uncertainty: line.contribution(),
                degrees_of_freedom: line.degrees_of_freedom,
            })
            .collect();
        let free = effective_degrees_of_freedom(&contributions).filter(|free| *free < MANY);
        match free {
            Some(free) => quantile::student_t(probability, free.floor().max(FEWEST)),
            None => quantile::normal(probability),
        }
    }

    /// The line that weighs most and its share of the variance, 0 to 1.
    pub fn heaviest(&self) -> Option<(&Line, f64)> {
        let line = self.lines.first()?;
        let share = (line.contribution() / self.combined()).powi(2);
        Some((line, share))
    }
}
