//! The families that compete for one land: which are worth a careful fit, and which of them wins.

use super::choice::{BARE_MENTION, Choice, Rejected};
use super::land::Data;
use super::outlook::{Outlook, outlook};
use super::run::{believed, enough, fit_behind_margin, fit_from};
use super::yardstick::Yardstick;
use super::{Curve, Family, Fit, FitSettings, Land, fit};
use crate::error::{Error, Result};
use crate::quantity::Length;

/// So many uncertainties of the edge's height below it, a curve leaves the edge to be explained
/// (chosen, no source).
const FAR_APART: f64 = 3.0;
/// Places that a quick look takes (chosen, no source).
const LOOKED_AT: usize = 80;
/// So many times the least misfit at first sight, a family still might win (chosen, no source).
const HOPEFUL: f64 = 2.0;
/// Families of a later round that are fitted with care at the most (chosen, no source).
const MOST_FITTED: usize = 4;

/// The fits of one land so far.
pub(super) struct Contest<'a> {
    land: &'a Land<'a>,
    data: &'a Data,
    settings: &'a FitSettings,
    /// The land in fewer places, for a quick look.
    thin: Data,
    /// The least misfit of all that were looked at, in mm.
    nearest: f64,
    fits: Vec<Fit>,
    unfitted: Vec<Rejected>,
    /// Why the first that could not be fitted could not.
    fault: Option<Error>,
}

impl<'a> Contest<'a> {
    pub fn new(land: &'a Land<'a>, data: &'a Data, settings: &'a FitSettings) -> Self {
        Self {
            land,
            data,
            settings,
            thin: data.thinned(LOOKED_AT),
            nearest: f64::INFINITY,
            fits: Vec::new(),
            unfitted: Vec::new(),
            fault: None,
        }
    }

    /// Looks at some families and fits with care those that might win, unless one of the rounds
    /// before left nothing to explain.
    pub fn consider(&mut self, families: &[(Family, bool)]) {
        if self.explained() {
            return;
        }
        // The first round is of families that cost little, and are compared with each other.
        let most = if self.fits.is_empty() {
            usize::MAX
        } else {
            MOST_FITTED
        };
        let mut outlooks = Vec::new();
        for (family, margined) in families {
            match outlook(&self.thin, self.land.surface, *family, *margined) {
                Some(outlook) => outlooks.push(outlook),
                // There the fit itself says why not.
                None => self.add(*family, *margined, &[]),
            }
        }
        outlooks.sort_by(|one, other| one.misfit.total_cmp(&other.misfit));
        self.nearest = outlooks
            .first()
            .map_or(self.nearest, |first| self.nearest.min(first.misfit));
        let hope = (self.nearest * HOPEFUL).max(self.settings.immaterial.mm());
        // The nearest, then the simplest of those that might be as near.
        if let Some((_, rest)) = outlooks.split_first_mut() {
            rest.sort_by_key(Outlook::freedom);
        }
        let mut fitted = 0;
        for outlook in &outlooks {
            if self.fits.is_empty() || (outlook.misfit <= hope && fitted < most) {
                fitted += 1;
                self.add(outlook.family, outlook.margined, &outlook.starts);
            } else {
                self.unfitted
                    .push(unfitted(outlook.family, outlook.margined));
            }
        }
    }

    fn add(&mut self, family: Family, margined: bool, starts: &[Curve]) {
        let warm = self.settings.start.is_some();
        let found = match (margined, starts) {
            (true, []) => fit_behind_margin(self.land, family, self.settings),
            (false, _) if starts.is_empty() || warm => fit(self.land, family, self.settings),
            _ => enough(self.data, family)
                .and_then(|()| fit_from(self.data, self.land, family, starts, self.settings))
                .and_then(|fit| match margined {
                    true => believed(self.data, fit, self.land),
                    false => Ok(fit),
                }),
        };
        match found {
            Ok(fit) => self.fits.push(fit),
            Err(error) => {
                self.unfitted.push(unfitted(family, margined));
                self.fault.get_or_insert(error);
            }
        }
    }

    /// Whether one of them leaves nothing to explain, of the edge's height neither.
    fn explained(&self) -> bool {
        let immaterial = self.settings.immaterial;
        let apart = self.data.edge.map_or(f64::INFINITY, |edge| {
            FAR_APART * edge.hypot(immaterial.mm())
        });
        self.fits.iter().any(|fit| {
            fit.slow_residual <= immaterial
                && fit.outlying < 0.05
                && fit.edge_offset.value.abs() <= Length::from_mm(apart)
        })
    }

    pub fn trusted(&self) -> bool {
        self.fits.iter().any(|fit| fit.trust.is_full())
    }

    pub fn best(self) -> Result<Choice> {
        let yardstick = Yardstick::of(self.data, &self.fits, self.settings);
        let mut scored: Vec<(f64, Fit)> = self
            .fits
            .into_iter()
            .map(|fit| (yardstick.score(&fit), fit))
            .collect();
        scored.sort_by(|(one, _), (other, _)| one.total_cmp(other));
        let Some(least) = scored.first().map(|(score, _)| *score) else {
            return Err(self.fault.unwrap_or_else(|| {
                Error::new(
                    crate::error::Code::Internal,
                    "no family of curves was tried",
                )
            }));
        };
        // The list is sorted, so that among equals in parameters the better score comes first.
        let chosen = (0..scored.len())
            .filter(|&i| scored[i].0 <= least + BARE_MENTION)
            .min_by_key(|&i| scored[i].1.curve.freedom())
            .unwrap_or(0);
        let (best_score, best) = scored.remove(chosen);
        let mut others: Vec<Rejected> = scored
            .into_iter()
            .map(|(score, fit)| rejected(Some(score - best_score), fit))
            .collect();
        others.extend(self.unfitted);
        Ok(Choice { best, others })
    }

    /// The free curve, since none of the others is to be trusted.
    pub fn none_but(self, free: Fit) -> Choice {
        let doubted = self.fits.into_iter().map(|fit| rejected(None, fit));
        Choice {
            best: free,
            others: doubted.chain(self.unfitted).collect(),
        }
    }
}

fn rejected(score: Option<f64>, fit: Fit) -> Rejected {
    Rejected {
        family: fit.family(),
        margined: fit.curve.margin().is_some(),
        score,
        fit: Some(fit),
    }
}

fn unfitted(family: Family, margined: bool) -> Rejected {
    Rejected {
        family,
        margined,
        score: None,
        fit: None,
    }
}
