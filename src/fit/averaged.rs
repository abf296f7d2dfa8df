//! A figure averaged over the families that a land may be of.

/// What the doubt about the family makes of a figure: of each family what its own figure is, and how
/// likely it is the land's (Hoeting, Madigan, Raftery and Volinsky: Bayesian model averaging,
/// Statistical Science 14, 1999, 382; from memory).
///
/// All are counted from the figure of the family that was chosen. Whether a margin comes before the
/// land, and how wide it is, is settled apart from its family: the mean is over those without one,
/// and all else is a doubt to either side of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Averaged {
    others: Vec<Other>,
    shift: f64,
}

/// Another family than the chosen one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Other {
    /// Against the chosen one; of an [`Averaged`], its probability.
    pub odds: f64,
    /// How far its figure lies from the chosen one's.
    pub off: f64,
    /// Whether neither it nor the chosen one has a margin.
    pub alike: bool,
}

impl Averaged {
    /// From the odds of the others against the family chosen.
    pub(super) fn over(mut others: Vec<Other>) -> Self {
        let all: f64 = 1.0 + others.iter().map(|other| other.odds).sum::<f64>();
        let apart = others.iter().filter(|other| !other.alike);
        let apart: f64 = apart.map(|other| other.odds).sum();
        let alike = others.iter().filter(|other| other.alike);
        let sum: f64 = alike.map(|other| other.odds * other.off).sum();
        for other in &mut others {
            other.odds /= all;
        }
        Self {
            others,
            shift: sum / (all - apart),
        }
    }

    /// From the figure of the family chosen to the mean.
    pub fn shift(&self) -> f64 {
        self.shift
    }

    /// Root mean square of the figures about their mean.
    pub fn deviation(&self) -> f64 {
        self.about(self.shift)
    }

    /// Root mean square of the figures about the chosen one's.
    pub fn about_chosen(&self) -> f64 {
        self.about(0.0)
    }

    fn about(&self, place: f64) -> f64 {
        let others = self.others.iter();
        let (mut left, mut sum) = (1.0, 0.0);
        for other in others {
            left -= other.odds;
            sum += other.odds * (other.off - place).powi(2);
        }
        (sum + left * place * place).sqrt()
    }

    /// The figure of one family, counted from the mean; `chance` lies anywhere from 0 to 1 alike.
    pub fn drawn(&self, chance: f64) -> f64 {
        let mut left = chance;
        for other in &self.others {
            left -= other.odds;
            if left < 0.0 {
                let off = other.off - self.shift;
                let mirrored = !other.alike && left < -other.odds / 2.0;
                return if mirrored { -off } else { off };
            }
        }
        -self.shift
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn averaged(others: &[(f64, f64, bool)]) -> Averaged {
        let others = others.iter();
        Averaged::over(
            others
                .map(|&(odds, off, alike)| Other { odds, off, alike })
                .collect(),
        )
    }

    #[test]
    fn a_mean_and_its_deviation_are_those_of_the_families() {
        // Odds of 1 to 2 to 1: 0 is the chosen one's figure, with a probability of a quarter.
        let of = averaged(&[(2.0, 4.0, true), (1.0, -4.0, true)]);
        assert_eq!(of.shift(), 1.0);
        // A quarter at 0, a half at 4, a quarter at -4, about 1.
        assert_eq!(of.deviation(), (0.25 + 4.5 + 6.25_f64).sqrt());
        assert_eq!(of.about_chosen(), 12f64.sqrt());
        assert_eq!(
            [0.1, 0.49, 0.51, 0.74, 0.76].map(|chance| of.drawn(chance)),
            [3.0, 3.0, -5.0, -5.0, -1.0]
        );
    }

    #[test]
    fn one_that_disagrees_on_a_margin_moves_nothing_and_is_a_doubt_to_either_side() {
        let of = averaged(&[(1.0, 2.0, true), (2.0, 9.0, false)]);
        assert_eq!(of.shift(), 1.0);
        assert_eq!(of.deviation(), (0.25 + 0.25 + 32.0_f64).sqrt());
        assert_eq!(
            [0.2, 0.3, 0.6, 0.8].map(|chance| of.drawn(chance)),
            [1.0, -8.0, 8.0, -1.0]
        );
    }

    #[test]
    fn one_family_leaves_no_doubt() {
        let of = Averaged::default();
        assert_eq!((of.shift(), of.deviation(), of.drawn(0.3)), (0.0, 0.0, 0.0));
    }
}
