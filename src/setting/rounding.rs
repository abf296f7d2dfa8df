//! How round an edge is, from what the ride of a ball tells and what ground edges are like.

use crate::numeric::random::gauss;
use crate::quantity::{Estimate, Length};
use rand::Rng;

/// The radius of an edge's rounding: exponential before anything was read (common practice, no source),
/// and normal by what was read. Their product is a normal distribution moved down by `u^2 / mean` and
/// cut off at 0; mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rounding {
    mean: f64,
    seen: Option<(f64, f64)>,
}

impl Rounding {
    /// `mean` is that of ground edges, in mm.
    pub fn of(seen: Option<Estimate<Length>>, mean: f64) -> Self {
        let seen = seen.map(|seen| {
            let u = seen.standard_uncertainty.mm();
            let down = if mean > 0.0 { u * u / mean } else { 0.0 };
            (seen.value.mm() - down, u)
        });
        Self { mean, seen }
    }

    /// Where the distribution is densest.
    pub fn likeliest(self) -> f64 {
        self.seen.map_or(0.0, |(middle, _)| middle.max(0.0))
    }

    /// One draw.
    pub fn draw(self, rng: &mut impl Rng) -> f64 {
        let exponential = |scale: f64, rng: &mut _| -scale * (1.0 - Rng::random::<f64>(rng)).ln();
        let Some((middle, u)) = self.seen else {
            return exponential(self.mean, rng);
        };
        if middle < -2.0 * u {
            // So far out the tail of a normal distribution is nearly an exponential one.
            return exponential(u * u / -middle, rng);
        }
        loop {
            let drawn = middle + u * gauss(rng);
            if drawn >= 0.0 {
                return drawn;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[track_caller]
    fn check(seen: Option<(f64, f64)>, expected: f64) {
        let seen = seen.map(|(value, u)| Estimate::new(Length::from_um(value), Length::from_um(u)));
        let rounding = Rounding::of(seen, 0.008);
        let mut rng = rand_pcg::Pcg64::seed_from_u64(5);
        let mean = (0..20_000).map(|_| rounding.draw(&mut rng)).sum::<f64>() / 20_000.0;
        assert!((mean * 1000.0 - expected).abs() < 0.15, "{mean}");
    }

    /// First principles: a sharp reading is the answer, none leaves the mean of ground edges, and one
    /// far below nothing leaves `u^2 / |middle|`.
    #[test]
    fn what_is_drawn_lies_between_what_is_usual_and_what_was_read() {
        check(None, 8.0);
        check(Some((20.0, 0.5)), 20.0);
        check(Some((-40.0, 2.0)), 0.1);
    }
}
