//! Fits one family to a land: solve, weigh points by how far off they lie, solve again.

use super::cam::Law;
use super::diagnose::{Doubt, Neighbours, Trust, slow_part};
use super::land::Data;
use super::robust::{self, Influence};
use super::solve::{self, Problem, Solution, SolveSettings};
use super::{Curve, Family, Fit, FitSettings, Land, linear, start};
use crate::error::{Code, Error, Result};
use crate::quantity::{Estimate, Length};
use nalgebra::{DMatrix, DVector};

/// Fits a curve of one family.
///
/// Errors where the land has too few points for it, or no curve of the family reaches as far round
/// as the land does.
pub fn fit(land: &Land, family: Family, settings: &FitSettings) -> Result<Fit> {
    let data = Data::check(land)?;
    let family = family.on(land.surface);
    let warm = settings
        .start
        .filter(|curve| curve.family() == family && curve.surface() == land.surface)
        .map(|curve| curve.moved_to(land.radius, land.end));
    let guesses = match warm {
        Some(curve) => vec![curve],
        None => start::guesses(&data, land.surface, family),
    };
    let fewest = guesses.iter().map(fewest_points).min();
    if let Some(fewest) = fewest
        && data.arcs.len() < fewest
    {
        return Err(Error::new(
            Code::Curve,
            format!(
                "a curve of the family `{family}` needs at least {fewest} places, the land has {}",
                data.arcs.len()
            ),
        )
        .help("turn the tool more slowly past this tooth, or over more turns"));
    }
    let found = if family == Family::Cam {
        best_cam(&data, &guesses)
    } else {
        // Guesses after the first are for where the first does not exist.
        guesses.iter().find_map(|guess| settle(&data, guess))
    };
    found
        .map(|settled| report(&data, settled, settings))
        .ok_or_else(|| {
            Error::new(
                Code::Curve,
                format!(
                    "no curve of the family `{family}` describes a land that ends {:.1} deg behind its edge",
                    land.end.deg()
                ),
            )
            .help("let the data choose with `curve = \"auto\"`")
        })
}

/// Fits the same family again to a land that is almost the same, from where `of` ended and with
/// its weights: quick, and as smooth in the land as the curve itself.
pub fn refit(land: &Land, of: &Fit) -> Result<Fit> {
    let data = Data::check(land)?;
    let curve = of.curve.moved_to(land.radius, land.end);
    let settled = if of.weights.len() == data.arcs.len() {
        let weights = Weights {
            robust: of.weights.clone(),
            inflation: of.inflation,
        };
        solved(
            &data,
            &curve,
            of.edge_offset.value.mm(),
            &weights,
            SolveSettings::default(),
        )
        .map(|(curve, solution)| Settled {
            curve,
            solution,
            weights,
        })
    } else {
        settle(&data, &curve)
    };
    settled
        .map(|settled| report(&data, settled, &of.settings))
        .ok_or_else(|| {
            Error::new(
                Code::Curve,
                format!(
                    "no curve of the family `{}` near the first one describes the changed land",
                    of.family()
                ),
            )
        })
}

/// Points below which there is nothing left to see whether the curve is right.
fn fewest_points(curve: &Curve) -> usize {
    match curve.family() {
        Family::Cam => 12,
        _ => curve.freedom() + 3,
    }
}

/// Points below which an outlier cannot be told from the curve.
const ENOUGH_TO_WEIGH: usize = 10;
/// For steps on the way, whose weights are about to change.
const ON_THE_WAY: SolveSettings = SolveSettings {
    tolerance: 1e-8,
    evaluations: 60,
};

struct Weights {
    robust: Vec<f64>,
    inflation: f64,
}

struct Settled {
    curve: Curve,
    solution: Solution,
    weights: Weights,
}

