//! The best curve of a family that has several kinds, such as cams with and without a return.

use super::Curve;
use super::fitted::Other;
use super::land::Data;
use super::problem::{solved, whitened};
use super::report::{Scatter, Settled};
use super::settle::{ON_THE_WAY, least_of, nearest_place, settle};
use super::solve::Solution;
use super::start::by_freedom;
use crate::numeric::robust;

/// The best of some guesses and their kin.
pub(super) fn best(data: &Data, guesses: &[Curve]) -> Option<Settled> {
    let mut found: Vec<Settled> = Vec::new();
    for guesses in by_freedom(guesses).values().rev() {
        // Kin differ by so little that one of them finds the place, and the outlying points, for
        // all.
        let first = nearest_place(data, guesses).and_then(|(guess, _)| settle(data, &guess));
        let Some(first) = first else {
            continue;
        };
        let nearer = kin(data, &first)
            .filter(|(_, other)| least_of(other, &first.solution).is_lt())
            .min_by(|(_, one), (_, other)| least_of(one, other));
        match nearer {
            Some((curve, _)) => found.extend(settle(data, &curve)),
            None => found.push(first),
        }
    }
    let mut best = if found.len() > 1 {
        worth_most(data, found)?
    } else {
        found.pop()?
    };
    best.others = likely(data, &best);
    Some(best)
}

/// The one of those with more and with fewer parameters whose gain is worth its parameters.
fn worth_most(data: &Data, found: Vec<Settled>) -> Option<Settled> {
    let spreads: Vec<Vec<f64>> = found
        .iter()
        .map(|one| whitened(data, &one.curve, one.offset()))
        .collect();
    let least = spreads
        .iter()
        .map(|z| robust::scale_of_fit(z, 0))
        .fold(f64::INFINITY, f64::min);
    let price = (data.arcs.len() as f64).ln();
    let score = |z: &[f64], freedom: usize| {
        z.iter().map(|z| robust::huber_loss(z / least)).sum::<f64>() + price * freedom as f64
    };
    std::iter::zip(found, spreads)
        .map(|(one, z)| (score(&z, one.curve.freedom()), one))
        .min_by(|(one, _), (other, _)| one.total_cmp(other))
        .map(|(_, one)| one)
}

/// Where each of its kin rests, with the weights of the one given.
fn kin(data: &Data, of: &Settled) -> impl Iterator<Item = (Curve, Solution)> {
    let kin = of.curve.kin();
    kin.filter_map(|start| solved(data, &start, of.offset(), &of.weights, ON_THE_WAY))
}

/// Kin that might as well be the true one, each with its odds.
///
/// They have as many parameters, so that odds follow from the sums of squares alone. Those are
/// in units of what scatter and correlation leave of a point.
fn likely(data: &Data, best: &Settled) -> Vec<Other> {
    /// Odds that would not change any figure.
    const NONE: f64 = 1e-3;
    let kin: Vec<(Curve, Solution)> = kin(data, best).collect();
    if kin.is_empty() {
        return Vec::new();
    }
    let least = best.solution.residuals.norm_squared();
    let z = whitened(data, &best.curve, best.offset());
    let parameters = 1 + best.curve.freedom();
    let own = Scatter::of(data, &z, &best.weights.robust, parameters).unit_variance;
    let units = own / best.weights.inflation.powi(2);
    let mut others: Vec<Other> = kin
        .into_iter()
        .map(|(curve, solution)| Other {
            curve,
            offset: solution.parameters[0],
            odds: (-0.5 * (solution.residuals.norm_squared() - least).max(0.0) / units).exp(),
        })
        .filter(|other| other.odds > NONE)
        .collect();
    let all = 1.0 + others.iter().map(|other| other.odds).sum::<f64>();
    others.iter_mut().for_each(|other| other.odds /= all);
    others
}
