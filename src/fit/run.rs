//! Fits one family to a land: solve, weigh points by how far off they lie, solve again.

use super::cam::Law;
use super::fitted::Other;
use super::land::Data;
use super::problem::{Weights, solved, whitened};
use super::report::{ENOUGH_TO_WEIGH, Scatter, Settled, report};
use super::solve::{Solution, SolveSettings};
use super::{Curve, Family, Fit, FitSettings, Land, free, start};
use crate::error::{Code, Error, Result};
use crate::numeric::robust::{self, Influence};
use crate::quantity::Angle;

/// Fits a curve of one family.
///
/// Errors where the land has too few points for it, or no curve of the family reaches as far round
/// as the land does.
pub fn fit(land: &Land, family: Family, settings: &FitSettings) -> Result<Fit> {
    let data = Data::check(land)?;
    let family = family.on(land.surface);
    enough(&data, family)?;
    let warm = settings
        .start
        .filter(|curve| curve.family() == family && curve.surface() == land.surface)
        .map(|curve| curve.moved_to(land.radius, land.end));
    let guesses = match warm {
        Some(curve) => vec![curve],
        None => start::guesses(&data, land.surface, family),
    };
    fit_from(&data, land, family, &guesses, settings)
}

/// Fits a curve of one family from the best of some guesses.
pub(super) fn fit_from(
    data: &Data,
    land: &Land,
    family: Family,
    guesses: &[Curve],
    settings: &FitSettings,
) -> Result<Fit> {
    let several = || best_place(data, guesses).and_then(|guess| settle(data, &guess));
    let found = match family {
        Family::Cam => best_cam(data, guesses),
        Family::Free => free::settled(data, land.surface, settings.systematic),
        Family::Facets => several(),
        _ if guesses.iter().any(|guess| guess.margin().is_some()) => several(),
        // Guesses after the first are for where the first does not exist.
        _ => guesses.iter().find_map(|guess| settle(data, guess)),
    };
    found
        .map(|settled| report(data, settled, settings))
        .ok_or_else(|| no_curve(&format!("of the family `{family}`"), land))
}

/// Fits a curve of one family behind a margin.
///
/// A margin is believed where places were read on it, or where the edge was measured by itself and so
/// stands lower than where the land's curve would begin. Errors as [`fit`].
pub fn fit_behind_margin(land: &Land, family: Family, settings: &FitSettings) -> Result<Fit> {
    let data = Data::check(land)?;
    let family = family.on(land.surface);
    let guesses = start::guesses_behind_margin(&data, land.surface, family);
    let fit = fit_from(&data, land, family, &guesses, settings)?;
    believed(&data, fit, land)
}

/// A fit behind a margin, if places were read on the margin or the edge was.
pub(super) fn believed(data: &Data, fit: Fit, land: &Land) -> Result<Fit> {
    /// Places that a margin must show.
    const LEAST_SEEN: usize = 3;
    let width = fit.curve.margin().unwrap_or(Angle::ZERO).rad();
    let seen = data.arcs.partition_point(|arc| *arc <= width);
    if (seen < LEAST_SEEN && data.edge.is_none()) || data.arcs.len() <= fit.parameters + LEAST_SEEN
    {
        let which = format!("`{}` behind a margin that was read", fit.family());
        return Err(no_curve(&which, land));
    }
    Ok(fit)
}

fn no_curve(which: &str, land: &Land) -> Error {
    Error::new(
        Code::Curve,
        format!(
            "no curve {which} describes a land that ends {:.1} deg behind its edge",
            land.end.deg()
        ),
    )
    .help("let the data choose with `curve = \"auto\"`")
}

/// Where the best of several guesses leads with all points alike.
fn best_place(data: &Data, guesses: &[Curve]) -> Option<Curve> {
    let even = Weights::even(data);
    guesses
        .iter()
        .filter_map(|guess| solved(data, guess, 0.0, &even, ON_THE_WAY))
        .min_by(|(_, one), (_, other)| least_of(one, other))
        .map(|(curve, _)| curve)
}

