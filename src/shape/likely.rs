//! How round an edge is likely to be, by what is usual and by what was seen of it.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// Edges of ground tools are rounded by a few micrometres when keen and by some thirty when worn: the
/// mean of an exponential distribution of their radius (common practice, no source). A keener one is
/// the safer guess of two: an edge that is taken for rounder stands higher, and clears by more. mm
const USUAL: f64 = 0.008;
/// What the indicator and the ball leave open of a radius beside the scatter of the readings: a
/// micrometre in the height of a ride that is a third of the ball's radius long. mm
const NEVER_NEARER: f64 = 0.003;
/// Further below 0 than this, in standard uncertainties, a truncated normal is an exponential.
const FAR: f64 = 6.0;

/// The radius of an edge's rounding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct EdgeRounding {
    /// Its mean; mm.
    pub radius: f64,
    /// Its standard deviation; mm.
    pub deviation: f64,
}

impl EdgeRounding {
    /// Of an edge of which nothing was seen.
    pub fn usual() -> Self {
        Self::of(None)
    }

    /// Of an edge whose readings ask for `seen`, a radius with its standard uncertainty: both together
    /// are a normal distribution cut off at 0.
    pub fn of(seen: Option<(f64, f64)>) -> Self {
        let Some((radius, uncertainty)) = seen else {
            return Self {
                radius: USUAL,
                deviation: USUAL,
            };
        };
        let scale = uncertainty.hypot(NEVER_NEARER);
        let (mean, deviation) = above_zero(radius / scale - scale / USUAL);
        Self {
            radius: mean * scale,
            deviation: deviation * scale,
        }
    }
}

/// Mean and standard deviation of a normal distribution about `mode` with a deviation of 1 that is
/// cut off at 0 (Johnson, Kotz, Balakrishnan: Continuous Univariate Distributions 1, 2nd ed.,
/// 13.10.1; from memory, checked by numbers in the tests).
fn above_zero(mode: f64) -> (f64, f64) {
    if mode < -FAR {
        return (-1.0 / mode, -1.0 / mode);
    }
    let normal = Normal::standard();
    let hazard = normal.pdf(mode) / normal.cdf(mode);
    let variance = 1.0 - hazard * (hazard + mode);
    (mode + hazard, variance.max(0.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same by sums.
    fn summed(mode: f64) -> (f64, f64) {
        let step = 1e-4;
        let weighed = |power: i32| -> f64 {
            let each = (0..200_000).map(|at| (f64::from(at) + 0.5) * step);
            each.map(|x| x.powi(power) * (-0.5 * (x - mode).powi(2)).exp())
                .sum()
        };
        let mean = weighed(1) / weighed(0);
        (mean, (weighed(2) / weighed(0) - mean * mean).sqrt())
    }

    #[test]
    fn moments_of_a_normal_cut_off_at_0_are_those_of_its_density() {
        for mode in [-5.0, -2.0, -0.5, 0.0, 0.7, 3.0, 8.0] {
            let (mean, deviation) = above_zero(mode);
            let (as_summed, spread) = summed(mode);
            assert!(
                (mean - as_summed).abs() < 1e-6,
                "{mode}: {mean}, {as_summed}"
            );
            assert!(
                (deviation - spread).abs() < 1e-5,
                "{mode}: {deviation}, {spread}"
            );
        }
        // What lies far below 0 is near 0, and goes on from where the formula ends.
        let (near, beyond) = (above_zero(-5.99), above_zero(-6.01));
        assert!((near.0 - beyond.0).abs() < 0.1 * near.0);
    }

    #[test]
    fn what_was_seen_counts_for_more_the_better_it_was_seen() {
        let nothing = EdgeRounding::usual();
        let well = EdgeRounding::of(Some((0.03, 0.001)));
        assert!((well.radius - 0.03).abs() < 0.002 && well.deviation < 0.0035);
        let badly = EdgeRounding::of(Some((0.03, 0.1)));
        assert!((badly.radius - nothing.radius).abs() < 0.001);
        assert!((badly.deviation - nothing.deviation).abs() < 0.001);
        let none = EdgeRounding::of(Some((-0.01, 0.002)));
        assert!(none.radius < 0.002 && none.radius > 0.0);
    }
}
