//! The residuals of a curve on a land, as the solver wants them.

use super::Curve;
use super::family::Point;
use super::land::Data;
use super::solve::{self, Problem, Solution, SolveSettings};
use nalgebra::{DMatrix, DVector};

/// What each point counts.
pub(super) struct Weights {
    /// From 0 for an outlying point to 1.
    pub robust: Vec<f64>,
    /// What stated uncertainties are multiplied with.
    pub inflation: f64,
}

impl Weights {
    /// Every point in full, at what was stated.
    pub fn even(data: &Data) -> Self {
        Self {
            robust: vec![1.0; data.arcs.len()],
            inflation: 1.0,
        }
    }
}

/// Residuals of offset and curve, whitened and weighted; last the edge's own, where it was measured.
struct LandProblem<'a> {
    data: &'a Data,
    curve: Curve,
    roots: Vec<f64>,
}

impl Problem for LandProblem<'_> {
    fn residuals(&self) -> usize {
        self.data.arcs.len() + usize::from(self.data.edge.is_some())
    }

    fn parameters(&self) -> usize {
        1 + self.curve.freedom()
    }

    fn bounds(&self, parameter: usize) -> (f64, f64) {
        match parameter.checked_sub(1) {
            None => (-self.data.radius, self.data.radius),
            Some(theta) => {
                let bound = self.curve.bound(theta);
                bound.map_or((0.0, 0.0), |bound| (bound.least, bound.greatest))
            }
        }
    }

    fn evaluate(
        &self,
        parameters: &DVector<f64>,
        residuals: &mut DVector<f64>,
        jacobian: &mut DMatrix<f64>,
    ) -> bool {
        let offset = parameters[0];
        let curve = self.curve.with_theta(parameters.iter().skip(1).copied());
        let freedom = self.curve.freedom();
        for (i, root) in self.roots.iter().enumerate() {
            let Point { drop, change, .. } = curve.at(self.data.arcs[i]);
            if !drop.is_finite() {
                return false;
            }
            residuals[i] = root * (offset + drop - self.data.drops[i]);
            jacobian[(i, 0)] = *root;
            for (j, slope) in change[..freedom].iter().enumerate() {
                jacobian[(i, j + 1)] = root * slope;
            }
        }
        if let Some(uncertainty) = self.data.edge {
            let last = self.roots.len();
            residuals[last] = offset / uncertainty;
            jacobian.row_mut(last).fill(0.0);
            jacobian[(last, 0)] = 1.0 / uncertainty;
        }
        true
    }
}

/// The curve of least squares near `curve` and `offset`; `None` where that does not exist.
pub(super) fn solved(
    data: &Data,
    curve: &Curve,
    offset: f64,
    weights: &Weights,
    settings: SolveSettings,
) -> Option<(Curve, Solution)> {
    let problem = LandProblem {
        data,
        curve: *curve,
        roots: std::iter::zip(&weights.robust, &data.uncertainties)
            .map(|(weight, u)| weight.sqrt() / (u * weights.inflation))
            .collect(),
    };
    let first = std::iter::once(offset).chain(curve.theta());
    let start = DVector::from_iterator(1 + curve.freedom(), first);
    let solution = solve::solve(&problem, &start, settings);
    (solution.stop != solve::Stop::NoStart).then(|| {
        let theta = solution.parameters.iter().skip(1).copied();
        (curve.with_theta(theta), solution)
    })
}

/// Residuals in stated uncertainties.
pub(super) fn whitened(data: &Data, curve: &Curve, offset: f64) -> Vec<f64> {
    (0..data.arcs.len())
        .map(|i| (offset + curve.at(data.arcs[i]).drop - data.drops[i]) / data.uncertainties[i])
        .collect()
}
