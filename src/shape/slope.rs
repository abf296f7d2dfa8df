//! The slope of the centre's path, by local quadratics.

use super::place::PathPoint;

/// Change of height per radian of arc at every point of the path, in mm.
///
/// Each slope is the linear term of a quadratic fitted to the points within `half_width` of arc
/// (radians), with tricube weights; where a side holds fewer than two points the window grows
/// until it does, but not over a `hole` (radians): what lies behind one says nothing of the slope
/// before it, unless so few points lie before it that they have none of their own. An error of the slope moves a recovered point along the surface, and only to
/// second order away from it, so this need not be sharp.
pub(super) fn slopes(path: &[PathPoint], half_width: f64, hole: f64) -> Vec<f64> {
    let joined = |i: &usize| path[i + 1].place.arc - path[*i].place.arc <= hole;
    let mut low = 0;
    let mut high = 0;
    (0..path.len())
        .map(|i| {
            let here = path[i].place.arc;
            while path[low].place.arc < here - half_width {
                low += 1;
            }
            high = high.max(i);
            while high + 1 < path.len() && path[high + 1].place.arc <= here + half_width {
                high += 1;
            }
            let (before, behind) = (i.saturating_sub(2), (i + 2).min(path.len() - 1));
            let mut first = low.min((before..i).rev().take_while(joined).last().unwrap_or(i));
            let mut last = high.max((i..behind).take_while(joined).last().map_or(i, |at| at + 1));
            if last < first + 2 {
                (first, last) = (first.min(before), last.max(behind));
            }
            local_slope(&path[first..=last], here, half_width)
        })
        .collect()
}

/// The same at the first point alone.
pub(super) fn first_slope(path: &[PathPoint], half_width: f64) -> Option<f64> {
    let here = path.first()?.place.arc;
    let inside = path.partition_point(|point| point.place.arc <= here + half_width);
    let points = path.get(..inside.max(3)).unwrap_or(path);
    Some(local_slope(points, here, half_width))
}

/// The linear term of a weighted quadratic about `here`.
fn local_slope(points: &[PathPoint], here: f64, half_width: f64) -> f64 {
    let reach = points
        .iter()
        .map(|point| (point.place.arc - here).abs())
        .fold(half_width, f64::max)
        * 1.001;
    // Moments of the offsets up to the fourth and of the heights with them up to the second, in
    // units of the reach so that the normal equations stay well scaled.
    let mut moment = [0.0; 5];
    let mut with_height = [0.0; 3];
    let level = points[points.len() / 2].place.height;
    for point in points {
        let x = (point.place.arc - here) / reach;
        let y = point.place.height - level;
        let weight = tricube(x);
        let mut power = weight;
        for (k, sum) in moment.iter_mut().enumerate() {
            *sum += power;
            if k < 3 {
                with_height[k] += power * y;
            }
            power *= x;
        }
    }
    quadratic_slope(&moment, &with_height)
        .map_or_else(|| chord(points), |per_reach| per_reach / reach)
}

fn tricube(x: f64) -> f64 {
    let rest = 1.0 - x.abs().powi(3);
    rest * rest * rest
}

/// Solves the 3x3 normal equations for the linear coefficient by Cramer's rule.
fn quadratic_slope(m: &[f64; 5], y: &[f64; 3]) -> Option<f64> {
    let determinant = m[0] * (m[2] * m[4] - m[3] * m[3]) - m[1] * (m[1] * m[4] - m[3] * m[2])
        + m[2] * (m[1] * m[3] - m[2] * m[2]);
    let numerator = m[0] * (y[1] * m[4] - m[3] * y[2]) - y[0] * (m[1] * m[4] - m[3] * m[2])
        + m[2] * (m[1] * y[2] - y[1] * m[2]);
    let scale = m[0] * m[2] * m[4];
    (determinant.abs() > 1e-9 * scale.abs()).then(|| numerator / determinant)
}

/// The slope from end to end, for windows with too few different places for a quadratic.
fn chord(points: &[PathPoint]) -> f64 {
    let (first, last) = (points[0].place, points[points.len() - 1].place);
    let across = last.arc - first.arc;
    if across > 0.0 {
        (last.height - first.height) / across
    } else {
        0.0
    }
}
