//! The circle nearest to points, by orthogonal distance.

use crate::quantity::Length;
use nalgebra::{Matrix3, Vector3};

/// A circle in a plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Of its centre.
    pub x: Length,
    /// Of its centre.
    pub y: Length,
    /// Always positive.
    pub radius: Length,
}

/// A point in a plane.
pub type Point = (Length, Length);

/// Steps after which a fit that has not settled is given up; a few are usual.
const STEPS_MOST: usize = 200;
/// A step so small, as a share of the circle, is the last one ...
const SETTLED: f64 = 1e-13;
/// ... and one so small leads to the minimum by itself.
const NEAR: f64 = 1e-5;

/// The circle with the least sum of squared orthogonal distances to the points.
///
/// Nothing when fewer than three points are given or when a line would be nearer than any circle.
/// Gauss-Newton with halved steps from the algebraic circle (Gander, Golub, Strebel: Least-squares
/// fitting of circles and ellipses, BIT 34, 1994).
pub fn nearest_circle(points: &[Point]) -> Option<Circle> {
    let start = algebraic_circle(points)?;
    let points: Vec<(f64, f64)> = points.iter().map(|(x, y)| (x.mm(), y.mm())).collect();
    let mut now = Vector3::new(start.x.mm(), start.y.mm(), start.radius.mm());
    let mut squares = squared_distances(&points, &now);
    for _ in 0..STEPS_MOST {
        let mut step = gauss_newton(&points, &now)?;
        let size = step.norm() / now.norm();
        if size <= SETTLED {
            return circle(now + step);
        }
        // Far from the minimum a full step may go too far. Near it the sum is too flat to compare,
        // and no comparison is needed.
        let mut next = squared_distances(&points, &(now + step));
        while next > squares && step.norm() > NEAR * now.norm() {
            step *= 0.5;
            next = squared_distances(&points, &(now + step));
        }
        now += step;
        squares = next;
    }
    None
}

/// The circle with the least sum of squared `x² + y² - 2 a x - 2 b y - c` (Kåsa, 1976): a linear
/// problem, and a start for the nearest one. It is drawn towards small circles on short arcs.
pub fn algebraic_circle(points: &[Point]) -> Option<Circle> {
    if points.len() < 3 {
        return None;
    }
    let count = points.len() as f64;
    let (x0, y0) = (
        points.iter().map(|(x, _)| x.mm()).sum::<f64>() / count,
        points.iter().map(|(_, y)| y.mm()).sum::<f64>() / count,
    );
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for (x, y) in points {
        let (x, y) = (x.mm() - x0, y.mm() - y0);
        let row = Vector3::new(x, y, 1.0);
        normal += row * row.transpose();
        right += row * (x * x + y * y);
    }
    // Points on a line leave the centre open across it.
    let spread = normal[(0, 0)] + normal[(1, 1)];
    let across = normal[(0, 0)] * normal[(1, 1)] - normal[(0, 1)].powi(2);
    if across <= 1e-12 * spread * spread {
        return None;
    }
    let solved = normal.cholesky()?.solve(&right);
    let (a, b) = (solved.x / 2.0, solved.y / 2.0);
    let radius = (solved.z + a * a + b * b).sqrt();
    circle(Vector3::new(x0 + a, y0 + b, radius))
}

fn circle(values: Vector3<f64>) -> Option<Circle> {
    let usable = values.iter().all(|value| value.is_finite()) && values.z > 0.0;
    usable.then(|| Circle {
        x: Length::from_mm(values.x),
        y: Length::from_mm(values.y),
        radius: Length::from_mm(values.z),
    })
}

fn squared_distances(points: &[(f64, f64)], at: &Vector3<f64>) -> f64 {
    let distance = |&(x, y): &(f64, f64)| (x - at.x).hypot(y - at.y) - at.z;
    points.iter().map(|point| distance(point).powi(2)).sum()
}

/// One step: the linear least squares of the distances about where the circle is now.
fn gauss_newton(points: &[(f64, f64)], at: &Vector3<f64>) -> Option<Vector3<f64>> {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for (x, y) in points {
        let (dx, dy) = (x - at.x, y - at.y);
        let from_centre = dx.hypot(dy);
        if from_centre == 0.0 {
            continue;
        }
        let row = Vector3::new(dx / from_centre, dy / from_centre, 1.0);
        normal += row * row.transpose();
        right += row * (from_centre - at.z);
    }
    Some(normal.cholesky()?.solve(&right))
}
