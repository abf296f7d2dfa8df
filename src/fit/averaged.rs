//! A figure averaged over the families that a land may be of.

/// What the doubt about the family makes of a figure: of each family what its own figure is, and how
/// likely it is the land's (Hoeting, Madigan, Raftery and Volinsky: Bayesian model averaging,
/// Statistical Science 14, 1999, 382; from memory).
///
/// All are counted from the figure of the family that was chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Averaged {
    /// Of each other family its probability and how far its figure lies from the chosen one's.
    others: Vec<(f64, f64)>,
}

impl Averaged {
    /// From the odds of the others against the family chosen.
    pub(super) fn over(mut others: Vec<(f64, f64)>) -> Self {
        let all: f64 = 1.0 + others.iter().map(|(odds, _)| odds).sum::<f64>();
        for (odds, _) in &mut others {
            *odds /= all;
        }
        Self { others }
    }

    /// From the figure of the family chosen to the mean of all.
    pub fn shift(&self) -> f64 {
        self.others.iter().map(|(share, off)| share * off).sum()
    }

    /// Standard deviation of the figures about their mean.
    pub fn deviation(&self) -> f64 {
        let squares = self.others.iter().map(|(share, off)| share * off * off);
        let about_chosen: f64 = squares.sum();
        (about_chosen - self.shift().powi(2)).max(0.0).sqrt()
    }

    /// Root mean square of the figures about the chosen one's.
    pub fn about_chosen(&self) -> f64 {
        self.shift().hypot(self.deviation())
    }

    /// The figure of one family, counted from the mean of all; `chance` lies anywhere from 0 to 1
    /// alike.
    pub fn drawn(&self, chance: f64) -> f64 {
        let mut left = chance;
        let other = self.others.iter().find(|(share, _)| {
            left -= share;
            left < 0.0
        });
        other.map_or(0.0, |(_, off)| *off) - self.shift()
    }

    /// The same of a figure that grows by `per` with this one.
    #[must_use]
    pub fn scaled(mut self, per: f64) -> Self {
        for (_, off) in &mut self.others {
            *off *= per;
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_and_its_deviation_are_those_of_the_families() {
        // Odds of 1 to 2 to 1: 0 is the chosen one's figure, with a probability of a quarter.
        let of = Averaged::over(vec![(2.0, 4.0), (1.0, -4.0)]);
        assert_eq!(of.shift(), 1.0);
        // A quarter at 0, a half at 4, a quarter at -4, about 1.
        assert_eq!(of.deviation(), (0.25 + 4.5 + 6.25_f64).sqrt());
        assert_eq!(
            [0.1, 0.49, 0.51, 0.74, 0.76].map(|chance| of.drawn(chance)),
            [3.0, 3.0, -5.0, -5.0, -1.0]
        );
        assert_eq!(of.clone().scaled(-2.0).shift(), -2.0);
    }

    #[test]
    fn one_family_leaves_no_doubt() {
        let of = Averaged::default();
        assert_eq!((of.shift(), of.deviation(), of.drawn(0.3)), (0.0, 0.0, 0.0));
    }
}
