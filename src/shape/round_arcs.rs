//! Which arcs of a turn lie on one round, and the round's centre, whatever the other arcs do.

use crate::numeric::robust;
use nalgebra::{Matrix3, Vector3};
use std::f64::consts::TAU;

/// A place of the turn: angle in radians, reading in mm.
pub(super) type Place = (f64, f64);

/// The best of many guesses is the one to which this share of all places lies nearest: the rest, a
/// little under a half, may be flats (chosen, no source).
const SHARE: f64 = 0.55;
/// Of a normal variable that share lies within so many standard deviations.
const SHARE_WITHIN: f64 = 0.755_4;

/// Places to judge guesses by: a round is smooth, so more would say the same.
const JUDGES: usize = 180;

/// Flats, keyways and nicks are low, so little is believed of what lies below the round (chosen, no
/// source) ...
const MOST_BELOW: f64 = 3.0;
/// ... and more of what lies above it, where only dirt and burrs reach (chosen, no source).
const MOST_ABOVE: f64 = 4.0;

/// A stylus rolls over the corner of a flat before it reaches it, so its neighbourhood is left out
/// (chosen, no source).
const CORNER: f64 = 1.0 / 180.0 * std::f64::consts::PI;

/// A round as it runs in the spindle: `mean + x cos(angle) + y sin(angle)`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Round {
    pub mean: f64,
    pub x: f64,
    pub y: f64,
}

impl Round {
    /// What is read at an angle: exact for a circle of known radius, to first order otherwise.
    pub fn read(&self, angle: f64, radius: Option<f64>) -> f64 {
        let (sin, cos) = angle.sin_cos();
        self.first_order(sin, cos) + self.second_order(angle, radius)
    }

    fn first_order(&self, sin: f64, cos: f64) -> f64 {
        self.mean + self.x * cos + self.y * sin
    }

    /// What the exact circle reads less than a limacon.
    fn second_order(&self, angle: f64, radius: Option<f64>) -> f64 {
        let Some(radius) = radius else {
            return 0.0;
        };
        let (sin, cos) = angle.sin_cos();
        let across = self.y * cos - self.x * sin;
        // sqrt(R² - a²) - R, written so that no digits are lost.
        -across * across / (radius + (radius * radius - across * across).max(0.0).sqrt())
    }
}

/// A round, the places that lie on it, and how they scatter about it.
pub(super) struct Found {
    pub round: Round,
    /// One a place.
    pub kept: Vec<bool>,
    pub scatter: f64,
}

/// Finds the round that most of the turn lies on. `floor` is a scatter below which nothing is told
/// apart. Nothing when too few places are given.
pub(super) fn find(places: &[Place], radius: Option<f64>, floor: f64) -> Option<Found> {
    let mut round = best_guess(places)?;
    let mut sizes = residuals(places, &round, None);
    sizes.iter_mut().for_each(|size| *size = size.abs());
    let mut scatter = (robust::quantile(&mut sizes, SHARE)? / SHARE_WITHIN).max(floor);
    let mut kept = vec![true; places.len()];
    for _ in 0..30 {
        let off = residuals(places, &round, radius);
        let on_round = |off: f64| (-MOST_BELOW * scatter..MOST_ABOVE * scatter).contains(&off);
        let now: Vec<bool> = off.iter().map(|off| on_round(*off)).collect();
        let now = without_corners(places, now);
        round = least_squares(places, &now, radius, round)?;
        let off = residuals(places, &round, radius);
        let mut on: Vec<f64> = off
            .iter()
            .zip(&now)
            .filter(|(_, kept)| **kept)
            .map(|(off, _)| *off)
            .collect();
        scatter = robust::scale(&mut on)?.max(floor);
        let settled = now == kept;
        kept = now;
        if settled {
            break;
        }
    }
    Some(Found {
        round,
        kept,
        scatter,
    })
}

fn residuals(places: &[Place], round: &Round, radius: Option<f64>) -> Vec<f64> {
    let off = |(angle, reading): &Place| reading - round.read(*angle, radius);
    places.iter().map(off).collect()
}

