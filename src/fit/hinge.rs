//! Where a land bends: a search over every place that it could, by straight lines that meet there.

use super::land::Data;
use crate::numeric::robust::median;
use nalgebra::{Matrix3, Vector3};

/// Stretches of a land that the search looks at; the solver has all points (chosen, no source).
const STRETCHES: usize = 80;
/// How many of the best places are handed on (chosen, no source).
const BEST: usize = 2;

/// The likeliest widths of a margin, as arcs: where a land that was level begins to bend away.
pub(super) fn margins(data: &Data) -> Vec<f64> {
    let mut typical = data.uncertainties.clone();
    let point = median(&mut typical).unwrap_or(1.0);
    // The edge is one more place of the margin, worth what it was measured to.
    let edge = data.edge.map_or(0.0, |edge| (point / edge).powi(2));
    let bend = |x: f64, at: f64| {
        let past = (x - at).max(0.0);
        [past, past * past]
    };
    let found = search(&thinned(data), edge, bend);
    found.into_iter().map(|(at, _)| at).collect()
}

/// Arc and middle drop of each stretch.
pub(super) fn thinned(data: &Data) -> Vec<[f64; 2]> {
    let length = data.arcs.len().div_ceil(STRETCHES).max(1);
    let stretches = std::iter::zip(data.arcs.chunks(length), data.drops.chunks(length));
    stretches
        .filter_map(|(arcs, drops)| {
            let arc = arcs.iter().sum::<f64>() / arcs.len() as f64;
            Some([arc, median(&mut drops.to_vec())?])
        })
        .collect()
}

/// Places of the best bends with their lines, by `1` and two columns that depend on the place; the
/// origin counts as a place of weight `origin`.
pub(super) fn search(
    places: &[[f64; 2]],
    origin: f64,
    columns: impl Fn(f64, f64) -> [f64; 2],
) -> Vec<(f64, [f64; 3])> {
    let misfit = |at: f64| {
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        let mut squares = 0.0;
        normal[(0, 0)] = origin;
        for [x, y] in places {
            let [one, two] = columns(*x, at);
            let row = Vector3::new(1.0, one, two);
            normal += row * row.transpose();
            right += row * *y;
            squares += y * y;
        }
        let line = normal.cholesky()?.solve(&right);
        Some((squares - right.dot(&line), at, [line[0], line[1], line[2]]))
    };
    let inner = places.len().saturating_sub(3);
    // Where the origin counts, the bend may lie before the first place.
    let before = places.first().filter(|_| origin > 0.0);
    let before = before.map(|[x, _]| x / 2.0).into_iter();
    let tried: Vec<_> = before
        .chain(places[..inner].iter().map(|[x, _]| *x))
        .filter_map(misfit)
        .collect();
    let mut bends: Vec<_> = (0..tried.len())
        .filter(|&i| {
            let here = tried[i].0;
            let before = i.checked_sub(1).map_or(f64::INFINITY, |i| tried[i].0);
            let after = tried.get(i + 1).map_or(f64::INFINITY, |next| next.0);
            here <= before && here <= after
        })
        .map(|i| tried[i])
        .collect();
    bends.sort_by(|one, other| one.0.total_cmp(&other.0));
    bends
        .into_iter()
        .take(BEST)
        .map(|(_, at, line)| (at, line))
        .collect()
}
