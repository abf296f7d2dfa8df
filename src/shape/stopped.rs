//! A reference whose plunger stood at an end of its travel over a part of the turn.

use super::round_arcs::Place;
use crate::quantity::{Angle, Length};
use nalgebra::{Matrix3, Vector3};
use std::f64::consts::TAU;

/// Of the turn the plunger stood still over at least this part, or the rest shows by itself
/// (chosen, no source) ...
const LEAST_STILL: f64 = 0.05;
/// ... and moved over at least this part, or what moved is a keyway (chosen, no source).
const LEAST_MOVED: f64 = 0.08;
/// A round is held off centre by less than this: a flat or a keyway would be the side of a round that
/// is held off centre by its radius (common practice, no source).
const FARTHEST: f64 = 0.3;
/// All but so many places lie on the round or stand still (chosen, no source).
const ASTRAY: f64 = 0.03;
/// The standing still must explain the readings by this much better than waves do, which have nine
/// numbers more (chosen, no source).
const BETTER: f64 = 1.5;
/// Where it stands still over this part of the turn, a bend that waves follow as well (chosen, no
/// source) ...
const LONG_STILL: f64 = 0.25;
/// ... and explain this much better at the most, as nine more numbers do by chance, is a stop: a round
/// that waves is not level over a quarter of a turn (chosen, no source) ...
const NO_BETTER: f64 = 0.8;
/// ... where that takes so many times what may be a matter of steps and scatter (chosen, no source).
const CLEARLY: f64 = 3.0;
const ROUNDS: usize = 20;

/// What stood still of a reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stopped {
    /// Whether it stood at the highest reading and not at the lowest.
    pub highest: bool,
    /// What it read there.
    pub level: Length,
    /// Over how much of the turn.
    pub arc: Angle,
    /// How far beyond that the round would have taken the plunger.
    pub missing: Length,
}

/// Whether the places are a round off centre that was cut off at one level; `floor` is what they
/// scatter by at the least, `step` the indicator's.
pub(super) fn stopped(places: &[Place], floor: f64, step: f64) -> Option<Stopped> {
    let scatter = floor.max(step / 12f64.sqrt());
    let either = [true, false].map(|highest| cut_off(places, scatter, step, highest));
    let found = either.into_iter().flatten();
    let (squares, stopped) = found.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let waved = waves_leave(places)?;
    let long = stopped.arc.rad() > LONG_STILL * TAU
        && stopped.missing.mm() > CLEARLY * near(scatter, step)
        && waved > NO_BETTER * squares;
    (long || waved > BETTER * squares).then_some(stopped)
}

/// What two readings at one level may differ by.
fn near(scatter: f64, step: f64) -> f64 {
    step.max(4.0 * scatter)
}

/// The mean square that a cut-off round leaves, with it.
fn cut_off(places: &[Place], scatter: f64, step: f64, highest: bool) -> Option<(f64, Stopped)> {
    let side = if highest { 1.0 } else { -1.0 };
    let count = places.len() as f64;
    let heights = || places.iter().map(|place| side * place.1);
    let top = heights().reduce(f64::max)?;
    let near = near(scatter, step);
    let mut still: Vec<bool> = heights().map(|height| top - height <= near).collect();
    let (mut level, mut round) = (top, [0.0; 3]);
    for _ in 0..ROUNDS {
        let at_level = still.iter().filter(|still| **still).count() as f64;
        if at_level < LEAST_STILL * count || count - at_level < LEAST_MOVED * count {
            return None;
        }
        let on_level = heights().zip(&still).filter(|(_, still)| **still);
        level = on_level.map(|(height, _)| height).sum::<f64>() / at_level;
        let moving = places.iter().zip(&still).filter(|(_, still)| !**still);
        round = through(moving.map(|(place, _)| (place.0, side * place.1)))?;
        let now: Vec<bool> = places
            .iter()
            .map(|place| read(round, place.0) > level)
            .collect();
        if now == still {
            break;
        }
        still = now;
    }
    let [mean, x, y] = round;
    let missing = mean + x.hypot(y) - level;
    let off = |place: &Place| side * place.1 - read(round, place.0).min(level);
    let mut left: Vec<f64> = places.iter().map(|place| off(place).powi(2)).collect();
    left.sort_unstable_by(f64::total_cmp);
    let most = left.get((count * (1.0 - ASTRAY)) as usize).copied()?;
    let squares = left.iter().sum::<f64>() / count;
    let fits = most.sqrt() <= 4.0 * scatter.max(step / 2.0) && x.hypot(y) < FARTHEST;
    let share = still.iter().filter(|still| **still).count() as f64 / count;
    (fits && missing > near).then_some((
        squares,
        Stopped {
            highest,
            level: Length::from_mm(side * level),
            arc: Angle::from_rad(share * TAU),
            missing: Length::from_mm(missing),
        },
    ))
}

fn read([mean, x, y]: [f64; 3], angle: f64) -> f64 {
    mean + x * angle.cos() + y * angle.sin()
}

fn through(places: impl Iterator<Item = Place>) -> Option<[f64; 3]> {
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for (angle, height) in places {
        let row = Vector3::new(1.0, angle.cos(), angle.sin());
        normal += row * row.transpose();
        right += row * height;
    }
    let found = normal.try_inverse()? * right;
    Some([found.x, found.y, found.z])
}

/// The mean square that the round and its waves up to seven leave of all places.
fn waves_leave(places: &[Place]) -> Option<f64> {
    let off: Vec<Option<f64>> = places.iter().map(|place| Some(place.1)).collect();
    super::lobes::left(places, &off).map(|left| left / places.len() as f64)
}
