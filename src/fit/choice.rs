//! The family chosen for a land, what became of the others, and its figures averaged over all of them.

use super::averaged::{Averaged, Other};
use super::{Family, Fit};
use crate::quantity::{Angle, Length};

/// The family chosen, and what became of the others.
#[derive(Clone, Debug)]
pub struct Choice {
    /// The fit of the chosen family.
    pub best: Fit,
    /// The other families that were tried, best first.
    pub others: Vec<Rejected>,
}

/// A family that was not chosen.
#[derive(Clone, Debug)]
pub struct Rejected {
    /// Which one.
    pub family: Family,
    /// Whether it stood behind a margin.
    pub margined: bool,
    /// How much worse than the best it scores, in units of twice a log-likelihood; negative where
    /// it is better, but by too little for its parameters. `None` where it could not be fitted, was
    /// far off at first sight, or a free curve was taken since none is to be trusted.
    pub score: Option<f64>,
    /// Its fit, where there is one.
    pub fit: Option<Fit>,
}

/// A lead below this is not worth more than a bare mention (Kass and Raftery, 1995, twice the log
/// of a Bayes factor).
pub(super) const BARE_MENTION: f64 = 2.0;
/// A lead above this is strong (ibid.).
pub(super) const STRONG: f64 = 6.0;

/// A relief is told from none by so many standard uncertainties (chosen, no source).
const TOLD_FROM_NONE: f64 = 2.0;
/// No primary is ground with less relief than this: what seems so is a margin whose end is rounded
/// (common practice, no source).
const GROUND_LEAST: Angle = Angle::from_rad(1.0 / 180.0 * std::f64::consts::PI);

impl Rejected {
    /// Whether it explains the land so nearly as well that its figures might be the true ones.
    pub fn is_rival(&self) -> bool {
        self.score.is_some_and(|score| score < STRONG)
    }
}

impl Choice {
    /// Fits of families that are nearly as good as the best.
    pub fn rivals(&self) -> impl Iterator<Item = &Fit> {
        let rivals = self.others.iter().filter(|other| other.is_rival());
        rivals.filter_map(|other| other.fit.as_ref())
    }

    /// The drop, averaged over the families: in mm.
    pub fn drop_averaged(&self, arc: Angle, trust: Option<Length>) -> Averaged {
        self.averaged(|fit| fit.laid().drop_below_edge(arc, trust).mm())
    }

    /// The relief angle of each family where it begins, averaged: in degrees. Whether a margin comes
    /// first is told by the width without relief.
    pub fn relief_averaged(&self) -> Averaged {
        self.averaged(|fit| fit.curve.relief_behind_margin().deg())
    }

    /// The arc without relief, at the latest to `end`, averaged: in radians.
    ///
    /// A primary flat whose relief is not told from none is a margin by another name.
    pub fn without_relief_averaged(&self, end: Angle) -> Averaged {
        let of_best = self.best.curve.without_relief(end);
        self.averaged(|fit| {
            if std::ptr::eq(fit, &raw const self.best) {
                return of_best.rad();
            }
            let relief = fit.relief_angle();
            let told = relief.value.abs() > relief.standard_uncertainty * TOLD_FROM_NONE
                && relief.value.abs() > GROUND_LEAST;
            let width = match fit.curve.primary().filter(|_| !told) {
                Some(primary) => primary.min(end),
                None => fit.curve.without_relief(end),
            };
            width.rad()
        })
    }

    fn averaged(&self, figure: impl Fn(&Fit) -> f64) -> Averaged {
        let best = figure(&self.best);
        // A score is twice the log of a Bayes factor, so that odds are its exponential.
        let odds = |other: &Rejected| (-0.5 * other.score.unwrap_or(f64::INFINITY)).exp();
        let rivals = self.others.iter().filter(|other| other.is_rival());
        let margined = self.best.curve.margin().is_some();
        let of = rivals.filter_map(|other| {
            Some(Other {
                odds: odds(other),
                off: figure(other.fit.as_ref()?) - best,
                alike: !margined && !other.margined,
            })
        });
        Averaged::over(of.filter(|other| other.off.is_finite()).collect())
    }
}
