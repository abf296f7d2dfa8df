//! What several families share: a flat, and the line and bow of a land.

use super::shape::Point;
use crate::card::Surface;
use crate::fit::land::Data;
use crate::numeric::linear::least_squares;
use nalgebra::{DMatrix, DVector};

/// A plane with this relief angle `a` at an edge on the radius `R`.
pub(super) fn flat(surface: Surface, radius: f64, a: f64, phi: f64) -> Point {
    match surface {
        Surface::Radial => radial_flat(radius, a, phi),
        Surface::Axial => axial_flat(radius, a, phi),
    }
}

/// A plane seen along the radius: `r = R cos a / cos(phi - a)`.
pub(in crate::fit) fn radial_flat(radius: f64, a: f64, phi: f64) -> Point {
    let (sin, cos) = phi.sin_cos();
    let tan = a.tan();
    // q = cos(phi - a) / cos a, so r = R / q; q - 1 is written so that small arcs keep their digits.
    let q = cos + tan * sin;
    if q <= 0.0 {
        return Point::NOWHERE;
    }
    let half = (0.5 * phi).sin();
    Point::new(
        radius * (tan * sin - 2.0 * half * half) / q,
        radius * (tan * cos - sin) / (q * q),
        [radius * sin * (1.0 + tan * tan) / (q * q)],
    )
}

/// A plane seen along the axis, on the probe's circle: `d = R sin(phi) tan a`.
fn axial_flat(radius: f64, a: f64, phi: f64) -> Point {
    let (sin, cos) = phi.sin_cos();
    let tan = a.tan();
    Point::new(
        radius * sin * tan,
        radius * cos * tan,
        [radius * sin * (1.0 + tan * tan)],
    )
}

/// `tan a` and `c` of `d / R = tan a phi + c phi²` through the land.
pub(super) fn bow(data: &Data) -> (f64, f64) {
    let columns = if data.arcs.len() > 4 { 3 } else { 2 };
    let design = DMatrix::from_fn(data.arcs.len(), columns, |i, j| data.arcs[i].powi(j as i32));
    let observed = DVector::from_column_slice(&data.drops) / data.radius;
    match least_squares(&design, &observed) {
        Some(line) => (
            line.values[1].clamp(-1.0, 1.0),
            line.values.get(2).copied().unwrap_or(0.0),
        ),
        None => (0.1, 0.0),
    }
}