impl Settled {
    fn offset(&self) -> f64 {
        self.solution.parameters[0]
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
                let (_, least, greatest) = self.curve.bounds(theta);
                (least, greatest)
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
            let (drop, _, change) = curve.at(self.data.arcs[i]);
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

fn solved(
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
    let first = std::iter::once(offset).chain(curve.theta().iter().copied());
    let start = DVector::from_iterator(1 + curve.freedom(), first);
    let solution = solve::solve(&problem, &start, settings);
    (solution.stop != solve::Stop::NoStart).then(|| {
        let theta = solution.parameters.iter().skip(1).copied();
        (curve.with_theta(theta), solution)
    })
}

/// Residuals in stated uncertainties.
fn whitened(data: &Data, curve: &Curve, offset: f64) -> Vec<f64> {
    (0..data.arcs.len())
        .map(|i| (offset + curve.at(data.arcs[i]).0 - data.drops[i]) / data.uncertainties[i])
        .collect()
}

/// Solves and weighs in turn until weights stand still; `None` where the curve does not exist.
fn settle(data: &Data, guess: &Curve) -> Option<Settled> {
    let count = data.arcs.len();
    let mut weights = Weights {
        robust: vec![1.0; count],
        inflation: 1.0,
    };
    let (mut curve, mut solution) = solved(data, guess, 0.0, &weights, ON_THE_WAY)?;
    if count >= ENOUGH_TO_WEIGH {
        for (influence, rounds, free_scale) in [(Influence::Huber, 4, 4), (Influence::Tukey, 20, 4)]
        {
            let mut scale = 0.0;
            for round in 0..rounds {
                let z = whitened(data, &curve, solution.parameters[0]);
                // A scale that went on changing could chase its own weights for ever.
                if round < free_scale {
                    scale = robust::scale(&z, 1 + curve.freedom());
                }
                let mut moved = 0.0_f64;
                for (weight, z) in weights.robust.iter_mut().zip(&z) {
                    let new = influence.weight(z / scale);
                    moved = moved.max((new - *weight).abs());
                    *weight = new;
                }
                let offset = solution.parameters[0];
                (curve, solution) = solved(data, &curve, offset, &weights, ON_THE_WAY)?;
                if moved < 1e-3 {
                    break;
                }
            }
        }
    }
    // What the points are worth beside the edge is known only now.
    let z = whitened(data, &curve, solution.parameters[0]);
    weights.inflation = Scatter::of(data, &z, &weights.robust, 1 + curve.freedom()).inflation;
    let offset = solution.parameters[0];
    let (curve, solution) = solved(data, &curve, offset, &weights, SolveSettings::default())?;
    Some(Settled {
        curve,
        solution,
        weights,
    })
}

/// The best cam of all laws, with or without a return.
fn best_cam(data: &Data, guesses: &[Curve]) -> Option<Settled> {
    let even = Weights {
        robust: vec![1.0; data.arcs.len()],
        inflation: 1.0,
    };
    let mut found: Vec<Settled> = Vec::new();
    for returns in [true, false] {
        let freedom = if returns { 5 } else { 3 };
        // The laws differ by little, so that one is enough to find the place to start from.
        let first = guesses
            .iter()
            .filter(|guess| guess.freedom() == freedom)
            .filter_map(|guess| solved(data, guess, 0.0, &even, ON_THE_WAY))
            .min_by(|(_, one), (_, other)| one.residuals.norm().total_cmp(&other.residuals.norm()));
        let Some((first, _)) = first else { continue };
        let laws = Law::ALL.into_iter();
        found.extend(laws.filter_map(|law| settle(data, &first.with_law(law))));
    }
    let spreads: Vec<Vec<f64>> = found
        .iter()
        .map(|one| whitened(data, &one.curve, one.offset()))
        .collect();
    let least = spreads
        .iter()
        .map(|z| robust::scale(z, 0))
        .fold(f64::INFINITY, f64::min);
    let price = (data.arcs.len() as f64).ln();
    let score = |z: &[f64], freedom: usize| {
        z.iter().map(|z| robust::huber_loss(z / least)).sum::<f64>() + price * freedom as f64
    };
    std::iter::zip(found, spreads)
        .map(|(one, z)| (score(&z, one.curve.freedom()), one))
        .min_by(|(one, _), (other, _)| one.total_cmp(other))
        .map(|(_, best)| best)
}

/// How residuals scatter, in stated uncertainties.
struct Scatter {
    neighbours: Neighbours,
    inflation: f64,
    kept: Vec<Option<f64>>,
}

impl Scatter {
    fn of(data: &Data, z: &[f64], weights: &[f64], parameters: usize) -> Self {
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
        let taken = parameters as f64 * together;
        let variance = if z.len() >= ENOUGH_TO_WEIGH {
            robust::variance(&used, robust::scale(&used, parameters), taken)
        } else {
            let squares: f64 = used.iter().map(|z| z * z).sum();
            squares / (used.len() as f64 - taken).max(1.0)
        };
        Self {
            neighbours,
            inflation: (variance * together).sqrt().max(1.0),
            kept,
        }
    }
}

/// Turns a solution into a fit with its covariance and its doubts.
fn report(data: &Data, settled: Settled, settings: &FitSettings) -> Fit {
    let offset = settled.offset();
    let Settled {
        curve,
        solution,
        weights,
    } = settled;
    let parameters = 1 + curve.freedom();
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
    let at_bound = solution
        .at_bound
        .iter()
        .filter_map(|j| j.checked_sub(1))
        .map(|j| curve.bounds(j).0)
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
        at_bound,
        outlying: 1.0 - used / z.len() as f64,
        coverage: data.coverage(),
        evaluations: solution.evaluations,
        covariance: known.matrix,
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

fn doubts(fit: &Fit, data: &Data, settings: &FitSettings) -> Vec<Doubt> {
    /// Condition number beyond which a linear covariance says little: of 16 digits and noise of a
    /// thousandth of the drop, nothing is left.
    const WORST_CONDITION: f64 = 1e5;
    const LEAST_SEEN: f64 = 0.7;
    const MOST_OUTLYING: f64 = 0.15;
    /// Slow waves below this share of all residuals are what chance makes of white noise.
    const CHANCE: f64 = 0.3;
    let parameters = 1 + fit.curve.freedom();
    let mut doubts = Vec::new();
    if !fit.stop.arrived() {
        doubts.push(Doubt::NotConverged);
    }
    // A cam may well start to fall at its edge or return without a dwell: neither is a fault.
    let harmless = ["lead", "return start"];
    let stuck = fit.at_bound.iter().filter(|name| !harmless.contains(name));
    doubts.extend(stuck.map(|name| Doubt::AtBound(name)));
    if fit.condition > WORST_CONDITION {
        doubts.push(Doubt::IllConditioned(fit.condition));
    }
    if fit.slow_residual > settings.systematic.max(fit.rms * CHANCE) {
        doubts.push(Doubt::Systematic(fit.slow_residual));
    }
    // Points that go together are fewer than they look, unless what goes together is small beside
    // what was stated of each.
    let points = if fit.inflation > 1.0 {
        fit.effective_points
    } else {
        data.arcs.len() as f64 * (1.0 - fit.outlying)
    };
    if points < parameters as f64 + 3.0 {
        doubts.push(Doubt::FewPoints { points, parameters });
    }
    if fit.coverage < LEAST_SEEN {
        doubts.push(Doubt::LittleSeen(fit.coverage));
    }
    if fit.outlying > MOST_OUTLYING {
        doubts.push(Doubt::ManyOutlying(fit.outlying));
    }
    let offset = fit.edge_offset.value;
    if let Some(edge) = data.edge
        && offset.abs() > settings.systematic.max(Length::from_mm(4.0 * edge))
    {
        doubts.push(Doubt::EdgeApart(offset));
    }
    doubts
}
