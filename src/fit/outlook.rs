//! A quick look at a family: how near a land it may come, before it is fitted with care.

use super::land::Data;
use super::problem::whitened;
use super::settle::{least_of, nearest_place};
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
    /// Of those with more and with fewer parameters, the ones so much farther off have no hope
    /// (chosen, no source).
    const FAR: f64 = 1.5;
    let guesses = if margined {
        start::guesses_behind_margin(thin, surface, family)
    } else {
        start::guesses(thin, surface, family)
    };
    let mut leads: Vec<_> = start::by_freedom(&guesses)
        .values()
        .filter_map(|guesses| nearest_place(thin, guesses))
        .collect();
    leads.sort_by(|(_, one), (_, other)| least_of(one, other));
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
