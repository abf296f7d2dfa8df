//! From a guess to where a curve rests: solve, weigh points by how far off they lie, solve again.

use super::Curve;
use super::land::Data;
use super::problem::{Weights, solved, whitened};
use super::report::{ENOUGH_TO_WEIGH, Scatter, Settled};
use super::solve::{Solution, SolveSettings};
use crate::numeric::robust::{self, Influence};
use std::cmp::Ordering;

/// Change of a weight that is none: it moves a curve by less than a hundredth of its uncertainty.
const STANDING: f64 = 0.01;
/// For steps on the way, whose weights are about to change.
pub(super) const ON_THE_WAY: SolveSettings = SolveSettings {
    tolerance: 1e-6,
    evaluations: 60,
    polish: false,
};

/// Where the best of several guesses leads with all points alike.
pub(super) fn nearest_place(data: &Data, guesses: &[Curve]) -> Option<(Curve, Solution)> {
    let even = Weights::even(data);
    guesses
        .iter()
        .filter_map(|guess| solved(data, guess, 0.0, &even, ON_THE_WAY))
        .min_by(|(_, one), (_, other)| least_of(one, other))
}

/// Solves and weighs in turn until weights stand still; `None` where the curve does not exist.
pub(super) fn settle(data: &Data, guess: &Curve) -> Option<Settled> {
    let count = data.arcs.len();
    let mut weights = Weights::even(data);
    let (mut curve, mut solution) = solved(data, guess, 0.0, &weights, ON_THE_WAY)?;
    if count >= ENOUGH_TO_WEIGH {
        for (influence, rounds, free_scale) in [(Influence::Huber, 4, 4), (Influence::Tukey, 20, 4)]
        {
            let mut scale = 0.0;
            for round in 0..rounds {
                let z = whitened(data, &curve, solution.parameters[0]);
                // A scale that went on changing could chase its own weights for ever.
                if round < free_scale {
                    scale = robust::scale_of_fit(&z, 1 + curve.freedom());
                }
                let mut moved = 0.0_f64;
                for (weight, z) in weights.robust.iter_mut().zip(&z) {
                    let new = influence.weight(z / scale);
                    moved = moved.max((new - *weight).abs());
                    *weight = new;
                }
                let offset = solution.parameters[0];
                (curve, solution) = solved(data, &curve, offset, &weights, ON_THE_WAY)?;
                if moved < STANDING {
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
    Some(Settled::new(curve, solution, weights))
}

/// Which of two leaves less.
pub(super) fn least_of(one: &Solution, other: &Solution) -> Ordering {
    one.residuals.norm().total_cmp(&other.residuals.norm())
}
