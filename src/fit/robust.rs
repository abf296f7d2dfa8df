//! Robust scale and weights: a chip or a bump of the table must not move a curve.

/// Makes the median absolute value estimate a normal's standard deviation: 1 / Φ⁻¹(3/4).
const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;
/// Tuning constants for 95 % efficiency at the normal (Holland and Welsch, 1977).
const TUKEY: f64 = 4.685;
const HUBER: f64 = 1.345;
/// Scales below this many stated uncertainties are rounding, not noise.
const LEAST_SCALE: f64 = 1e-7;

/// How weights fall with distance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Influence {
    /// Bounded, but never nothing: it has one minimum, and leads the way for the next.
    Huber,
    /// Nothing beyond 4.685 standard deviations.
    Tukey,
}

impl Influence {
    /// The weight of a residual of `z` standard deviations.
    pub fn weight(self, z: f64) -> f64 {
        match self {
            Influence::Huber => (HUBER / z.abs()).min(1.0),
            Influence::Tukey => {
                let rest = 1.0 - (z / TUKEY).powi(2);
                if rest > 0.0 { rest * rest } else { 0.0 }
            }
        }
    }
}

/// Twice Huber's loss: `z²` near 0, growing as `|z|` far out.
pub(super) fn huber_loss(z: f64) -> f64 {
    let z = z.abs();
    if z <= HUBER {
        z * z
    } else {
        HUBER * (2.0 * z - HUBER)
    }
}

/// Standard deviation of most of the residuals, seen from `parameters` fitted parameters.
pub(super) fn scale(residuals: &[f64], parameters: usize) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|value| value.abs()).collect();
    let n = sizes.len() as f64;
    // A fit brings residuals closer to 0 than errors are.
    let shrunk = (n / (n - parameters as f64).max(1.0)).sqrt();
    (median(&mut sizes).unwrap_or(0.0) * MAD_TO_SIGMA * shrunk).max(LEAST_SCALE)
}

/// Variance of one residual as the covariance needs it, and the scale's own loss of efficiency
/// with it: `s² mean(psi²) / mean(psi')²` over what was kept (Huber, *Robust Statistics*, 1981,
/// section 7.6), with `n - parameters` in place of `n`.
pub(super) fn variance(residuals: &[f64], scale: f64, parameters: f64) -> f64 {
    let (mut kept, mut squares, mut slopes) = (0.0, 0.0, 0.0);
    for z in residuals.iter().map(|value| value / scale) {
        let rest = 1.0 - (z / TUKEY).powi(2);
        if rest > 0.0 {
            kept += 1.0;
            squares += (z * rest * rest).powi(2);
            slopes += rest * (1.0 - 5.0 * (z / TUKEY).powi(2));
        }
    }
    // Half as many slopes as points would take errors that no robust scale could have passed.
    let slope = (slopes / kept).max(0.5);
    scale * scale * squares / (kept - parameters).max(1.0) / (slope * slope)
}

/// The middle value; the order of `values` is lost.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    let count = values.len();
    if count == 0 {
        return None;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(count / 2, f64::total_cmp);
    if count % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * (lower + upper))
}
