//! Which family describes a land: the simplest of those that explain it about as well as any.

use super::land::Data;
use super::robust;
use super::run::fit_behind_margin;
use super::{Family, Fit, FitSettings, Land, fit};
use crate::error::{Error, Result};
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
    /// it is better, but by too little for its parameters. `None` where it could not be fitted, or
    /// a free curve was taken since none is to be trusted.
    pub score: Option<f64>,
    /// Why it was not chosen, in plain words.
    pub reason: String,
    /// Its fit, where there is one.
    pub fit: Option<Fit>,
}

/// A lead below this is not worth more than a bare mention (Kass and Raftery, 1995, twice the log
/// of a Bayes factor).
const BARE_MENTION: f64 = 2.0;
/// A lead above this is strong (ibid.).
const STRONG: f64 = 6.0;
/// So many uncertainties of the edge's height below it, a curve leaves the edge to be explained.
const FAR_APART: f64 = 3.0;
/// Slow errors, such as an indicator's over its travel, bend about this share of a land one way.
const WAVE: f64 = 0.5;

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

    /// What the doubt about the family does to the drop: half the width of a rectangle with the
    /// standard deviation of drops that are this family's or a rival's, by their odds.
    pub fn drop_spread(&self, arc: Angle) -> Length {
        let best = self.best.curve.drop(arc);
        Length::from_mm(self.spread(|rival| (rival.curve.drop(arc) - best).mm()))
    }

    /// The same for the relief angle, of each family where it begins: whether a margin comes first
    /// is told by the width without relief.
    pub fn relief_spread(&self) -> Angle {
        let best = self.best.curve.relief_behind_margin();
        Angle::from_rad(self.spread(|rival| (rival.curve.relief_behind_margin() - best).rad()))
    }

    /// The same for the arc without relief, at the latest to `end`.
    pub fn without_relief_spread(&self, end: Angle) -> Angle {
        let best = self.best.curve.without_relief(end);
        Angle::from_rad(self.spread(|rival| (rival.curve.without_relief(end) - best).rad()))
    }

    fn spread(&self, difference: impl Fn(&Fit) -> f64) -> f64 {
        // A score is twice the log of a Bayes factor, so that odds are its exponential.
        let odds = |other: &Rejected| (-0.5 * other.score.unwrap_or(f64::INFINITY)).exp();
        let rivals = || self.others.iter().filter(|other| other.is_rival());
        let all: f64 = 1.0 + rivals().map(odds).sum::<f64>();
        let variance: f64 = rivals()
            .filter_map(|other| Some((odds(other), difference(other.fit.as_ref()?))))
            .filter(|(_, difference)| difference.is_finite())
            .map(|(odds, difference)| odds / all * difference * difference)
            .sum();
        (3.0 * variance).sqrt()
    }
}

/// Fits the families that the settings allow and chooses among them.
///
/// Each family pays for its parameters as in the Bayesian information criterion, with the number
/// of independent points in place of all; a margin pays what strong evidence is worth on top, so
/// that a sharp tool is not given one by chance. Of families within a bare mention of the best, the
/// one with the fewest parameters is taken. A free curve has no price: it is taken where none of
/// the others is to be trusted and it is.
pub fn choose(land: &Land, settings: &FitSettings) -> Result<Choice> {
    let data = Data::check(land)?;
    let allowed = Family::allowed(settings.curve, land.surface);
    let mut tried = Tried::new(land, &data, settings);
    let (simple, costly): (Vec<Family>, Vec<Family>) = allowed
        .iter()
        .filter(|family| **family != Family::Free)
        .partition(|family| !matches!(family, Family::Facets | Family::Cam));
    // What costs time and has much freedom is asked only when all before it leave something to
    // explain; so are margins. Simple families cost little, and are compared with each other.
    for margined in [false, true] {
        if !margined || !tried.explained() {
            simple
                .iter()
                .for_each(|family| tried.add(*family, margined));
        }
    }
    for margined in [false, true] {
        for family in &costly {
            if !tried.explained() {
                tried.add(*family, margined);
            }
        }
    }
    if allowed == [Family::Free] {
        return Ok(Choice {
            best: fit(land, Family::Free, settings)?,
            others: Vec::new(),
        });
    }
    let free = (allowed.contains(&Family::Free) && !tried.trusted())
        .then(|| fit(land, Family::Free, settings).ok())
        .flatten()
        .filter(|free| free.trust.is_full());
    match free {
        Some(free) => Ok(tried.none_but(free)),
        None => tried.best(),
    }
}

/// The fits of one land so far.
struct Tried<'a> {
    land: &'a Land<'a>,
    data: &'a Data,
    settings: &'a FitSettings,
    fits: Vec<Fit>,
    failed: Vec<(Family, bool, Error)>,
}

impl<'a> Tried<'a> {
    fn new(land: &'a Land<'a>, data: &'a Data, settings: &'a FitSettings) -> Self {
        Self {
            land,
            data,
            settings,
            fits: Vec::new(),
            failed: Vec::new(),
        }
    }

