//! The edge as the corner that the stylus rolls over, sharp or rounded.

use super::Tip;
use super::place::{PathPoint, Place, Plane};
use nalgebra::{Matrix3, Vector3};

/// A corner of the tool, found from the path of the stylus while it rode on it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Corner {
    /// Its highest place.
    pub place: Place,
    /// Radius of its rounding, as known or as fitted; below 0 where the tip is smaller than stated.
    /// mm.
    pub rounding: f64,
    /// Standard uncertainty of the rounding; 0 where it was not fitted. mm.
    pub rounding_uncertainty: f64,
    /// Standard uncertainty of the arc; radians.
    pub arc_uncertainty: f64,
    /// The part of it that the encoder's steps bring; radians.
    pub arc_steps: f64,
    /// Standard uncertainty of the height; mm.
    pub height_uncertainty: f64,
    /// How the corner answers to the height of each point that it was fitted to.
    pub answers: Vec<Answer>,
}

/// What one point of the path does to the corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Answer {
    /// Height of the point; mm.
    pub at: f64,
    /// Change of the corner's height with it; mm per mm.
    pub height: f64,
    /// Change of the corner's arc with it; radians per mm.
    pub arc: f64,
    /// Change of its rounding with it; mm per mm.
    pub rounding: f64,
}

/// Whether a corner is a point or has a radius that is to be found too.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Rounding {
    /// A radius that is taken as known; mm.
    Known(f64),
    Fitted,
}

impl Rounding {
    pub const SHARP: Self = Rounding::Known(0.0);
}

/// How often the fit is repeated; it converges quadratically, two or three rounds suffice.
const ROUNDS: usize = 12;

/// Fits the corner to path points that were taken while the stylus rode on it.
///
/// A ball's centre then runs on a circle about the corner, whose radius is the ball's and that of
/// the corner's rounding together; a flat's height over the axis is the corner's projection. `None`
/// when the points do not fix as many figures.
pub(super) fn fit_corner(
    points: &[PathPoint],
    plane: Plane,
    tip: Tip,
    start: Place,
    rounding: Rounding,
) -> Option<Corner> {
    let (fitted, from) = match rounding {
        Rounding::Known(radius) => (2, radius),
        Rounding::Fitted => (3, 0.0),
    };
    if points.len() < fitted {
        return None;
    }
    let local = Local::about(start, plane);
    let mut found = Vector3::new(0.0, start.height, from);
    for _ in 0..ROUNDS {
        let mut normal = Normal::of(rounding);
        for point in points {
            normal.add(&local.row(point, tip, found)?);
        }
        let step = normal.inverse()? * normal.right;
        found += step;
        if step.norm() < 1e-10 {
            break;
        }
    }
    let mut normal = Normal::of(rounding);
    let rows = points
        .iter()
        .map(|point| local.row(point, tip, found))
        .collect::<Option<Vec<Row>>>()?;
    for row in &rows {
        normal.add(row);
    }
    let inverse = normal.inverse()?;
    let place = local.place(found.x, found.y);
    let arm = plane.arm(place.height);
    let scatter = scatter_of(&rows, fitted);
    // Of the variance along the arc, what the angles of the points bring.
    let of_angles: f64 = rows
        .iter()
        .map(|row| ((inverse * row.by).x * row.weight * row.across).powi(2))
        .sum();
    let answers = points.iter().zip(&rows).map(|(point, row)| {
        let moved = inverse * row.by * (row.weight * row.up);
        Answer {
            at: point.place.height,
            height: moved.y,
            arc: moved.x / arm,
            rounding: if fitted > 2 { moved.z } else { 0.0 },
        }
    });
    let deviation = |at: usize| inverse[(at, at)].max(0.0).sqrt() * scatter;
    Some(Corner {
        answers: answers.collect(),
        place,
        rounding: found.z,
        rounding_uncertainty: if fitted > 2 { deviation(2) } else { 0.0 },
        arc_uncertainty: deviation(0) / arm,
        arc_steps: of_angles.min(inverse[(0, 0)]).sqrt() * scatter / arm,
        height_uncertainty: deviation(1),
    })
}

/// What the points' stated scatter must be multiplied with to be that between neighbours.
///
/// The indicator's error is common to neighbours and has a line of its own in every budget, and so
/// has what makes them stand off a corner together; a difference of neighbours holds neither. The
/// stated scatter is that of the whole trace, and counts as much as a few points.
fn scatter_of(rows: &[Row], fitted: usize) -> f64 {
    /// As many points as the stated scatter counts for (chosen, no source).
    const STATED: f64 = 4.0;
    let off = |row: &Row| row.residual * row.weight.sqrt();
    let differences = rows.windows(2).map(|pair| off(&pair[1]) - off(&pair[0]));
    let squares: f64 = differences
        .map(|difference| difference * difference / 2.0)
        .sum();
    let count = rows.len() as f64;
    // So many figures are fitted to as many points.
    let squares = squares * count / (count - fitted as f64).max(1.0);
    ((STATED + squares) / (STATED + count - 1.0)).sqrt()
}

/// Cartesian coordinates near the corner: x along the motion towards the heel, y up.
struct Local {
    origin: f64,
    plane: Plane,
}

/// One weighted residual with its derivatives.
struct Row {
    residual: f64,
    /// By the corner's coordinates and its rounding.
    by: Vector3<f64>,
    /// By the point's own height.
    up: f64,
    weight: f64,
    /// What the point's angle alone leaves open of the residual; mm.
    across: f64,
}

impl Local {
    fn about(start: Place, plane: Plane) -> Self {
        Self {
            origin: start.arc,
            plane,
        }
    }

