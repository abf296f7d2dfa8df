//! An indicator's error as its certificate leaves it open: anywhere within the limit at each place.

use crate::numeric::random::gauss;
use rand_pcg::Pcg64;
use statrs::distribution::{ContinuousCDF, Normal};

/// One function of the travel that is rectangular within ± the limit at every place.
///
/// A Markov path whose correlation falls off exponentially with travel (Ornstein and Uhlenbeck
/// 1930), normal at every place, is mapped through the normal distribution's own function.
#[derive(Clone, Debug)]
pub(super) struct Wander {
    /// Error at every step of the travel, in mm.
    errors: Vec<f64>,
}

/// Over this travel the correlation falls to 1/e, as the budgets take it.
const FORGETS_WITHIN_MM: f64 = 0.25;
/// From here ...
const FROM_MM: f64 = -8.0;
/// ... to here; beyond, the error stays.
const TO_MM: f64 = 4.0;
/// As fine as the readings themselves; in between it is a straight line.
const STEP_MM: f64 = 0.001;

impl Wander {
    pub(super) fn new(limit_mm: f64, rng: &mut Pcg64) -> Self {
        let normal = Normal::standard();
        let keep = (-STEP_MM / FORGETS_WITHIN_MM).exp();
        let fresh = (1.0 - keep * keep).sqrt();
        let places = ((TO_MM - FROM_MM) / STEP_MM).round() as usize + 1;
        let mut now = gauss(rng);
        let errors = (0..places)
            .map(|_| {
                now = keep * now + fresh * gauss(rng);
                limit_mm * (2.0 * normal.cdf(now) - 1.0)
            })
            .collect();
        Self { errors }
    }

    /// What it shows too much where the needle stands, in mm.
    pub(super) fn at(&self, needle_mm: f64) -> f64 {
        let last = self.errors.len() - 1;
        let place = ((needle_mm - FROM_MM) / STEP_MM).clamp(0.0, last as f64);
        let low = (place as usize).min(last - 1);
        let (from, to) = (self.errors[low], self.errors[low + 1]);
        from + (to - from) * (place - low as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn the_error_is_rectangular_and_forgets_itself_along_the_travel() {
        let count = 4000;
        let paths: Vec<Wander> = (0..count)
            .map(|seed| Wander::new(0.002, &mut Pcg64::seed_from_u64(seed)))
            .collect();
        let mean_product = |a: f64, b: f64| {
            let products = paths.iter().map(|path| path.at(a) * path.at(b));
            products.sum::<f64>() / count as f64
        };
        let single = mean_product(-1.0, -1.0);
        // The variance of a rectangular distribution: the square of its half-width over 3.
        assert!((single / (0.002f64.powi(2) / 3.0) - 1.0).abs() < 0.05);
        // Rectangular draws from normal ones of correlation r have 6/π asin(r/2) (Pearson 1907).
        for apart in [0.05f64, 0.25, 0.5] {
            let normal = (-apart / FORGETS_WITHIN_MM).exp();
            let expected = 6.0 / std::f64::consts::PI * (normal / 2.0).asin();
            let found = mean_product(-1.0, -1.0 + apart) / single;
            assert!((found - expected).abs() < 0.06, "{found}, {expected}");
        }
        let most = paths.iter().map(|path| path.at(0.2).abs());
        assert!(most.fold(0.0, f64::max) <= 0.002);
    }
}
