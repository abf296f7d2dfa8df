//! How well fits of several families explain one land, on one scale.

use super::choice::STRONG;
use super::land::Data;
use super::{Fit, FitSettings};
use crate::numeric::robust;

/// Slow errors, such as an indicator's over its travel, bend about this share of a land one way
/// (chosen, no source).
const WAVE: f64 = 0.5;

/// What residuals of all families are measured with: the noise of the one that fits closest.
pub(super) struct Yardstick {
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
    pub fn of(data: &Data, fits: &[Fit], settings: &FitSettings) -> Self {
        let whitened = |fit: &Fit| -> Vec<f64> {
            std::iter::zip(&fit.residuals, &data.uncertainties)
                .map(|(residual, u)| residual / u)
                .collect()
        };
        let (noise, correlation) = fits
            .iter()
            .map(|fit| (robust::scale_of_fit(&whitened(fit), 0), fit.lag_correlation))
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

    pub fn score(&self, fit: &Fit) -> f64 {
        let misfit: f64 = std::iter::zip(&fit.residuals, &self.scales)
            .map(|(residual, scale)| robust::huber_loss(residual / scale))
            .sum();
        let offset = fit.edge_offset.value.mm();
        let edge = self
            .edge
            .map_or(0.0, |edge| robust::huber_loss(offset / edge));
        let bends = fit.curve.margin().is_some() || fit.curve.primary().is_some();
        let bend = if bends { STRONG } else { 0.0 };
        self.worth * misfit + edge + bend + self.points.ln() * fit.curve.freedom() as f64
    }
}
