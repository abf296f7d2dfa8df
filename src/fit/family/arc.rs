//! A circle through the edge, convex or hollow.

use super::lines;
use super::shape::{Base, Bound, Point, Shape};
use crate::card::Surface;
use crate::fit::land::Data;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Arc {
    /// At the edge.
    pub relief: f64,
    /// `R` over the circle's radius: 1 for one as large as the edge circle, 0 for a plane, negative
    /// where it is hollow.
    pub bend: f64,
}

impl Shape for Arc {
    const FEWEST: usize = 5;

    fn guesses(data: &Data, surface: Surface) -> Vec<Self> {
        let (tan, c) = lines::bow(data);
        // Curvature of a curve in polar (radial) or plain (axial) coordinates, times the radius.
        let (round, bent) = match surface {
            Surface::Radial => (1.0, 1.0 + 2.0 * tan * tan + 2.0 * c),
            Surface::Axial => (0.0, 2.0 * c),
        };
        let relief = tan.atan();
        [bent / (1.0 + tan * tan).powf(1.5), round]
            .map(|bend| Self { relief, bend })
            .to_vec()
    }

    fn map(self, _: &Base, mut next: impl FnMut(f64, Bound) -> f64) -> Self {
        Self {
            relief: next(self.relief, Bound::relief("relief angle")),
            bend: next(self.bend, Bound::new("curvature", -50.0, 50.0)),
        }
    }

    fn at(&self, base: &Base, phi: f64) -> Point {
        match base.surface {
            Surface::Radial => radial(base.radius, self.relief, self.bend, phi),
            Surface::Axial => axial(base.radius, self.relief, self.bend, phi),
        }
    }

    fn figures(&self, base: &Base) -> Vec<(&'static str, f64)> {
        let curvature = self.bend / base.radius;
        let mut list = vec![("curvature_per_mm", curvature)];
        // A circle flatter than this is a plane on any land, and its radius says nothing.
        if curvature.abs() > 1e-6 {
            list.push(("radius_mm", 1.0 / curvature));
        }
        list
    }
}

/// Seen along the radius.
///
/// With `k = bend / R`, a point `r` on the ray satisfies `k r² + 2 B r + C = 0`, where
/// `B = cos(phi - a) - bend cos phi` and `C = R (bend - 2 cos a)`.
fn radial(radius: f64, a: f64, bend: f64, phi: f64) -> Point {
    let (sin, cos) = phi.sin_cos();
    let (sin_off, cos_off) = (phi - a).sin_cos();
    let (sin_a, cos_a) = a.sin_cos();
    let b = cos_off - bend * cos;
    // Everything below is in units of R.
    let c = bend - 2.0 * cos_a;
    let root = (b * b - bend * c).sqrt();
    // The far meeting with a convex circle is the near one with a hollow one: the same root. Of its
    // two forms the one is taken that does not subtract like from like.
    let r = if b > 0.0 {
        -c / (b + root)
    } else {
        (root - b) / bend
    };
    if root.is_nan() || root <= 0.0 || r.is_nan() || r <= 0.0 {
        return Point::NOWHERE;
    }
    // By the implicit function theorem; the derivative of the quadratic with r is twice the root.
    let over = 1.0 / (2.0 * root);
    let with_a = 2.0 * (r * sin_off + sin_a);
    let with_bend = r * r - 2.0 * r * cos + 1.0;
    let with_phi = 2.0 * r * (bend * sin - sin_off);
    Point::new(
        radius * (1.0 - r),
        radius * with_phi * over,
        [radius * with_a * over, radius * with_bend * over],
    )
}

/// On the unrolled probe's circle `x = R phi`.
fn axial(radius: f64, a: f64, bend: f64, phi: f64) -> Point {
    let (sin_a, cos_a) = a.sin_cos();
    // In units of R: bend d² - 2 d cos a + q = 0.
    let q = bend * phi * phi + 2.0 * phi * sin_a;
    let root = (cos_a * cos_a - bend * q).sqrt();
    if root.is_nan() || root <= 0.0 {
        return Point::NOWHERE;
    }
    let d = q / (cos_a + root);
    let over = 1.0 / (2.0 * root);
    let with_phi = 2.0 * (bend * phi + sin_a);
    let with_a = 2.0 * (phi * cos_a + d * sin_a);
    let with_bend = d * d + phi * phi;
    Point::new(
        radius * d,
        radius * with_phi * over,
        [radius * with_a * over, radius * with_bend * over],
    )
}
