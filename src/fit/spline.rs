//! The cubic spline of the free curve: its drop, its slope, its bend.

use nalgebra::DMatrix;

/// Equal intervals between knots, from the edge to the end of the land.
const INTERVALS: usize = 20;
const DEGREE: usize = 3;
/// Coefficients of the spline; the one that would lift the edge is left out.
pub(super) const COEFFICIENTS: usize = INTERVALS + DEGREE - 1;
/// Offset and coefficients.
pub(super) const PARAMETERS: usize = 1 + COEFFICIENTS;
/// Rows of the penalty: second differences of all coefficients, the edge's 0 among them.
pub(super) const STIFF: usize = COEFFICIENTS - 1;

/// Drop and slope at `phi` on a land that ends at `end`; fills in the change with each coefficient.
pub(super) fn at(
    theta: &[f64; COEFFICIENTS],
    end: f64,
    phi: f64,
    change: &mut [f64; COEFFICIENTS],
) -> (f64, f64) {
    let width = end / INTERVALS as f64;
    let x = (phi / width).clamp(0.0, INTERVALS as f64);
    let (first, cubic, quadratic) = basis(x);
    let coefficient = |i: usize| i.checked_sub(1).map_or(0.0, |i| theta[i]);
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
pub(super) fn bend() -> DMatrix<f64> {
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
        let theta: [f64; COEFFICIENTS] = std::array::from_fn(|i| 0.7 * place(i + 1));
        for step in 0..=97 {
            let phi = 0.5 * f64::from(step) / 97.0;
            let (drop, slope) = at(&theta, 0.5, phi, &mut [0.0; COEFFICIENTS]);
            let width = 0.5 / INTERVALS as f64;
            assert!((drop - 0.7 * phi / width).abs() < 1e-12);
            assert!((slope - 0.7 / width).abs() < 1e-10);
        }
        let values = DVector::from_iterator(
            PARAMETERS,
            std::iter::once(3.0).chain(theta.iter().copied()),
        );
        assert!((bend() * values).amax() < 1e-12);
    }

    #[test]
    fn changes_add_up_to_one_beyond_the_first_interval() {
        for step in 0..=50 {
            let phi = 1.0 + 3.0 * f64::from(step) / 50.0;
            let mut change = [0.0; COEFFICIENTS];
            let _ = at(&[0.0; COEFFICIENTS], 4.0, phi, &mut change);
            assert!((change.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }
}
