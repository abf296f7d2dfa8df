//! What is known of a figure in the end: by its lines, or by its trials where those differ.

use super::figures::Figure;
use super::{Draws, Guard, conformity_probability, first_order_holds, guard_factor};
use crate::card::Limit;
use crate::error::Result;

/// Two-sided 95 % of a normal distribution in standard uncertainties (JCGM 100, table G.2).
pub const COVERAGE_95: f64 = 1.959_963_984_540_054;

/// Ends of two intervals that lie within this share of the standard uncertainty are the same. Half a
/// unit in the second digit of an uncertainty, the tolerance of JCGM 101, 8.1.3, is from 0.5 to 5 %
/// of it; nothing that goes into these figures is known more closely than the latter.
const SAME: f64 = 0.05;

/// Standard uncertainty of an end of a 95 % interval that was found by one trial, in those of the
/// figure: `sqrt(0.025 * 0.975)` over the density of a normal distribution at 1.96.
const END_BY_ONE_TRIAL: f64 = 2.67;

/// A figure with all that is known of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// The best estimate, in the figure's unit.
    pub value: f64,
    /// In the figure's unit.
    pub standard_uncertainty: f64,
    /// The 95 % coverage interval.
    pub interval: [f64; 2],
    /// The guard bands at a limit.
    pub guard: Guard,
    /// Which of both answers this is.
    pub method: Method,
    /// The answer to first order.
    pub first_order: Way,
    /// The answer of the trials, where any were made, with their number.
    pub distributions: Option<(Way, usize)>,
}

/// A standard uncertainty with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// The estimate that it is about.
    pub value: f64,
    /// In the figure's unit.
    pub standard_uncertainty: f64,
    /// The 95 % coverage interval.
    pub interval: [f64; 2],
}

/// How an uncertainty was had.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// By the law of propagation, the result taken as normal (JCGM 100).
    FirstOrder,
    /// By propagating distributions (JCGM 101).
    Distributions,
}

impl Method {
    /// The word for it in results.
    pub const fn as_str(self) -> &'static str {
        match self {
            Method::FirstOrder => "first-order",
            Method::Distributions => "distributions",
        }
    }
}

impl Known {
    /// The wider of both answers, whole.
    ///
    /// A width that shows as none is drawn about what the readings ask for, which may be less than
    /// none: how much less is chance, and would make its range a matter of chance as well.
    fn or_wider(self, other: Self) -> Self {
        let width = |known: &Self| known.interval[1] - known.interval[0];
        if width(&other) > width(&self) {
            other
        } else {
            self
        }
    }
}

impl Figure {
    /// What is known of the figure, with guard bands for this probability of conformity; `None`
    /// where it has no value or nothing is known of its uncertainty. An uncertainty of nothing is not
    /// known either: nothing that was read is exact.
    ///
    /// # Errors
    /// `card-value` when `confidence` is no probability from 0.5 to below 1.
    pub fn known(&self, confidence: f64) -> Result<Option<Known>> {
        let normal = guard_factor(confidence)?;
        let value = self.value.filter(|value| value.is_finite());
        let u = self.budget.as_ref().map(|budget| budget.combined());
        let Some((value, u)) = value.zip(u.filter(|u| u.is_finite() && *u > 0.0)) else {
            return Ok(None);
        };
        let student = |probability| self.budget.as_ref()?.quantile(probability);
        let coverage = student(0.975).unwrap_or(COVERAGE_95) * u;
        let factor = student(confidence).unwrap_or(normal);
        let first_order = Way {
            value,
            standard_uncertainty: u,
            interval: [
                (value - coverage).max(self.floor().min(value)),
                value + coverage,
            ],
        };
        let by_first_order = Known {
            value,
            standard_uncertainty: u,
            interval: first_order.interval,
            guard: Guard::symmetric(factor * u),
            method: Method::FirstOrder,
            first_order,
            distributions: None,
        };
        // Draws that are all the same were cut off at the least that the figure can be: they tell
        // nothing of what is known of it.
        let moving = |draws: &&Draws| draws.standard_uncertainty() > 0.0;
        let Some(draws) = self.draws.as_ref().filter(moving) else {
            return Ok(Some(by_first_order));
        };
        let spread = draws.standard_uncertainty();
        // What is off its mean by no more than chance, or is drawn about something else, keeps the
        // estimate that it was read as.
        let chance = 2.0 * END_BY_ONE_TRIAL / (draws.sorted().len() as f64).sqrt();
        let moved = (draws.mean() - value).abs() > (SAME + chance) * spread;
        let drawn = Way {
            value: match self.drawn_about {
                None if moved => draws.mean(),
                _ => value,
            },
            standard_uncertainty: spread,
            interval: draws.symmetric_interval(0.95),
        };
        let distributions = Some((drawn, draws.sorted().len()));
        if first_order_holds(
            first_order.interval,
            drawn.interval,
            (SAME + chance) * spread,
        ) {
            return Ok(Some(Known {
                distributions,
                ..by_first_order
            }));
        }
        let by_distributions = Known {
            value: drawn.value,
            standard_uncertainty: drawn.standard_uncertainty,
            interval: drawn.interval,
            guard: Guard {
                below: (drawn.value - draws.quantile(1.0 - confidence)).max(0.0),
                above: (draws.quantile(confidence) - drawn.value).max(0.0),
            },
            method: Method::Distributions,
            first_order,
            distributions,
        };
        Ok(Some(match self.drawn_about {
            None => by_distributions,
            Some(_) => by_distributions.or_wider(Known {
                distributions,
                ..by_first_order
            }),
        }))
    }

    /// The probability that the figure lies within its limit (JCGM 106, 7.2), by the answer that
    /// `known` is.
    pub fn conformity(&self, known: &Known, limit: Limit) -> Option<f64> {
        match (&self.draws, known.method) {
            (Some(draws), Method::Distributions) => {
                let up_to = limit.max.map_or(1.0, |max| draws.share_up_to(max));
                let below = limit.min.map_or(0.0, |min| draws.share_below(min));
                Some((up_to - below).max(0.0))
            }
            _ => conformity_probability(known.value, known.standard_uncertainty, limit),
        }
    }
}
