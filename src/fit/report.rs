//! Turns a solution into a fit: scatter, covariance, doubts.

use super::diagnose::{Doubt, MOST_TAKEN, Neighbours, Trust, slow_part};
use super::family::Bound;
use super::fitted::Other;
use super::land::Data;
use super::problem::{Weights, whitened};
use super::solve::Solution;
use super::{Curve, Fit, FitSettings};
use crate::numeric::{linear, robust};
use crate::quantity::{Estimate, Length};
use nalgebra::DMatrix;

/// Points below which an outlier cannot be told from the curve (chosen, no source).
pub(super) const ENOUGH_TO_WEIGH: usize = 10;

/// Where solving and weighing came to rest.
pub(super) struct Settled {
    pub curve: Curve,
    pub solution: Solution,
    pub weights: Weights,
    /// Other curves that explain the land about as well, with their odds.
    pub others: Vec<Other>,
    /// Parameters that were fitted, the offset among them; of a free curve, what they come to.
    pub parameters: usize,
    /// Rows of the Jacobian that hold a free curve back; none for the others.
    pub stiff: DMatrix<f64>,
}

impl Settled {
    pub fn new(curve: Curve, solution: Solution, weights: Weights) -> Self {
        Self {
            parameters: 1 + curve.freedom(),
            curve,
            solution,
            weights,
            others: Vec::new(),
            stiff: DMatrix::zeros(0, 0),
        }
    }

    pub fn offset(&self) -> f64 {
        self.solution.parameters[0]
    }
}

/// How residuals scatter, in stated uncertainties.
pub(super) struct Scatter {
    pub neighbours: Neighbours,
    /// What stated uncertainties must be multiplied with, 1 or more.
    pub inflation: f64,
    /// Variance that a point would have if it were independent and as uncertain as scatter and
    /// correlation show, in squares of what was stated.
    pub unit_variance: f64,
    /// Residuals in stated uncertainties; `None` for a point left out.
    kept: Vec<Option<f64>>,
}

impl Scatter {
    pub fn of(data: &Data, z: &[f64], weights: &[f64], parameters: usize) -> Self {
        let kept: Vec<Option<f64>> = std::iter::zip(z, weights)
            .map(|(z, weight)| (*weight > 0.0).then_some(*z))
            .collect();
        let near = 3.0 * data.spacing;
        let neighbours = Neighbours::of(
            &kept,
            |i| data.arcs[i + 1] - data.arcs[i] <= near,
            parameters,
        );
        let used: Vec<f64> = kept.iter().flatten().copied().collect();
        let together = used.len() as f64 / neighbours.effective;
        // A fit takes as many independent errors out as it has parameters, and correlated errors
        // are fewer.
        let taken = (parameters as f64 * together).min(MOST_TAKEN * used.len() as f64);
        let taken = taken.max(parameters as f64);
        let variance = if z.len() >= ENOUGH_TO_WEIGH {
            robust::variance(&used, robust::scale_of_fit(&used, parameters), taken)
        } else {
            let squares: f64 = used.iter().map(|z| z * z).sum();
            squares / (used.len() as f64 - taken).max(1.0)
        };
        Self {
            neighbours,
            inflation: (variance * together).sqrt().max(1.0),
            unit_variance: variance * together,
            kept,
        }
    }
}

/// Turns a solution into a fit with its covariance and its doubts.
pub(super) fn report(data: &Data, settled: Settled, settings: &FitSettings) -> Fit {
    let offset = settled.offset();
    let Settled {
        curve,
        solution,
        weights,
        others,
        parameters,
        stiff,
    } = settled;
    let z = whitened(data, &curve, offset);
    let scatter = Scatter::of(data, &z, &weights.robust, parameters);
    let jacobian = evidence(&solution, &weights, scatter.inflation);
    let known = linear::covariance(&jacobian);

    let residuals: Vec<f64> = std::iter::zip(&z, &data.uncertainties)
        .map(|(z, u)| z * u)
        .collect();
    let kept: Vec<Option<f64>> = std::iter::zip(&scatter.kept, &residuals)
        .map(|(kept, residual)| kept.map(|_| *residual))
        .collect();
    let used = kept.iter().flatten().count() as f64;
    let squares: f64 = kept
        .iter()
        .flatten()
        .map(|residual| residual * residual)
        .sum();
    let effective = scatter.neighbours.effective;
    let held: Vec<usize> = solution
        .at_bound
        .iter()
        .filter_map(|j| j.checked_sub(1))
        .collect();
    let mut fit = Fit {
        edge_offset: Estimate::new(
            Length::from_mm(offset),
            Length::from_mm(known.matrix[(0, 0)].sqrt()),
        ),
        rms: Length::from_mm((squares / used.max(1.0)).sqrt()),
        stop: solution.stop,
        trust: Trust::default(),
        lag_correlation: scatter.neighbours.correlation,
        effective_points: effective,
        degrees_of_freedom: if scatter.inflation > 1.0 {
            (effective - parameters as f64).max(1.0)
        } else {
            f64::INFINITY
        },
        inflation: weights.inflation,
        slow_residual: Length::from_mm(slow_part(&kept)),
        condition: known.condition,
        at_bound: bounds(&held, &curve).map(|bound| bound.name).collect(),
        held,
        parameters,
        stiff,
        outlying: 1.0 - used / z.len() as f64,
        coverage: data.coverage(),
        evaluations: solution.evaluations,
        covariance: known.matrix,
        others,
        weights: weights.robust,
        settings: *settings,
        residuals,
        curve,
    };
    fit.trust.doubts = doubts(&fit, data, settings);
    fit
}