    fn add(&mut self, family: Family, margined: bool) {
        let found = if margined {
            fit_behind_margin(self.land, family, self.settings)
        } else {
            fit(self.land, family, self.settings)
        };
        match found {
            Ok(fit) => self.fits.push(fit),
            Err(error) => self.failed.push((family, margined, error)),
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

    fn trusted(&self) -> bool {
        self.fits.iter().any(|fit| fit.trust.is_full())
    }

    fn best(self) -> Result<Choice> {
        let yardstick = Yardstick::of(self.data, &self.fits, self.settings);
        let mut scored: Vec<(f64, Fit)> = self
            .fits
            .into_iter()
            .map(|fit| (yardstick.score(&fit), fit))
            .collect();
        scored.sort_by(|(one, _), (other, _)| one.total_cmp(other));
        let Some(least) = scored.first().map(|(score, _)| *score) else {
            let mut errors = self.failed.into_iter().map(|(_, _, error)| error);
            return Err(errors.next().unwrap_or_else(|| {
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
            .map(|(score, fit)| rejected(score - best_score, fit, &best))
            .collect();
        others.extend(self.failed.into_iter().map(not_fitted));
        Ok(Choice { best, others })
    }

    /// The free curve, since none of the others is to be trusted.
    fn none_but(self, free: Fit) -> Choice {
        let doubted = self.fits.into_iter().map(|fit| {
            let doubts = fit.trust.doubts.iter().map(ToString::to_string);
            Rejected {
                family: fit.family(),
                margined: fit.curve.margin().is_some(),
                score: None,
                reason: format!(
                    "not to be trusted: {}",
                    doubts.collect::<Vec<_>>().join("; ")
                ),
                fit: Some(fit),
            }
        });
        let mut others: Vec<Rejected> = doubted.collect();
        others.extend(self.failed.into_iter().map(not_fitted));
        Choice { best: free, others }
    }
}

fn not_fitted((family, margined, error): (Family, bool, Error)) -> Rejected {
    Rejected {
        family,
        margined,
        score: None,
        reason: error.message().to_owned(),
        fit: None,
    }
}

fn rejected(score: f64, fit: Fit, best: &Fit) -> Rejected {
    let named = best.curve.described();
    let reason = if score < STRONG && fit.curve.freedom() > best.curve.freedom() {
        format!("explains the land about as well as {named}, with more parameters")
    } else if score < STRONG {
        format!("explains the land nearly as well as {named}")
    } else if fit.rms > best.rms {
        format!(
            "leaves {:.2} µm rms, {named} leaves {:.2} µm",
            fit.rms.um(),
            best.rms.um()
        )
    } else {
        "what it gains is not worth its parameters".to_owned()
    };
    Rejected {
        family: fit.family(),
        margined: fit.curve.margin().is_some(),
        score: Some(score),
        reason,
        fit: Some(fit),
    }
}

/// What residuals of all families are measured with: the noise of the one that fits closest.
struct Yardstick {
    /// By point, in mm.
    scales: Vec<f64>,
    /// Independent points a point.
    worth: f64,
    /// Independent points in all.
    points: f64,
    /// Of the edge's height, where it was measured, in mm.
    edge: Option<f64>,
}

impl Yardstick {
    fn of(data: &Data, fits: &[Fit], settings: &FitSettings) -> Self {
        let whitened = |fit: &Fit| -> Vec<f64> {
            std::iter::zip(&fit.residuals, &data.uncertainties)
                .map(|(residual, u)| residual / u)
                .collect()
        };
        let (noise, correlation) = fits
            .iter()
            .map(|fit| (robust::scale(&whitened(fit), 0), fit.lag_correlation))
            .min_by(|(one, _), (other, _)| one.total_cmp(other))
            .unwrap_or((1.0, 0.0));
        // Slow errors too small to matter do not average out: a wave counts as one point.
        let count = data.arcs.len() as f64;
        let together = (1.0 + correlation) / (1.0 - correlation);
        let wave = (WAVE * count).max(1.0);
        let slow = settings.immaterial.mm();
        let mut typical = data.uncertainties.clone();
        let fast = noise * robust::median(&mut typical).unwrap_or(1.0);
        let worth = (fast * fast + slow * slow) / (fast * fast * together + slow * slow * wave);
        Self {
            scales: data
                .uncertainties
                .iter()
                .map(|u| (noise * u).hypot(slow))
                .collect(),
            worth,
            points: (worth * count).max(2.0),
            edge: data.edge.map(|edge| edge.hypot(slow)),
        }
    }

    fn score(&self, fit: &Fit) -> f64 {
        let misfit: f64 = std::iter::zip(&fit.residuals, &self.scales)
            .map(|(residual, scale)| robust::huber_loss(residual / scale))
            .sum();
        let offset = fit.edge_offset.value.mm();
        let edge = self
            .edge
            .map_or(0.0, |edge| robust::huber_loss(offset / edge));
        let margin = fit.curve.margin().map_or(0.0, |_| STRONG);
        self.worth * misfit + edge + margin + self.points.ln() * fit.curve.freedom() as f64
    }
}
