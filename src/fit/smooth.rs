//! Smooths a land by a free curve: as stiff as the land makes it likely.

use super::Curve;
use super::diagnose::slow_part;
use super::family::free::{self, COEFFICIENTS, PARAMETERS, STIFF};
use super::family::{Base, Free};
use super::land::Data;
use super::problem::{Weights, whitened};
use super::report::{Scatter, Settled};
use super::solve::{Solution, Stop};
use crate::card::Surface;
use crate::numeric::robust::{self, Influence};
use crate::quantity::Length;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// The land's equations with some noise: sums of squares and products.
struct Equations {
    /// Rows: points, and last the edge where it was measured.
    design: DMatrix<f64>,
    observed: DVector<f64>,
    normal: DMatrix<f64>,
    right: DVector<f64>,
}

/// One smoothing.
struct Smooth {
    stiffness: f64,
    factor: Cholesky<f64, Dyn>,
    values: DVector<f64>,
    /// How likely the land is with this stiffness, as twice a log-likelihood.
    likelihood: f64,
}

impl Equations {
    fn of(data: &Data, straight: &Curve, weights: &Weights) -> Self {
        let points = data.arcs.len();
        let rows = points + usize::from(data.edge.is_some());
        let mut design = DMatrix::zeros(rows, PARAMETERS);
        let mut change = [0.0; COEFFICIENTS];
        let mut observed = DVector::zeros(rows);
        for i in 0..points {
            let root = weights.robust[i].sqrt() / (data.uncertainties[i] * weights.inflation);
            straight.change(data.arcs[i], &mut change);
            design[(i, 0)] = root;
            for (j, share) in change.iter().enumerate() {
                design[(i, j + 1)] = root * share;
            }
            observed[i] = root * data.drops[i];
        }
        if let Some(edge) = data.edge {
            design[(points, 0)] = 1.0 / edge;
        }
        Self {
            normal: design.tr_mul(&design),
            right: design.tr_mul(&observed),
            design,
            observed,
        }
    }

    /// Stiffness at which land and penalty weigh about the same.
    fn balance(&self, penalty: &DMatrix<f64>) -> f64 {
        (self.normal.trace() - self.normal[(0, 0)]) / penalty.trace()
    }

    fn smooth(&self, penalty: &DMatrix<f64>, stiffness: f64) -> Option<Smooth> {
        let factor = Cholesky::new(&self.normal + penalty * stiffness)?;
        let values = factor.solve(&self.right);
        let misfit = self.observed.norm_squared() - self.right.dot(&values);
        let logarithms: f64 = factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
        Some(Smooth {
            stiffness,
            likelihood: STIFF as f64 * stiffness.ln() - misfit - 2.0 * logarithms,
            factor,
            values,
        })
    }

    /// Parameters that the land really moved: the trace of what is left of it (ibid., section 5).
    fn spent(&self, smooth: &Smooth) -> f64 {
        smooth.factor.solve(&self.normal).trace()
    }

    fn smooths(&self, penalty: &DMatrix<f64>) -> impl Iterator<Item = Smooth> {
        let balance = self.balance(penalty);
        (-12..=14).filter_map(move |half_decades| {
            self.smooth(penalty, balance * 10f64.powf(f64::from(half_decades) / 2.0))
        })
    }
}

/// Parameters of the first smoothing, from which noise is judged; a softer one is tried where the
/// stiffer leaves more than matters (chosen, no source).
const PILOTS: [f64; 3] = [9.0, 14.0, 19.0];
const ROUNDS: usize = 8;

/// The spline whose stiffness is the likeliest (restricted likelihood: the spline is taken as one
/// of all those that the penalty makes likely).
///
/// The noise is what was stated, or what residuals show where that is more, correlation included;
/// it is judged first from a spline that is stiffer than most lands need. A spline left to find
/// its noise by itself would follow errors that go together and call the rest noise. Only slow
/// waves beyond `systematic`, which no gauge makes, are the land's own whatever they look like.
pub(super) fn settled(data: &Data, surface: Surface, systematic: Length) -> Option<Settled> {
    let mut found = None;
    for pilot in PILOTS {
        found = from_pilot(data, surface, pilot).or(found);
        let slow = found
            .as_ref()
            .map_or(f64::INFINITY, |settled| left(data, settled));
        if slow <= systematic.mm() {
            break;
        }
    }
    found
}

/// Root mean square of the slow waves that it leaves, in mm.
fn left(data: &Data, settled: &Settled) -> f64 {
    let z = whitened(data, &settled.curve, settled.offset());
    let kept: Vec<Option<f64>> = (0..z.len())
        .map(|i| (settled.weights.robust[i] > 0.0).then_some(z[i] * data.uncertainties[i]))
        .collect();
    slow_part(&kept)
}

fn from_pilot(data: &Data, surface: Surface, pilot: f64) -> Option<Settled> {
    let straight = Curve::new(Base::of(data, surface), Free::STRAIGHT);
    let bend = free::bend();
    let penalty = bend.tr_mul(&bend);
    let mut weights = Weights::even(data);
    let mut equations = Equations::of(data, &straight, &weights);
    let mut smooth = equations
        .smooths(&penalty)
        .find(|smooth| equations.spent(smooth) <= pilot)?;
    let mut spent = pilot;
    let mut curve = straight;
    for round in 0..=ROUNDS {
        curve = straight.with_theta(smooth.values.iter().skip(1).copied());
        let z = whitened(data, &curve, smooth.values[0]);
        if round == ROUNDS {
            break;
        }
        let parameters = spent.ceil() as usize;
        // No closer than was stated: what the penalty holds back on a land without noise is no chip.
        let scale = robust::scale_of_fit(&z, parameters).max(1.0);
        for (weight, z) in weights.robust.iter_mut().zip(&z) {
            *weight = Influence::Tukey.weight(z / scale);
        }
        weights.inflation = Scatter::of(data, &z, &weights.robust, parameters).inflation;
        equations = Equations::of(data, &straight, &weights);
        smooth = equations
            .smooths(&penalty)
            .max_by(|one, other| one.likelihood.total_cmp(&other.likelihood))?;
        spent = equations.spent(&smooth);
    }
    let stiff = bend * smooth.stiffness.sqrt();
    let held = &stiff * &smooth.values;
    let residuals = &equations.design * &smooth.values - &equations.observed;
    let rows = residuals.len();
    let mut jacobian = DMatrix::zeros(rows + STIFF, PARAMETERS);
    jacobian.rows_mut(0, rows).copy_from(&equations.design);
    jacobian.rows_mut(rows, STIFF).copy_from(&stiff);
    Some(Settled {
        curve,
        solution: Solution {
            residuals: DVector::from_iterator(
                rows + STIFF,
                residuals.iter().chain(held.iter()).copied(),
            ),
            parameters: smooth.values,
            // The likelihood of the stiffness is searched on a grid, each place of it exactly.
            jacobian,
            stop: Stop::Level,
            evaluations: ROUNDS,
            at_bound: Vec::new(),
        },
        weights,
        others: Vec::new(),
        parameters: spent.ceil() as usize,
        stiff,
    })
}
