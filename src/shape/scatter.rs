//! How much a land scatters, as its own places show it.

use super::LandPlace;

/// A trace states one scatter for all of the turn, which the steep faces make larger than that of a
/// land: it counts as much as so many places of the land (chosen, no source).
const STATED: f64 = 10.0;
/// Places nearer to each other than so many may err alike; farther ones say more of the surface
/// than of chance (chosen, no source).
const LAGS: [usize; 2] = [1, 2];
/// So many of the smallest squares count: a burr or a step is no scatter (chosen, no source).
const COUNTED: f64 = 0.65;
/// Mean square of a standard normal variable within ± 0.9346, which holds that share of it.
const OF_COUNTED: f64 = 0.2587;

/// Multiplies the scatter of all places of a land by what they scatter more or less than stated
/// about parabolas through their neighbours.
///
/// What is common to neighbours (the indicator's error along its travel, its play) does not show
/// here and is not meant to: it has lines of its own in every budget.
pub(super) fn scatter_as_seen(land: &mut [LandPlace]) {
    let seen = LAGS.map(|lag| seen(land, lag));
    let factor = seen.into_iter().flatten().reduce(f64::max);
    if let Some(factor) = factor {
        for place in land {
            place.scatter = place.scatter * factor;
        }
    }
}

/// Scatter about parabolas through three places around, `lag` apart, in what was stated.
fn seen(land: &[LandPlace], lag: usize) -> Option<f64> {
    let windows = land.windows(3 * lag + 1);
    let mut squares: Vec<f64> = windows
        .filter_map(|window| square([window[0], window[lag], window[2 * lag], window[3 * lag]]))
        .collect();
    squares.sort_unstable_by(f64::total_cmp);
    squares.truncate((squares.len() as f64 * COUNTED).ceil() as usize);
    let count = squares.len() as f64;
    let sum = squares.iter().sum::<f64>() / OF_COUNTED;
    (count > 0.0).then(|| ((STATED + sum) / (STATED + count)).sqrt())
}

/// What the second of four places differs from the parabola through the others, squared, over its
/// variance as stated.
fn square(four: [LandPlace; 4]) -> Option<f64> {
    let [first, here, others @ ..] = four;
    let around = [first, others[0], others[1]];
    let (mut off, mut variance) = (0.0, here.scatter.mm().powi(2));
    for node in 0..3 {
        let weight: f64 = (0..3)
            .filter(|other| *other != node)
            .map(|other| (here.arc - around[other].arc) / (around[node].arc - around[other].arc))
            .product();
        off += weight * (here.drop - around[node].drop).mm();
        variance += (weight * around[node].scatter.mm()).powi(2);
    }
    let square = off * off / variance;
    square.is_finite().then_some(square)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Angle, Length};
    use rand::{Rng, SeedableRng};

    /// A land that falls and bends, with a scatter of 1 µm where `stated` is told.
    #[track_caller]
    fn check(stated_um: f64, true_um: f64) {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(1);
        // Twelve uniform draws make a normal one, well enough for a scatter.
        let mut normal = || (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
        let mut land: Vec<LandPlace> = (0..400)
            .map(|at| {
                let along = f64::from(at) * 0.05;
                let surface = 0.1 * along - along * along / 40.0;
                LandPlace {
                    arc: Angle::from_rad(along / 10.0),
                    drop: Length::from_mm(surface + true_um / 1000.0 * normal()),
                    scatter: Length::from_um(stated_um),
                }
            })
            .collect();
        // A burr is no scatter.
        for place in &mut land[100..103] {
            place.drop -= Length::from_um(40.0);
        }
        scatter_as_seen(&mut land);
        let found = land[0].scatter.um();
        // The stated scatter counts a little as well.
        assert!((found / true_um - 1.0).abs() < 0.2, "{found}");
    }

    #[test]
    fn places_that_scatter_less_than_stated_say_so() {
        check(1.2, 0.7);
    }

    #[test]
    fn places_that_scatter_more_than_stated_say_so() {
        check(0.3, 1.0);
    }

    #[test]
    fn a_land_of_few_places_keeps_what_was_stated() {
        let mut land: Vec<LandPlace> = (0..5)
            .map(|at| LandPlace {
                arc: Angle::from_rad(f64::from(at)),
                drop: Length::ZERO,
                scatter: Length::from_um(1.0),
            })
            .collect();
        scatter_as_seen(&mut land);
        assert!(land[0].scatter > Length::from_um(0.85));
    }
}
