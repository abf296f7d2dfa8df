//! A figure of the gauge, what it is held to, and what to do.

use crate::judge::Outcome;
use crate::numeric::quantile;
use crate::quantity::{Length, Time};

/// What a study found.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    /// Its name, as the command line has it.
    pub name: &'static str,
    /// What was found, in the order of importance.
    pub findings: Vec<Finding>,
    /// What the gauge card keeps of it.
    pub kept: Option<Length>,
    /// How long that took to come about; only a drift has it.
    pub lasted: Option<Time>,
    /// What was taken for granted or seen beside, a sentence each.
    pub notes: Vec<String>,
}

/// One figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What it is, in the trade's words.
    pub quantity: &'static str,
    /// In `unit`.
    pub value: f64,
    /// Holds the figure with 95 % probability; absent where that cannot be said.
    pub interval: Option<[f64; 2]>,
    /// `mm`, `deg`, `%`, or empty for a number.
    pub unit: &'static str,
    /// The most that is allowed, where there is such a thing.
    pub allowed: Option<f64>,
    /// Whether it is allowed; nothing where nothing is asked.
    pub outcome: Option<Outcome>,
    /// What to do when it is not fine.
    pub advice: &'static str,
}

impl Study {
    /// Fine, not fine or not settled as a whole; nothing where nothing was asked.
    pub fn outcome(&self) -> Option<Outcome> {
        Outcome::of_all(self.findings.iter().filter_map(|finding| finding.outcome))
    }
}

impl Finding {
    /// A length held to the most that is allowed: fine when all its interval is.
    pub(super) fn length(
        quantity: &'static str,
        value: Length,
        interval: [Length; 2],
        allowed: Length,
        advice: &'static str,
    ) -> Self {
        let interval = interval.map(Length::mm);
        Self {
            quantity,
            value: value.mm(),
            interval: Some(interval),
            unit: "mm",
            allowed: Some(allowed.mm()),
            outcome: Some(within(interval, allowed.mm())),
            advice,
        }
    }
}

/// The 95 % interval of a size known with a standard uncertainty; a size is never negative.
pub(super) fn about(value: Length, standard_uncertainty: Length) -> [Length; 2] {
    let reach = standard_uncertainty * TWO_SIDED_95;
    [(value - reach).max(Length::ZERO), value + reach]
}

/// The normal quantile of 97.5 %.
const TWO_SIDED_95: f64 = 1.959_963_984_540_054;

/// The factors by which a standard deviation with so many degrees of freedom reaches down and up
/// with 95 % probability, of which the square has a chi-square distribution. Nothing below one
/// degree of freedom.
pub(super) fn deviation_factors(degrees_of_freedom: f64) -> Option<[f64; 2]> {
    let free = degrees_of_freedom.min(100_000.0);
    if free < 1.0 {
        return None;
    }
    let factor = |p: f64| Some((free / quantile::chi_square(p, free)?).sqrt());
    Some([factor(0.975)?, factor(0.025)?])
}

/// All of the interval is allowed, none of it, or part.
pub(super) fn within([low, high]: [f64; 2], allowed: f64) -> Outcome {
    if high <= allowed {
        Outcome::Pass
    } else if low > allowed {
        Outcome::Fail
    } else {
        Outcome::Undecided
    }
}
