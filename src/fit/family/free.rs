//! The free curve: a cubic spline held back from bending, where no other family is to be trusted.
//!
//! P. H. C. Eilers and B. D. Marx, *Flexible smoothing with B-splines and penalties*, 1996: more
//! knots than any land needs, and a penalty on what of the coefficients is not straight. A spline
//! without any bend is a `spiral`. It is the odd one among the families: it has more parameters than
//! [`Point`] holds, follows a margin by itself, and is smoothed (`src/fit/smooth.rs`) instead of solved for.

use super::shape::{Base, Bound, Point, Search, Shape};
use crate::card::Surface;
use crate::fit::land::Data;
use nalgebra::DMatrix;

/// Equal intervals between knots, from the edge to the end of the land (chosen, no source).
const INTERVALS: usize = 20;
const DEGREE: usize = 3;
/// Coefficients of the spline; the one that would lift the edge is left out.
pub(in crate::fit) const COEFFICIENTS: usize = INTERVALS + DEGREE - 1;
/// Offset and coefficients.
pub(in crate::fit) const PARAMETERS: usize = 1 + COEFFICIENTS;
/// Rows of the penalty: second differences of all coefficients, the edge's 0 among them.
pub(in crate::fit) const STIFF: usize = COEFFICIENTS - 1;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Free {
    coefficients: [f64; COEFFICIENTS],
}

impl Shape for Free {
    const FEWEST: usize = 30;
    const SEARCH: Search = Search::Smoothing;

    fn guesses(_: &Data, _: Surface) -> Vec<Self> {
        Vec::new()
    }

    fn map(self, _: &Base, mut next: impl FnMut(f64, Bound) -> f64) -> Self {
        let anything = Bound::new("spline", f64::NEG_INFINITY, f64::INFINITY);
        Self {
            coefficients: self.coefficients.map(|old| next(old, anything)),
        }
    }

    fn at(&self, base: &Base, phi: f64) -> Point {
        let (drop, slope) = self.along(base.end, phi, &mut [0.0; COEFFICIENTS]);
        Point::new(drop, slope, [])
    }
}

impl Free {
    /// Straight until its coefficients are given.
    pub const STRAIGHT: Free = Free {
        coefficients: [0.0; COEFFICIENTS],
    };

    /// Change in mm with each coefficient, on a land that ends at `end`.
    pub fn change(&self, end: f64, phi: f64) -> [f64; COEFFICIENTS] {
        let mut change = [0.0; COEFFICIENTS];
        let _ = self.along(end, phi, &mut change);
        change
    }

    /// Drop and slope; fills in those changes that are not 0.
    fn along(&self, end: f64, phi: f64, change: &mut [f64; COEFFICIENTS]) -> (f64, f64) {
        let width = end / INTERVALS as f64;
        let x = (phi / width).clamp(0.0, INTERVALS as f64);
        let (first, cubic, quadratic) = basis(x);
        let coefficient = |i: usize| i.checked_sub(1).map_or(0.0, |i| self.coefficients[i]);
        let mut drop = 0.0;
        for (share, i) in cubic.iter().zip(first..) {
            drop += share * coefficient(i);
            if let Some(own) = i.checked_sub(1) {
                change[own] = *share;
            }
        }
        let slope: f64 = quadratic
            .iter()
            .zip(first + 1..)
            .map(|(share, i)| {
                share * (coefficient(i) - coefficient(i - 1)) / (knot(i + DEGREE) - knot(i))
            })
            .sum();
        (drop, DEGREE as f64 * slope / width)
    }
}

/// Knots in units of an interval, those at the ends as often as the degree asks.
fn knot(i: usize) -> f64 {
    i.saturating_sub(DEGREE).min(INTERVALS) as f64
}

/// Index of the first cubic that is not 0 at `x`, the cubics there, and the quadratics
/// (Piegl and Tiller, *The NURBS Book*, 1997, algorithm A2.2).
fn basis(x: f64) -> (usize, [f64; DEGREE + 1], [f64; DEGREE]) {
    let first = (x as usize).min(INTERVALS - 1);
    let span = first + DEGREE;
    let mut shares = [1.0, 0.0, 0.0, 0.0];
    let mut quadratic = [0.0; DEGREE];
    for degree in 1..=DEGREE {
        if degree == DEGREE {
            quadratic.copy_from_slice(&shares[..DEGREE]);
        }
        let mut carried = 0.0;
        for (r, share) in shares[..degree].iter_mut().enumerate() {
            let (left, right) = (knot(span + 1 + r - degree), knot(span + r + 1));
            let part = *share / (right - left);
            *share = carried + (right - x) * part;
            carried = (x - left) * part;
        }
        shares[degree] = carried;
    }
    (first, shares, quadratic)
}

/// The bend of the coefficients, a row each, so that the sum of squares is about that of the
/// second derivative over the land, in intervals; its first column is the offset's.
pub(in crate::fit) fn bend() -> DMatrix<f64> {
    // Where a coefficient acts (Greville): straight coefficients over these make a straight spline.
    let place = |i: usize| (knot(i + 1) + knot(i + 2) + knot(i + 3)) / 3.0;
    let mut rows = DMatrix::zeros(STIFF, PARAMETERS);
    for row in 0..STIFF {
        let (before, after) = (place(row + 1) - place(row), place(row + 2) - place(row + 1));
        let weight = (0.5 * (before + after)).sqrt().recip();
        // Column 0 is the offset, which stands where the missing coefficient of the edge would.
        if row > 0 {
            rows[(row, row)] = weight / before;
        }
        rows[(row, row + 1)] = -weight * (1.0 / before + 1.0 / after);
        rows[(row, row + 2)] = weight / after;
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DVector;

    #[test]
    fn a_spline_of_straight_coefficients_is_straight_and_unbent() {
        let place = |i: usize| (knot(i + 1) + knot(i + 2) + knot(i + 3)) / 3.0;
        let coefficients = std::array::from_fn(|i| 0.7 * place(i + 1));
        let free = Free { coefficients };
        for step in 0..=97 {
            let phi = 0.5 * f64::from(step) / 97.0;
            let (drop, slope) = free.along(0.5, phi, &mut [0.0; COEFFICIENTS]);
            let width = 0.5 / INTERVALS as f64;
            assert!((drop - 0.7 * phi / width).abs() < 1e-12);
            assert!((slope - 0.7 / width).abs() < 1e-10);
        }
        let values = DVector::from_iterator(
            PARAMETERS,
            std::iter::once(3.0).chain(coefficients.iter().copied()),
        );
        assert!((bend() * values).amax() < 1e-12);
    }

    #[test]
    fn changes_add_up_to_one_beyond_the_first_interval() {
        for step in 0..=50 {
            let phi = 1.0 + 3.0 * f64::from(step) / 50.0;
            let change = Free::STRAIGHT.change(4.0, phi);
            assert!((change.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }
}
