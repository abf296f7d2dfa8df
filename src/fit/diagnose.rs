//! Whether a fit can be trusted: what its residuals show, and what the data could not tell.

use crate::quantity::{Length, told};
use std::fmt;

/// A reason not to rely on figures from a fit.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubt {
    /// The solver did not arrive.
    NotConverged,
    /// A parameter stuck at the end of the range it may have.
    AtBound(&'static str),
    /// The data cannot tell the parameters apart; the condition number says how little.
    IllConditioned(f64),
    /// The land departs from the curve by slow waves of this root mean square.
    Systematic(Length),
    /// So few points for so many parameters.
    FewPoints {
        /// Points that were not left out.
        points: f64,
        /// Parameters fitted.
        parameters: usize,
    },
    /// Only this share of the land was seen.
    LittleSeen(f64),
    /// This share of the points lies too far off the curve to be noise.
    ManyOutlying(f64),
    /// The land's curve begins this far below the measured edge (negative: above).
    EdgeApart(Length),
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::NotConverged => write!(f, "the solver did not arrive at a best curve"),
            Doubt::AtBound(name) => {
                write!(f, "the {name} stuck at the end of the range it may have")
            }
            Doubt::IllConditioned(condition) => write!(
                f,
                "the land is too short to tell the curve's parameters apart (condition number {condition:.0e})"
            ),
            Doubt::Systematic(rms) => write!(
                f,
                "the land departs from the curve in slow waves of {} rms",
                told::um(*rms, 1)
            ),
            Doubt::FewPoints { points, parameters } => {
                write!(f, "only {points:.0} points for {parameters} parameters")
            }
            Doubt::LittleSeen(share) => {
                write!(f, "only {:.0} % of the land was seen", 100.0 * share)
            }
            Doubt::ManyOutlying(share) => write!(
                f,
                "{:.0} % of the points lie too far off the curve to be noise",
                100.0 * share
            ),
            Doubt::EdgeApart(below) => write!(
                f,
                "the edge was measured {} {} where the land's curve begins",
                told::um(below.abs(), 1),
                if below.mm() > 0.0 { "above" } else { "below" }
            ),
        }
    }
}

/// Whether figures from a fit may be relied on; a matter of its own beside how the solver stopped.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trust {
    /// Why not; empty where there is no doubt.
    pub doubts: Vec<Doubt>,
}

impl Trust {
    /// Whether nothing speaks against it.
    pub fn is_full(&self) -> bool {
        self.doubts.is_empty()
    }
}

/// What residuals show about each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Neighbours {
    /// Correlation of the errors of neighbouring points, the pull of the fit taken out.
    pub correlation: f64,
    /// Points that would say as much if they were independent.
    pub effective: f64,
}

/// Points below which a correlation cannot be told from chance (chosen, no source).
const ENOUGH_FOR_CORRELATION: f64 = 20.0;
/// Correlation beyond which errors are one slow wave, and no count of points means anything
/// (chosen, no source).
const MOST_CORRELATION: f64 = 0.98;
/// Share of the errors that a fit may be said to have taken. It takes slow ones alone, so that with
/// more than this the assumption of slow parameters no longer holds (chosen, no source).
pub(super) const MOST_TAKEN: f64 = 0.3;
/// Mean square, in stated uncertainties, below which residuals are rounding of exact data.
const ROUNDING: f64 = 1e-8;

impl Neighbours {
    /// Looks at residuals in stated uncertainties, in order of arc; `None` for a point left out. `adjacent(i)` says whether
    /// point `i + 1` is the next place on the land.
    ///
    /// Takes errors as a first-order autoregression, for which `n` points say as much about a slow
    /// curve as `n (1 - rho) / (1 + rho)` independent ones. A fit with `p` slow parameters takes
    /// their share out of the errors, so that residuals look less correlated than errors are; that
    /// is undone here.
    pub fn of(
        residuals: &[Option<f64>],
        adjacent: impl Fn(usize) -> bool,
        parameters: usize,
    ) -> Self {
        let kept = || residuals.iter().flatten();
        let (count, p) = (kept().count() as f64, parameters as f64);
        let power = kept().map(|value| value * value).sum::<f64>() / count.max(1.0);
        let (mut product, mut pairs) = (0.0, 0.0);
        for (i, pair) in residuals.windows(2).enumerate() {
            if let [Some(this), Some(next)] = pair
                && adjacent(i)
            {
                product += this * next;
                pairs += 1.0;
            }
        }
        if pairs < ENOUGH_FOR_CORRELATION || power <= ROUNDING {
            return Self {
                correlation: 0.0,
                effective: count,
            };
        }
        let seen = product / pairs / power;
        let mut rho = seen.clamp(0.0, MOST_CORRELATION);
        for _ in 0..20 {
            let share = (p / count * (1.0 + rho) / (1.0 - rho)).min(MOST_TAKEN);
            rho = (seen * (1.0 - share) + share).clamp(0.0, MOST_CORRELATION);
        }
        Self {
            correlation: rho,
            effective: count * (1.0 - rho) / (1.0 + rho),
        }
    }
}

/// Root mean square of what varies slowly along the land: of the means of ten stretches, less what
/// independent errors would give them.
pub(super) fn slow_part(residuals: &[Option<f64>]) -> f64 {
    const STRETCHES: usize = 10;
    const LEAST_POINTS: usize = 3;
    let kept: Vec<f64> = residuals.iter().flatten().copied().collect();
    let variance = kept.iter().map(|value| value * value).sum::<f64>() / kept.len().max(1) as f64;
    let length = kept.len().div_ceil(STRETCHES).max(LEAST_POINTS);
    let whole: Vec<f64> = kept
        .chunks(length)
        .filter(|stretch| stretch.len() >= LEAST_POINTS)
        .map(|stretch| {
            let count = stretch.len() as f64;
            (stretch.iter().sum::<f64>() / count).powi(2) - variance / count
        })
        .collect();
    (whole.iter().sum::<f64>() / whole.len().max(1) as f64)
        .max(0.0)
        .sqrt()
}