    fn place(&self, x: f64, y: f64) -> Place {
        match self.plane {
            Plane::Polar => Place {
                arc: self.origin + x.atan2(y),
                height: x.hypot(y),
            },
            Plane::Unrolled { radius } => Place {
                arc: self.origin + x / radius,
                height: y,
            },
        }
    }

    fn xy(&self, place: Place) -> (f64, f64) {
        let arc = place.arc - self.origin;
        match self.plane {
            Plane::Polar => (place.height * arc.sin(), place.height * arc.cos()),
            Plane::Unrolled { radius } => (arc * radius, place.height),
        }
    }

    fn row(&self, point: &PathPoint, tip: Tip, found: Vector3<f64>) -> Option<Row> {
        let (x, y, rounding) = (found.x, found.y, found.z);
        let (residual, towards_x, towards_y) = match tip {
            Tip::Ball(radius) => {
                let (px, py) = self.xy(point.place);
                // The rounding's centre lies its radius below the corner's highest place.
                let (towards_x, towards_y) = (px - x, py - y + rounding);
                let distance = towards_x.hypot(towards_y);
                if distance <= 0.0 {
                    return None;
                }
                (
                    distance - radius.mm() - rounding,
                    towards_x / distance,
                    towards_y / distance,
                )
            }
            Tip::Flat(_) => {
                let (sin, cos) = (point.place.arc - self.origin).sin_cos();
                (point.place.height - (x * sin + y * cos), sin, cos)
            }
            Tip::Point => return None,
        };
        // A reading's scatter acts along the probe and an angle's across it.
        let across = point.steps * self.plane.arm(point.place.height);
        let variance = (point.scatter * towards_y).powi(2) + (across * towards_x).powi(2);
        Some(Row {
            residual,
            by: Vector3::new(towards_x, towards_y, 1.0 - towards_y),
            up: towards_y,
            weight: 1.0 / variance.max(SMALLEST_VARIANCE),
            across: across * towards_x,
        })
    }
}

/// Below a hundredth of a nanometre nothing is weighed any more; ideal data have no scatter. mm²
const SMALLEST_VARIANCE: f64 = 1e-16;

/// Normal equations of a corner's coordinates and its rounding.
struct Normal {
    matrix: Matrix3<f64>,
    right: Vector3<f64>,
    rounding: Rounding,
}

impl Normal {
    fn of(rounding: Rounding) -> Self {
        Self {
            matrix: Matrix3::zeros(),
            right: Vector3::zeros(),
            rounding,
        }
    }

    fn add(&mut self, row: &Row) {
        let by = match self.rounding {
            Rounding::Known(_) => Vector3::new(row.by.x, row.by.y, 0.0),
            Rounding::Fitted => row.by,
        };
        self.matrix += by * by.transpose() * row.weight;
        self.right += by * (row.weight * row.residual);
    }

    /// `None` where the points do not tell the figures apart. A rounding that is not fitted answers
    /// to nothing.
    fn inverse(&self) -> Option<Matrix3<f64>> {
        let m = &self.matrix;
        let pair = m[(0, 0)] * m[(1, 1)] - m[(0, 1)] * m[(0, 1)];
        if pair <= 1e-9 * m[(0, 0)] * m[(1, 1)] {
            return None;
        }
        match self.rounding {
            Rounding::Known(_) => {
                let mut inverse = Matrix3::zeros();
                inverse[(0, 0)] = m[(1, 1)] / pair;
                inverse[(1, 1)] = m[(0, 0)] / pair;
                inverse[(0, 1)] = -m[(0, 1)] / pair;
                inverse[(1, 0)] = inverse[(0, 1)];
                Some(inverse)
            }
            Rounding::Fitted => {
                let scale = m[(0, 0)] * m[(1, 1)] * m[(2, 2)];
                (m.determinant() > 1e-12 * scale).then(|| m.try_inverse())?
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::quantity::Length;

    const BALL: f64 = 0.5;
    const TOP: f64 = 10.0;

    /// The path of a ball over an edge that is rounded by this, up to its top and a little on.
    fn ride(rounding: f64) -> Vec<PathPoint> {
        let point = |at: u32| {
            let lean = f64::from(at) * 0.02 - 0.7;
            let reach = BALL + rounding;
            let (x, y) = (reach * lean.sin(), TOP - rounding + reach * lean.cos());
            PathPoint {
                place: Place {
                    arc: 1.0 + x.atan2(y),
                    height: x.hypot(y),
                },
                scatter: 0.0003,
                steps: 1e-5,
                cell: at as usize,
            }
        };
        (0..38).map(point).collect()
    }

    #[track_caller]
    fn check(rounding: f64, as_if: Rounding, found_um: f64, top_off_um: f64) {
        let start = Place {
            arc: 1.0,
            height: TOP,
        };
        let ball = Tip::Ball(Length::from_mm(BALL));
        let corner = fit_corner(&ride(rounding), Plane::Polar, ball, start, as_if).unwrap();
        let off = |found: f64, expected: f64| (found - expected).abs();
        assert!(off(corner.rounding * 1000.0, found_um) < 0.05, "{corner:?}");
        let top = (corner.place.height - TOP) * 1000.0;
        assert!(off(top, 0.0) <= top_off_um, "{corner:?}");
    }

    #[test]
    fn a_rounded_edge_stands_where_it_is_highest_and_shows_its_radius() {
        check(0.03, Rounding::Fitted, 30.0, 0.02);
        check(0.0, Rounding::Fitted, 0.0, 0.01);
        check(0.0, Rounding::SHARP, 0.0, 0.01);
    }

    #[test]
    fn a_ball_smaller_than_stated_shows_as_a_radius_below_0() {
        check(-0.05, Rounding::Fitted, -50.0, 0.02);
    }
}