/// Tries the rounds through three places, spread over the turn by a fixed plan so that the same
/// trace always gives the same answer.
fn best_guess(places: &[Place]) -> Option<Round> {
    let judges: Vec<Place> = spread(places, JUDGES);
    let count = judges.len();
    let mut sizes = vec![0.0; count];
    // Of those the quantile is one, with all that are greater.
    let beyond = count - robust::rank(count, SHARE)?;
    // Sines and cosines once a place, not once a guess.
    let turned: Vec<(f64, f64)> = judges.iter().map(|(angle, _)| angle.sin_cos()).collect();
    let mut best: Option<(f64, Round)> = None;
    // Gaps between the three, as shares of the turn, from a third of it each to a short arc.
    let shares = [0.08, 0.13, 0.2, 0.27, 1.0 / 3.0];
    let steps = shares.map(|share| ((share * count as f64) as usize).max(1));
    for first in (0..count).step_by(1 + count / 60) {
        'guesses: for (second, third) in steps
            .iter()
            .flat_map(|a| steps.iter().map(move |b| (*a, *b)))
        {
            let chosen = [0, second, second + third].map(|by| judges[(first + by) % count]);
            let Some(round) = through(chosen) else {
                continue;
            };
            // Once so many lie as far off as the best guess's quantile, this guess is no better.
            let least = best.map_or(f64::INFINITY, |(least, _)| least);
            let mut left = beyond;
            for ((size, (_, reading)), (sin, cos)) in sizes.iter_mut().zip(&judges).zip(&turned) {
                *size = (reading - round.first_order(*sin, *cos)).abs();
                left -= usize::from(*size >= least);
                if left == 0 {
                    continue 'guesses;
                }
            }
            let score = robust::quantile(&mut sizes, SHARE)?;
            if score < least {
                best = Some((score, round));
            }
        }
    }
    best.map(|(_, round)| round)
}

/// About `count` places evenly over the turn.
fn spread(places: &[Place], count: usize) -> Vec<Place> {
    let mut chosen: Vec<Place> = Vec::with_capacity(count);
    let mut next = 0.0;
    for place in places {
        if place.0 >= next {
            chosen.push(*place);
            next = (place.0 / TAU * count as f64).floor() / count as f64 * TAU + TAU / count as f64;
        }
    }
    chosen
}

/// The round through three places; nothing where they hardly determine it.
fn through(three: [Place; 3]) -> Option<Round> {
    let rows = three.map(|(angle, _)| [1.0, angle.cos(), angle.sin()]);
    let matrix = Matrix3::from_fn(|row, column| rows[row][column]);
    if matrix.determinant().abs() < 0.05 {
        return None;
    }
    let readings = Vector3::from_fn(|row, _| three[row].1);
    let solved = matrix.lu().solve(&readings)?;
    Some(Round {
        mean: solved.x,
        x: solved.y,
        y: solved.z,
    })
}

/// The round nearest to the kept places. The second order depends on the answer, but so little
/// that taking it from the last answer settles at once.
fn least_squares(
    places: &[Place],
    kept: &[bool],
    radius: Option<f64>,
    last: Round,
) -> Option<Round> {
    let normal = normal_matrix(places, kept).cholesky()?;
    let mut round = last;
    for _ in 0..3 {
        let mut right = Vector3::zeros();
        for (angle, reading) in kept_places(places, kept) {
            let row = Vector3::new(1.0, angle.cos(), angle.sin());
            right += row * (reading - round.second_order(angle, radius));
        }
        let solved = normal.solve(&right);
        round = Round {
            mean: solved.x,
            x: solved.y,
            y: solved.z,
        };
    }
    Some(round)
}

/// What the kept places tell about mean, x and y.
pub(super) fn normal_matrix(places: &[Place], kept: &[bool]) -> Matrix3<f64> {
    let mut normal = Matrix3::zeros();
    for (angle, _) in kept_places(places, kept) {
        let row = Vector3::new(1.0, angle.cos(), angle.sin());
        normal += row * row.transpose();
    }
    normal
}

fn kept_places<'a>(places: &'a [Place], kept: &'a [bool]) -> impl Iterator<Item = Place> + 'a {
    let both = places.iter().zip(kept);
    both.filter(|(_, kept)| **kept).map(|(place, _)| *place)
}

/// Leaves out what lies within a corner's reach of a place off the round, unless that is a lone
/// place, which is a blunder and no flat.
fn without_corners(places: &[Place], kept: Vec<bool>) -> Vec<bool> {
    let count = kept.len();
    let off = |at: usize| !kept[at % count];
    let mut without = kept.clone();
    for at in 0..count {
        if !off(at) || !(off(at + 1) || off(at + count - 1)) {
            continue;
        }
        let near = |other: usize| {
            let apart = (places[other].0 - places[at].0).abs();
            apart.min(TAU - apart) <= CORNER
        };
        let after = (1..count)
            .map(|by| (at + by) % count)
            .take_while(|other| near(*other));
        let before = (1..count)
            .map(|by| (at + count - by) % count)
            .take_while(|other| near(*other));
        for other in after.chain(before) {
            without[other] = false;
        }
    }
    without
}