/// The Jacobian that the covariance rests on: every kept point counts in full, since what robust
/// weights take from it is in the inflation already (Huber's form of the sandwich).
fn evidence(solution: &Solution, weights: &Weights, inflation: f64) -> DMatrix<f64> {
    let mut jacobian = solution.jacobian.clone();
    for (i, weight) in weights.robust.iter().enumerate() {
        // Below this weight a point is out, and its row is nothing but rounding.
        let factor = if *weight > 1e-9 {
            weights.inflation / inflation / weight.sqrt()
        } else {
            0.0
        };
        jacobian.row_mut(i).scale_mut(factor);
    }
    jacobian
}

/// The bounds at which parameters are held.
fn bounds<'a>(held: &'a [usize], curve: &'a Curve) -> impl Iterator<Item = Bound> + 'a {
    held.iter().filter_map(|parameter| curve.bound(*parameter))
}

fn doubts(fit: &Fit, data: &Data, settings: &FitSettings) -> Vec<Doubt> {
    /// Condition number beyond which a linear covariance says little: of 16 digits and noise of a
    /// thousandth of the drop, nothing is left.
    const WORST_CONDITION: f64 = 1e5;
    /// A flat tip never touches the land near its edge, and the land is no less known for it
    /// (chosen, no source).
    const LEAST_SEEN: f64 = 0.5;
    /// Where more of the points than this lie apart from the curve, it is not theirs: chips, nicks and
    /// the ends of a land are fewer (chosen, no source).
    const MOST_OUTLYING: f64 = 0.15;
    /// Slow waves below this share of all residuals are what chance makes of white noise (chosen,
    /// no source).
    const CHANCE: f64 = 0.3;
    let parameters = fit.parameters;
    let mut doubts = Vec::new();
    if !fit.stop.arrived() {
        doubts.push(Doubt::NotConverged);
    }
    let stuck = bounds(&fit.held, &fit.curve).filter(|bound| !bound.harmless);
    doubts.extend(stuck.map(|bound| Doubt::AtBound(bound.name)));
    // A spline's own equations may be as close to singular as they like: its penalty is not.
    if fit.condition > WORST_CONDITION && fit.stiff.is_empty() {
        doubts.push(Doubt::IllConditioned(fit.condition));
    }
    if fit.slow_residual > settings.systematic.max(fit.rms * CHANCE) {
        doubts.push(Doubt::Systematic(fit.slow_residual));
    }
    // Points that go together say less than their number; that is in the uncertainty, and no doubt
    // unless what goes together is large.
    let points = data.arcs.len() as f64 * (1.0 - fit.outlying);
    if points < parameters as f64 + 3.0 {
        doubts.push(Doubt::FewPoints { points, parameters });
    }
    if fit.coverage < LEAST_SEEN {
        doubts.push(Doubt::LittleSeen(fit.coverage));
    }
    // Beside readings without noise anything stands out; what is too small to matter does not.
    let apart = |(residual, weight): (&f64, &f64)| {
        *weight < 1e-9 && residual.abs() > settings.immaterial.mm()
    };
    let material = std::iter::zip(&fit.residuals, &fit.weights)
        .filter(|point| apart(*point))
        .count() as f64
        / fit.residuals.len().max(1) as f64;
    if material > MOST_OUTLYING {
        doubts.push(Doubt::ManyOutlying(material));
    }
    let offset = fit.edge_offset.value;
    if let Some(edge) = data.edge
        && offset.abs() > settings.systematic.max(Length::from_mm(4.0 * edge))
    {
        doubts.push(Doubt::EdgeApart(offset));
    }
    doubts
}
