//! Pass, fail or undecided: conformity with guard bands.

use crate::card::Limit;
use crate::error::{Code, Error, Result};
use statrs::distribution::{ContinuousCDF, Normal};

/// What is proven about one figure and its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Inside every bound by at least the guard band.
    Pass,
    /// Outside one of them by at least the guard band.
    Fail,
    /// Neither is proven.
    Undecided,
}

/// The guard band at a limit of a card that states no confidence, in standard uncertainties: 95 % on
/// one side (ISO 14253-1, default rule).
pub(super) const USUAL_GUARD: f64 = 1.645;

/// Multiplies a standard uncertainty into a guard band: 1.645 for 95 % (ISO 14253-1, default rule).
///
/// # Errors
/// `card-value` when `confidence` is not a probability between 0.5 and 1.
pub fn guard_factor(confidence: f64) -> Result<f64> {
    // statrs panics outside (0, 1), so the door is here.
    if !(0.5..1.0).contains(&confidence) {
        return Err(Error::new(
            Code::CardValue,
            format!(
                "read the confidence `{confidence}`, expected a probability from 0.5 to below 1"
            ),
        ));
    }
    Ok(Normal::standard().inverse_cdf(confidence))
}

/// How far a value must stay from a limit, in its unit: what it may truly lie below and above where
/// it was found, but for the probability that is allowed to be wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// How much less it may truly be.
    pub below: f64,
    /// How much more it may truly be.
    pub above: f64,
}

impl Guard {
    /// As much on either side.
    pub const fn symmetric(band: f64) -> Self {
        Self {
            below: band,
            above: band,
        }
    }
}

/// Decides with guard bands of their own below and above the value (JCGM 106, 8.3.2).
///
/// ```
/// use heelclear::card::Limit;
/// use heelclear::judge::{Guard, Outcome, decide_guarded};
/// let limit = Limit { min: Some(0.02), max: None };
/// let guard = Guard::symmetric(1.645 * 0.0011);
/// assert_eq!(decide_guarded(0.0123, guard, limit), Outcome::Fail);
/// assert_eq!(decide_guarded(0.0210, guard, limit), Outcome::Undecided);
/// assert_eq!(decide_guarded(0.0300, guard, limit), Outcome::Pass);
/// ```
pub fn decide_guarded(value: f64, guard: Guard, limit: Limit) -> Outcome {
    if !value.is_finite() || !guard.below.is_finite() || !guard.above.is_finite() {
        return Outcome::Undecided;
    }
    // How far inside each bound the value lies, negative is outside; how much of that may be
    // missing in truth; how much of what is outside may.
    let inside = [
        limit.min.map(|min| (value - min, guard.below, guard.above)),
        limit.max.map(|max| (max - value, guard.above, guard.below)),
    ];
    let mut outcome = Outcome::Pass;
    for (distance, to_pass, to_fail) in inside.into_iter().flatten() {
        // A value exactly at its bound with no uncertainty conforms: bounds belong to the inside.
        if distance < 0.0 && -distance >= to_fail {
            return Outcome::Fail;
        }
        if distance < to_pass || distance < 0.0 {
            outcome = Outcome::Undecided;
        }
    }
    outcome
}

/// The probability that a quantity lies within its limit, where all that is known of it is normal
/// about `value` (JCGM 106, 7.2).
///
/// `None` unless the value is finite and the uncertainty finite and above 0.
pub fn conformity_probability(value: f64, standard_uncertainty: f64, limit: Limit) -> Option<f64> {
    let known = Normal::new(value, standard_uncertainty).ok()?;
    if !value.is_finite() || !standard_uncertainty.is_finite() {
        return None;
    }
    let up_to = limit.max.map_or(1.0, |max| known.cdf(max));
    let below = limit.min.map_or(0.0, |min| known.cdf(min));
    Some((up_to - below).max(0.0))
}

impl Outcome {
    /// The verdict on a whole out of the verdicts on its parts: any fail fails, else any undecided
    /// leaves it undecided; `None` when nothing was to be judged.
    pub fn of_all(parts: impl IntoIterator<Item = Outcome>) -> Option<Outcome> {
        parts.into_iter().reduce(|whole, part| match (whole, part) {
            (Outcome::Fail, _) | (_, Outcome::Fail) => Outcome::Fail,
            (Outcome::Undecided, _) | (_, Outcome::Undecided) => Outcome::Undecided,
            (Outcome::Pass, Outcome::Pass) => Outcome::Pass,
        })
    }
}
