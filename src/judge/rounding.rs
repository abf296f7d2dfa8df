//! What an indicator's steps leave open of a mean of many readings.

use std::f64::consts::PI;

/// What a rounding to whole steps is off by on average over many readings: the part that is common
/// to them all, as a share of what a single rounding is off by.
///
/// Each reading is off by anything up to half a step, and two readings are off alike only where they
/// lie in the same place between two steps. Noise and a surface that falls or rises put them in
/// different places, and what differs from reading to reading is in their scatter already. With
/// normal noise the first harmonic of the saw-tooth that is left falls as `exp(-2 π² (s / step)²)`
/// (Widrow, Kollár: Quantization Noise, Cambridge 2008, chapter 19; from memory, checked by
/// simulation in the tests), and over a sweep of `n` steps it is at most `1 / (π n)` of itself.
///
/// `scatter` is that of a reading with its rounding in it, `sweep` from the highest to the lowest
/// reading, both in steps.
pub(super) fn common_share(scatter: f64, sweep: f64) -> f64 {
    // A rounded reading scatters by a twelfth of a square step more than it would unrounded.
    let unrounded = (scatter * scatter - 1.0 / 12.0).max(0.0);
    let noise = (-2.0 * PI * PI * unrounded).exp();
    let swept = (1.0 / (PI * sweep.max(f64::MIN_POSITIVE))).min(1.0);
    noise * swept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::unit_normal;
    use rand::{Rng, SeedableRng};

    /// Root mean square of what the mean of 4000 readings is off by, as a share of a single
    /// rounding's `1 / sqrt 12`.
    fn simulated(noise: f64, sweep: f64) -> f64 {
        let mut random = crate::judge::Random::seed_from_u64(5);
        let rounds = 200;
        let squares: f64 = (0..rounds)
            .map(|_| {
                let start: f64 = random.random();
                let readings = 4000;
                let off: f64 = (0..readings)
                    .map(|at| {
                        let height = start + sweep * f64::from(at) / f64::from(readings);
                        let read = height + noise * unit_normal(&mut random);
                        read.round() - read
                    })
                    .sum();
                (off / f64::from(readings)).powi(2)
            })
            .sum();
        (squares / f64::from(rounds) * 12.0).sqrt()
    }

    #[track_caller]
    fn check(noise: f64, sweep: f64) {
        let stated = common_share(noise.hypot(1.0 / 12f64.sqrt()), sweep);
        let seen = simulated(noise, sweep);
        assert!(seen < 1.1 * stated + 0.02, "{seen}, stated {stated}");
    }

    #[test]
    fn a_mean_of_rounded_readings_is_off_by_no_more_than_stated() {
        for noise in [0.0, 0.1, 0.2, 0.3, 0.5, 2.0] {
            for sweep in [0.0, 0.3, 0.7, 1.0, 1.5, 2.5, 20.0] {
                check(noise, sweep);
            }
        }
    }

    #[test]
    fn readings_that_stand_still_without_noise_are_all_off_alike() {
        assert_eq!(common_share(0.0, 0.0), 1.0);
    }
}
