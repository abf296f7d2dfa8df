//! How high an edge may stand that lies between readings: what a ball can hide there.

use super::place::{Place, Plane};

/// Bounds of the height of an edge between two places of a ball's centre; mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Heights {
    /// The ball was held up so high.
    pub least: f64,
    /// What stands higher would have held the ball up further at one of the places.
    pub greatest: f64,
}

/// The bounds from places of the centre in order, of which the edge lies between the one at
/// `before` and the next, or between that and the one after it, as `spans` says.
///
/// A corner nowhere stands in the ball. Between two places it is therefore no higher than where the
/// ball would touch it at both, the sagitta of their chord above the ball's lowest place, and no
/// higher than any other place near it lets it be. `None` where the ball could have passed the edge
/// between two places.
pub(super) fn heights(
    places: &[Place],
    before: usize,
    spans: usize,
    plane: Plane,
    ball: f64,
) -> Option<Heights> {
    let origin = places.get(before)?.arc;
    let flat: Vec<(f64, f64)> = places
        .iter()
        .map(|place| xy(*place, origin, plane))
        .collect();
    let height = |x: f64, y: f64| match plane {
        Plane::Polar => x.hypot(y),
        Plane::Unrolled { .. } => y,
    };
    let pairs = before..(before + spans).min(places.len().checked_sub(1)?);
    let mut greatest = None;
    for at in pairs.clone() {
        let (x, y) = touching(flat[at], flat[at + 1], ball)?;
        let below = |(cx, cy): &(f64, f64)| {
            let across = x - cx;
            let under = ball * ball - across * across;
            // A ball whose centre lies lower touches the face, if anything of this tooth.
            (under > 0.0 && *cy > y).then(|| cy - under.sqrt())
        };
        let y = flat.iter().filter_map(below).fold(y, f64::min);
        let here = height(x, y);
        greatest = Some(greatest.map_or(here, |most: f64| most.max(here)));
    }
    let held = places.get(pairs)?.iter().map(|place| place.height - ball);
    let least = held.fold(f64::NEG_INFINITY, f64::max);
    Some(Heights {
        least,
        greatest: greatest?.max(least),
    })
}

/// How far before an edge of this height a ball stands whose centre is at `height`, in mm; `None`
/// where it does not touch the edge.
pub(super) fn ahead(height: f64, edge: f64, ball: f64) -> Option<f64> {
    let up = height - edge;
    (up.abs() < ball).then(|| (ball * ball - up * up).sqrt())
}

/// Where a ball at both of two places of its centre touches the same corner below.
fn touching(one: (f64, f64), other: (f64, f64), ball: f64) -> Option<(f64, f64)> {
    let (dx, dy) = (other.0 - one.0, other.1 - one.1);
    let apart = dx.hypot(dy);
    let down = ball * ball - apart * apart / 4.0;
    (apart > 0.0 && down > 0.0).then(|| {
        let down = down.sqrt() / apart;
        (
            (one.0 + other.0) / 2.0 + dy * down,
            (one.1 + other.1) / 2.0 - dx * down,
        )
    })
}

fn xy(place: Place, origin: f64, plane: Plane) -> (f64, f64) {
    let arc = place.arc - origin;
    match plane {
        Plane::Polar => (place.height * arc.sin(), place.height * arc.cos()),
        Plane::Unrolled { radius } => (arc * radius, place.height),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const PLANE: Plane = Plane::Unrolled { radius: 1.0 };
    const BALL: f64 = 0.5;

    /// A ball that rolls over a corner at 0 and then over a margin as high.
    fn centres(at: &[f64]) -> Vec<Place> {
        let centre = |x: f64| match x {
            x if x < 0.0 => (BALL * BALL - x * x).sqrt(),
            _ => BALL,
        };
        at.iter()
            .map(|x| Place {
                arc: *x,
                height: centre(*x),
            })
            .collect()
    }

    #[track_caller]
    fn check(at: &[f64], spans: usize, hidden_most: f64) {
        let found = heights(&centres(at), 0, spans, PLANE, BALL).unwrap();
        assert!(
            found.least <= 1e-12 && found.greatest >= -1e-12,
            "{found:?}"
        );
        assert!(found.greatest <= hidden_most, "{found:?}");
    }

    #[test]
    fn an_edge_before_a_margin_stands_no_higher_than_the_sagitta_over_its_readings() {
        // Between two readings a ball hides the sagitta of their chord: 0.1² / 8 / 0.5.
        check(&[-0.05, 0.05, 0.15], 1, 0.0026);
        check(&[-0.2, 0.08, 0.36], 2, 0.0201);
        check(&[-0.01, 0.01, 0.03], 2, 0.0002);
    }

    #[test]
    fn a_gap_that_the_ball_fits_into_bounds_nothing() {
        assert_eq!(heights(&centres(&[-0.4, 0.7]), 0, 1, PLANE, BALL), None);
    }

    #[test]
    fn two_places_on_a_corner_fix_its_height() {
        let found = heights(&centres(&[-0.3, -0.1, 0.1]), 0, 1, PLANE, BALL).unwrap();
        assert!(found.greatest.abs() < 1e-12, "{found:?}");
    }
}
