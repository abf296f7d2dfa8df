//! Location, scale and weights that a chip, a bump of the table or a few wild values do not move.

/// Makes the median absolute value estimate a normal's standard deviation: 1 / Φ⁻¹(3/4).
const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;
/// Tuning constants for 95 % efficiency at the normal (Holland and Welsch, 1977).
const TUKEY: f64 = 4.685;
const HUBER: f64 = 1.345;
/// Scales below this many stated uncertainties are rounding, not noise.
const LEAST_SCALE: f64 = 1e-7;

/// The middle value; the mean of the two middle ones for an even number. Reorders its input.
pub fn median(values: &mut [f64]) -> Option<f64> {
    let count = values.len();
    if count == 0 {
        return None;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(count / 2, f64::total_cmp);
    if count % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().max_by(f64::total_cmp)?;
    Some(0.5 * (lower + upper))
}

/// The value that `share` (0 to 1) of all lie at or below. Reorders its input.
pub fn quantile(values: &mut [f64], share: f64) -> Option<f64> {
    let at = rank(values.len(), share)?;
    Some(*values.select_nth_unstable_by(at, f64::total_cmp).1)
}

/// Which of so many growing values that is, counted from 0.
pub fn rank(count: usize, share: f64) -> Option<usize> {
    let last = count.checked_sub(1)?;
    Some((share.clamp(0.0, 1.0) * last as f64).round() as usize)
}

/// Standard deviation of residuals about zero, from their median size. Reorders and makes its
/// input positive.
pub fn scale(residuals: &mut [f64]) -> Option<f64> {
    for residual in residuals.iter_mut() {
        *residual = residual.abs();
    }
    median(residuals).map(|middle| middle * MAD_TO_SIGMA)
}

/// Standard deviation of residuals about zero from the smaller four fifths of their sizes, for
/// readings so coarse that most residuals are exactly zero and their median says nothing.
pub fn trimmed_scale(sizes: &mut [f64]) -> Option<f64> {
    // Of a normal variable within ± 1.2816 standard deviations, which holds 80 % of it, the mean
    // square is 1 - 2 z pdf(z) / 0.8.
    const MEAN_SQUARE_OF_80_PERCENT: f64 = 0.437_7;
    // A number of them, not all up to a size: of many that are alike as good as all may be larger by
    // the last digit.
    let kept = (sizes.len() * 4).div_ceil(5);
    let last = kept.checked_sub(1)?;
    sizes.select_nth_unstable_by(last, f64::total_cmp);
    let squares: f64 = sizes[..kept].iter().map(|size| size * size).sum();
    Some((squares / kept as f64 / MEAN_SQUARE_OF_80_PERCENT).sqrt())
}

/// Standard deviation of most of the whitened residuals of a fit with so many parameters.
pub fn scale_of_fit(residuals: &[f64], parameters: usize) -> f64 {
    let n = residuals.len() as f64;
    // A fit brings residuals closer to 0 than errors are.
    let shrunk = (n / (n - parameters as f64).max(1.0)).sqrt();
    (scale(&mut residuals.to_vec()).unwrap_or(0.0) * shrunk).max(LEAST_SCALE)
}

/// How weights fall with distance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Influence {
    /// Bounded, but never nothing: it has one minimum, and leads the way for the next.
    Huber,
    /// Nothing beyond 4.685 standard deviations.
    Tukey,
}

impl Influence {
    /// The weight of a residual of `z` standard deviations.
    pub fn weight(self, z: f64) -> f64 {
        match self {
            Influence::Huber => huber_weight(z, HUBER),
            Influence::Tukey => {
                let rest = 1.0 - (z / TUKEY).powi(2);
                if rest > 0.0 { rest * rest } else { 0.0 }
            }
        }
    }
}

/// Weight of a residual of `z` standard deviations, full up to `tuning` of them (Huber, 1964).
pub fn huber_weight(z: f64, tuning: f64) -> f64 {
    (tuning / z.abs()).min(1.0)
}

/// Twice Huber's loss: `z²` near 0, growing as `|z|` far out.
pub fn huber_loss(z: f64) -> f64 {
    let z = z.abs();
    if z <= HUBER {
        z * z
    } else {
        HUBER * (2.0 * z - HUBER)
    }
}

/// Variance of one residual as the covariance needs it, and the scale's own loss of efficiency
/// with it: `s² mean(psi²) / mean(psi')²` over what was kept (Huber, *Robust Statistics*, 1981,
/// section 7.6), with `n - parameters` in place of `n`.
pub fn variance(residuals: &[f64], scale: f64, parameters: f64) -> f64 {
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
