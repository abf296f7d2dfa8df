//! The law of propagation of uncertainty: contributions into one, and how far its interval reaches.

use nalgebra::DMatrix;

/// What one input brings to the uncertainty of a result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contribution {
    /// Standard uncertainty times sensitivity, in the result's unit; its sign does not matter.
    pub standard_uncertainty: f64,
    /// On how many degrees of freedom it rests; `None` where it is known as if from infinitely many.
    pub degrees_of_freedom: Option<f64>,
}

/// Independent contributions together: the root of the sum of squares (JCGM 100, 5.1.2).
pub fn combined(contributions: impl IntoIterator<Item = f64>) -> f64 {
    // From 0 on: the empty sum of floats is a negative nothing, and so would its root be.
    let squares = contributions.into_iter().map(|one| one * one);
    squares.fold(0.0, |sum, square| sum + square).sqrt()
}

/// The degrees of freedom of a result, by Welch and Satterthwaite (JCGM 100, G.4.1); `None` where
/// they are infinitely many.
pub fn effective_degrees_of_freedom(contributions: &[Contribution]) -> Option<f64> {
    let whole = combined(contributions.iter().map(|one| one.standard_uncertainty));
    let parts: f64 = contributions
        .iter()
        .filter_map(|one| Some(one.standard_uncertainty.powi(4) / one.degrees_of_freedom?))
        .sum();
    (parts > 0.0).then(|| whole.powi(4) / parts)
}

/// The standard uncertainty of a result whose inputs are correlated (JCGM 100, 5.2.2): one
/// sensitivity an input, and their covariance.
///
/// `None` unless there is a row and a column of the covariance for each sensitivity.
pub fn combined_correlated(sensitivities: &[f64], covariance: &DMatrix<f64>) -> Option<f64> {
    let rows = DMatrix::from_row_slice(1, sensitivities.len(), sensitivities);
    Some(
        covariance_of_results(&rows, covariance)?[(0, 0)]
            .max(0.0)
            .sqrt(),
    )
}

/// The covariance of several results of the same inputs (JCGM 101 supplement 2, 6.2.1): a row of
/// sensitivities a result.
///
/// `None` unless there is a row and a column of the covariance for each column of sensitivities.
pub fn covariance_of_results(
    sensitivities: &DMatrix<f64>,
    covariance: &DMatrix<f64>,
) -> Option<DMatrix<f64>> {
    let inputs = sensitivities.ncols();
    let fits = covariance.shape() == (inputs, inputs);
    fits.then(|| sensitivities * covariance * sensitivities.transpose())
}
