//! Location and scale that a few wild values do not move.

/// Median of the absolute values of a normal variable is its standard deviation over this.
const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// The middle value; the mean of the two middle ones for an even number. Reorders its input.
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    let half = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    let odd = values.len() % 2 == 1;
    let (below, &mut upper, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    if odd {
        return Some(upper);
    }
    let lower = below.iter().copied().max_by(f64::total_cmp)?;
    Some((lower + upper) / 2.0)
}

/// The value that `share` (0 to 1) of all lie at or below. Reorders its input.
pub(crate) fn quantile(values: &mut [f64], share: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = (share.clamp(0.0, 1.0) * last as f64).round() as usize;
    Some(*values.select_nth_unstable_by(at, f64::total_cmp).1)
}

/// Standard deviation of residuals about zero, from their median size. Reorders and makes its
/// input positive.
pub(crate) fn scale(residuals: &mut [f64]) -> Option<f64> {
    for residual in residuals.iter_mut() {
        *residual = residual.abs();
    }
    median(residuals).map(|middle| middle * MAD_TO_SIGMA)
}

/// Standard deviation of residuals about zero from the smaller four fifths of them, for readings
/// so coarse that most residuals are exactly zero and their median says nothing.
pub(crate) fn trimmed_scale(residuals: &mut [f64]) -> Option<f64> {
    // Of a normal variable within ± 1.2816 standard deviations, which holds 80 % of it, the mean
    // square is 1 - 2 z pdf(z) / 0.8.
    const MEAN_SQUARE_OF_80_PERCENT: f64 = 0.437_7;
    // A number of them, not all up to a size: of many that are alike as good as all may be larger by
    // the last digit.
    let kept = (residuals.len() * 4).div_ceil(5);
    let last = kept.checked_sub(1)?;
    residuals.select_nth_unstable_by(last, f64::total_cmp);
    let squares: f64 = residuals[..kept]
        .iter()
        .map(|residual| residual * residual)
        .sum();
    Some((squares / kept as f64 / MEAN_SQUARE_OF_80_PERCENT).sqrt())
}
