//! Flat, arc, spiral and log-spiral: drop behind the edge with its derivatives.
//!
//! Here lengths are in mm and angles in radians. `a` is the relief angle at the edge, `R` the edge
//! radius. Where no surface stands on the ray the drop is not a number, and callers treat that as
//! "there is no such curve".

/// Drop, its slope along the arc, and its change with the two parameters that a line may have.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// In mm.
    pub drop: f64,
    /// In mm per radian.
    pub slope: f64,
    /// In mm per unit of the parameter.
    pub change: [f64; 2],
}

const NOWHERE: Point = Point {
    drop: f64::NAN,
    slope: f64::NAN,
    change: [f64::NAN; 2],
};

/// A plane seen along the radius: `r = R cos a / cos(phi - a)`.
pub(super) fn radial_flat(radius: f64, a: f64, phi: f64) -> Point {
    let (sin, cos) = phi.sin_cos();
    let tan = a.tan();
    // q = cos(phi - a) / cos a, so r = R / q; q - 1 is written so that small arcs keep their digits.
    let q = cos + tan * sin;
    if q <= 0.0 {
        return NOWHERE;
    }
    let half = (0.5 * phi).sin();
    Point {
        drop: radius * (tan * sin - 2.0 * half * half) / q,
        slope: radius * (tan * cos - sin) / (q * q),
        change: [radius * sin * (1.0 + tan * tan) / (q * q), 0.0],
    }
}

/// A plane seen along the axis, on the probe's circle: `d = R sin(phi) tan a`.
pub(super) fn axial_flat(radius: f64, a: f64, phi: f64) -> Point {
    let (sin, cos) = phi.sin_cos();
    let tan = a.tan();
    Point {
        drop: radius * sin * tan,
        slope: radius * cos * tan,
        change: [radius * sin * (1.0 + tan * tan), 0.0],
    }
}

/// Constant rise: `d = R phi tan a`; the same on both surfaces.
pub(super) fn spiral(radius: f64, a: f64, phi: f64) -> Point {
    let tan = a.tan();
    Point {
        drop: radius * phi * tan,
        slope: radius * tan,
        change: [radius * phi * (1.0 + tan * tan), 0.0],
    }
}

/// Constant relief angle: `r = R exp(-phi tan a)`.
pub(super) fn log_spiral(radius: f64, a: f64, phi: f64) -> Point {
    let tan = a.tan();
    let shrink = (-phi * tan).exp();
    Point {
        drop: -radius * (-phi * tan).exp_m1(),
        slope: radius * tan * shrink,
        change: [radius * phi * shrink * (1.0 + tan * tan), 0.0],
    }
}

/// A circle through the edge, seen along the radius. `bend` is `R` over its radius: 1 for one as
/// large as the edge circle, 0 for a plane, negative where it is hollow.
///
/// With `k = bend / R`, a point `r` on the ray satisfies `k r² + 2 B r + C = 0`, where
/// `B = cos(phi - a) - bend cos phi` and `C = R (bend - 2 cos a)`.
pub(super) fn radial_arc(radius: f64, a: f64, bend: f64, phi: f64) -> Point {
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
        return NOWHERE;
    }
    // By the implicit function theorem; the derivative of the quadratic with r is twice the root.
    let over = 1.0 / (2.0 * root);
    let with_a = 2.0 * (r * sin_off + sin_a);
    let with_bend = r * r - 2.0 * r * cos + 1.0;
    let with_phi = 2.0 * r * (bend * sin - sin_off);
    Point {
        drop: radius * (1.0 - r),
        slope: radius * with_phi * over,
        change: [radius * with_a * over, radius * with_bend * over],
    }
}

/// A circle through the edge, on the unrolled probe's circle `x = R phi`; `bend` as above.
pub(super) fn axial_arc(radius: f64, a: f64, bend: f64, phi: f64) -> Point {
    let (sin_a, cos_a) = a.sin_cos();
    // In units of R: bend d² - 2 d cos a + q = 0.
    let q = bend * phi * phi + 2.0 * phi * sin_a;
    let root = (cos_a * cos_a - bend * q).sqrt();
    if root.is_nan() || root <= 0.0 {
        return NOWHERE;
    }
    let d = q / (cos_a + root);
    let over = 1.0 / (2.0 * root);
    let with_phi = 2.0 * (bend * phi + sin_a);
    let with_a = 2.0 * (phi * cos_a + d * sin_a);
    let with_bend = d * d + phi * phi;
    Point {
        drop: radius * d,
        slope: radius * with_phi * over,
        change: [radius * with_a * over, radius * with_bend * over],
    }
}
