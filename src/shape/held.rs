//! How high a corner may stand at an arc without having held a ball up higher than it was.

use super::Tip;
use super::place::{PathPoint, Place, Plane};
use super::view::View;
use std::ops::Range;

/// The greatest height of a corner at an arc under these places of a ball's centre, in mm; nothing
/// where none of them reaches it.
///
/// A corner nowhere stands in the ball: under each place it is at most on the ball's underside.
pub(super) fn most(points: &[PathPoint], at: f64, plane: Plane, ball: f64) -> Option<f64> {
    let heights = points
        .iter()
        .filter_map(|point| underside(point.place, at, plane, ball));
    heights.reduce(f64::min)
}

/// How many places at the end of a land would stand in the ball as it was a few readings before or
/// after: where a land ends in a burr the path bends too sharply to tell a slope, and with a slope
/// that is too steep a place comes out too high. `near` are the points about the land's end.
pub(super) fn unheld(view: &View, land: Range<usize>, near: Range<usize>) -> usize {
    let Tip::Ball(ball) = view.clamping.tip else {
        return 0;
    };
    let near = near.start.saturating_sub(HELD_BY)..(near.end + HELD_BY).min(view.path.len());
    let Some(points) = view.path.get(near) else {
        return 0;
    };
    let most_off = land.len().saturating_sub(KEPT).min(AT_END);
    let mut places: Vec<(Place, f64)> = land
        .map(|i| (view.touched(i), view.path[i].scatter))
        .collect();
    places.sort_by(|a, b| b.0.arc.total_cmp(&a.0.arc));
    let stands_in_ball = |(place, scatter): &&(Place, f64)| {
        let most = most(points, place.arc, view.plane, ball.mm());
        // The lowest of several undersides is too low by some of their scatter.
        let chance = CHANCE * scatter + LEAST_UNHELD_MM;
        most.is_some_and(|most| place.height > most + chance)
    };
    let at_end = places.iter().take(most_off);
    at_end.take_while(stands_in_ball).count()
}

/// So many readings to either side of the end of a land hold its heel (chosen, no source).
const HELD_BY: usize = 8;
/// Slopes are cut short at so many places at the end of a land (chosen, no source).
const AT_END: usize = 3;
/// A land keeps as many places as that (chosen, no source).
const KEPT: usize = 8;
/// What may be chance, in standard uncertainties (chosen, no source) ...
const CHANCE: f64 = 4.0;
/// ... and what is no matter (chosen, no source).
const LEAST_UNHELD_MM: f64 = 0.003;

/// Height of a ball's underside at an arc.
fn underside(centre: Place, at: f64, plane: Plane, ball: f64) -> Option<f64> {
    let across = at - centre.arc;
    let (up, aside) = match plane {
        Plane::Polar => (centre.height * across.cos(), centre.height * across.sin()),
        Plane::Unrolled { radius } => (centre.height, across * radius),
    };
    let below = ball * ball - aside * aside;
    (below > 0.0).then(|| up - below.sqrt())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const BALL: f64 = 0.5;

    /// Places of a ball of 0.5 mm that stands on a corner at arc 0 and height 10, so far before and
    /// behind it along the arc.
    fn on_corner(plane: Plane, across: &[f64]) -> Vec<PathPoint> {
        let each = across.iter().map(|x| {
            let y = 10.0 + (BALL * BALL - x * x).sqrt();
            let place = match plane {
                Plane::Polar => Place {
                    arc: x.atan2(y),
                    height: x.hypot(y),
                },
                Plane::Unrolled { radius } => Place {
                    arc: x / radius,
                    height: y,
                },
            };
            PathPoint {
                place,
                scatter: 0.0,
                steps: 0.0,
                cell: 0,
            }
        });
        each.collect()
    }

    #[test]
    fn a_ball_that_stands_on_a_corner_lets_it_be_as_high_as_it_is_and_no_higher() {
        for plane in [Plane::Polar, Plane::Unrolled { radius: 10.0 }] {
            let points = on_corner(plane, &[-0.2, 0.05, 0.3]);
            let most = |at: f64| super::most(&points, at, plane, BALL);
            assert!((most(0.0).unwrap() - 10.0).abs() < 1e-12, "{plane:?}");
            // Beside the corner less may stand.
            assert!(most(0.01).unwrap() < 10.0 && most(-0.01).unwrap() < 10.0);
            assert_eq!(most(0.2), None);
        }
    }
}