/// Fits the same family again to a land that is almost the same, from where `of` ended and with
/// its weights: quick, and as smooth in the land as the curve itself.
pub fn refit(land: &Land, of: &Fit) -> Result<Fit> {
    let data = Data::check(land)?;
    let curve = of.curve.moved_to(land.radius, land.end);
    let settled = if of.family() == Family::Free {
        free::settled(&data, land.surface, of.settings.systematic)
    } else if of.weights.len() == data.arcs.len() {
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
        .map(|(curve, solution)| Settled::new(curve, solution, weights))
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

/// Refuses a land with too few points for a family.
pub(super) fn enough(data: &Data, family: Family) -> Result<()> {
    let fewest = fewest_points(family);
    if data.arcs.len() >= fewest {
        return Ok(());
    }
    Err(Error::new(
        Code::Curve,
        format!(
            "a curve of the family `{family}` needs at least {fewest} places, the land has {}",
            data.arcs.len()
        ),
    )
    .help("turn the tool more slowly past this tooth, or over more turns"))
}

/// Points below which there is nothing left to see whether the curve is right: one more than there
/// are parameters, and for facets, a cam or a spline enough to see their parts.
fn fewest_points(family: Family) -> usize {
    match family {
        Family::Flat | Family::Spiral | Family::LogSpiral => 4,
        Family::Arc => 5,
        Family::Facets => 8,
        Family::Cam => 12,
        Family::Free => 30,
    }
}

/// Change of a weight that is none: it moves a curve by less than a hundredth of its uncertainty.
const STANDING: f64 = 0.01;
/// For steps on the way, whose weights are about to change.
pub(super) const ON_THE_WAY: SolveSettings = SolveSettings {
    tolerance: 1e-6,
    evaluations: 60,
    polish: false,
};

/// Solves and weighs in turn until weights stand still; `None` where the curve does not exist.
fn settle(data: &Data, guess: &Curve) -> Option<Settled> {
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

/// The best cam of all laws, with or without a return.
fn best_cam(data: &Data, guesses: &[Curve]) -> Option<Settled> {
    let mut found: Vec<Settled> = Vec::new();
    let (there, not): (Vec<Curve>, Vec<Curve>) = guesses.iter().partition(|guess| guess.returns());
    for guesses in [there, not] {
        // The laws differ by so little that one of them finds the place, and the outlying points,
        // for all.
        let first = best_place(data, &guesses).and_then(|guess| settle(data, &guess));
        let Some(first) = first else {
            continue;
        };
        let law = laws(data, &first)
            .filter(|(_, law)| least_of(law, &first.solution).is_lt())
            .min_by(|(_, one), (_, other)| least_of(one, other));
        match law {
            Some((curve, _)) => found.extend(settle(data, &curve)),
            None => found.push(first),
        }
    }
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
    let (_, mut best) = std::iter::zip(found, spreads)
        .map(|(one, z)| (score(&z, one.curve.freedom()), one))
        .min_by(|(one, _), (other, _)| one.total_cmp(other))?;
    best.others = other_laws(data, &best);
    Some(best)
}

fn least_of(one: &Solution, other: &Solution) -> std::cmp::Ordering {
    one.residuals.norm().total_cmp(&other.residuals.norm())
}

/// The same cam by each of the other laws, with the weights of the one given.
fn laws(data: &Data, of: &Settled) -> impl Iterator<Item = (Curve, Solution)> {
    let others = Law::ALL.into_iter();
    let others = others.filter(|law| Some(*law) != of.curve.law());
    others.filter_map(|law| {
        let start = of.curve.with_law(law);
        solved(data, &start, of.offset(), &of.weights, ON_THE_WAY)
    })
}

/// Cams of other laws that might as well be the true one, each with its odds.
///
/// The laws have as many parameters, so that odds follow from the sums of squares alone. Those are
/// in units of what scatter and correlation leave of a point.
fn other_laws(data: &Data, best: &Settled) -> Vec<Other> {
    /// Odds that would not change any figure.
    const NONE: f64 = 1e-3;
    let least = best.solution.residuals.norm_squared();
    let z = whitened(data, &best.curve, best.offset());
    let parameters = 1 + best.curve.freedom();
    let own = Scatter::of(data, &z, &best.weights.robust, parameters).unit_variance;
    let units = own / best.weights.inflation.powi(2);
    let mut others: Vec<Other> = laws(data, best)
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
