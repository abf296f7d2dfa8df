//! Random numbers by a formula that stays the same, so that old seeds make old traces.

use rand::Rng;
use std::f64::consts::TAU;

/// A number from the normal distribution (Box and Muller 1958).
pub fn gauss(rng: &mut impl Rng) -> f64 {
    let radius = (-2.0 * (1.0 - rng.random::<f64>()).ln()).sqrt();
    radius * (TAU * rng.random::<f64>()).cos()
}
