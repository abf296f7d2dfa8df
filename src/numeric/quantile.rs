//! Quantiles of the normal, Student's and chi-square distributions, and Fisher's tail, checked at the
//! door.
//!
//! `statrs` panics for a probability outside 0 to 1 and never returns for Student's distribution
//! with infinitely many degrees of freedom; here those are refused, or answered by the normal.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// Degrees of freedom from which Student's distribution is the normal to six digits.
const NORMAL_FROM: f64 = 1e5;
/// Probabilities closer to 0 or 1 than this are refused: nothing here asks for them, and far
/// tails are where libraries err.
const LEAST_PROBABILITY: f64 = 1e-9;

/// The value that a standard normal variable stays below with probability `p`.
///
/// `None` unless `p` lies inside 0 to 1.
pub fn normal(p: f64) -> Option<f64> {
    inside(p)?;
    Some(Normal::standard().inverse_cdf(p))
}

/// The value that a variable with Student's distribution stays below with probability `p`.
///
/// `None` unless `p` lies inside 0 to 1 and there is at least one degree of freedom.
pub fn student_t(p: f64, degrees_of_freedom: f64) -> Option<f64> {
    if degrees_of_freedom > NORMAL_FROM {
        return normal(p);
    }
    inside(p)?;
    if !(1.0..=NORMAL_FROM).contains(&degrees_of_freedom) {
        return None;
    }
    let student = StudentsT::new(0.0, 1.0, degrees_of_freedom).ok()?;
    Some(student.inverse_cdf(p)).filter(|value| value.is_finite())
}

/// The value that a chi-square variable stays below with probability `p`.
///
/// `None` unless `p` lies inside 0 to 1 and degrees of freedom are above 0 and not above 100,000.
pub fn chi_square(p: f64, degrees_of_freedom: f64) -> Option<f64> {
    inside(p)?;
    if !(degrees_of_freedom > 0.0 && degrees_of_freedom <= NORMAL_FROM) {
        return None;
    }
    let chi_square = ChiSquared::new(degrees_of_freedom).ok()?;
    Some(chi_square.inverse_cdf(p)).filter(|value| value.is_finite())
}

/// The probability that a ratio of two mean squares with these degrees of freedom exceeds `ratio`
/// by chance (Fisher's distribution).
///
/// `None` unless the ratio is finite and not negative and both degrees of freedom are above 0 and
/// not above 100,000.
pub fn fisher_above(ratio: f64, above: f64, below: f64) -> Option<f64> {
    let free = |free: f64| free > 0.0 && free <= NORMAL_FROM;
    if !(ratio.is_finite() && ratio >= 0.0 && free(above) && free(below)) {
        return None;
    }
    Some(FisherSnedecor::new(above, below).ok()?.sf(ratio)).filter(|p| p.is_finite())
}

fn inside(p: f64) -> Option<()> {
    (LEAST_PROBABILITY..=1.0 - LEAST_PROBABILITY)
        .contains(&p)
        .then_some(())
}
