//! A quick look at a family: how near a land it may come, before it is fitted with care.

use super::land::Data;
use super::problem::{Weights, solved, whitened};
use super::run::ON_THE_WAY;
use super::{Curve, Family, start};
use crate::card::Surface;
use crate::numeric::robust;

/// What a family may come to on a land.
#[derive(Clone, Debug)]
pub(super) struct Outlook {
    pub family: Family,
    pub margined: bool,
    /// Where to begin a fit with care.
    pub starts: Vec<Curve>,
    /// What most points are off, in mm.
    pub misfit: f64,
}

impl Outlook {
    /// Parameters of its nearest curve.
    pub fn freedom(&self) -> usize {
        self.starts.first().map_or(0, Curve::freedom)
    }
}

/// Looks at a family on a thinned land; `None` where no curve of it exists there.
pub(super) fn outlook(
    thin: &Data,
    surface: Surface,
    family: Family,
    margined: bool,
) -> Option<Outlook> {
    /// Of a cam with a return and one without, the one so much farther off has no hope.
    const FAR: f64 = 1.5;
    let guesses = if margined {
        start::guesses_behind_margin(thin, surface, family)
    } else {
        start::guesses(thin, surface, family)
    };
    let even = Weights::even(thin);
    let lead = |returns: bool| {
        guesses
            .iter()
            .filter(|guess| guess.returns() == returns)
            .filter_map(|guess| solved(thin, guess, 0.0, &even, ON_THE_WAY))
            .min_by(|(_, one), (_, other)| one.residuals.norm().total_cmp(&other.residuals.norm()))
    };
    let mut leads: Vec<_> = [lead(false), lead(true)].into_iter().flatten().collect();
    leads.sort_by(|(_, one), (_, other)| one.residuals.norm().total_cmp(&other.residuals.norm()));
    let (nearest, solution) = leads.first()?;
    let typical = robust::median(&mut thin.uncertainties.clone())?;
    let misfit =
        typical * robust::scale_of_fit(&whitened(thin, nearest, solution.parameters[0]), 0);
    let far = FAR * solution.residuals.norm();
    Some(Outlook {
        family,
        margined,
        starts: leads
            .iter()
            .filter(|(_, solution)| solution.residuals.norm() <= far)
            .map(|(curve, _)| *curve)
            .collect(),
        misfit,
    })
}
