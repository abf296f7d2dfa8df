//! Random numbers.

use rand_distr::{Distribution as _, StandardNormal};

/// Where random numbers come from: fast, and the same on every machine for the same seed.
pub type Random = rand_pcg::Pcg64Mcg;

/// One draw of a normal variable with mean 0 and standard deviation 1.
#[inline]
pub fn unit_normal(random: &mut Random) -> f64 {
    StandardNormal.sample(random)
}
