//! The outcome of a fit: the curve, how well it is known, how the solver stopped, whether to trust it.

use super::diagnose::Trust;
use super::solve::Stop;
use super::{Curve, Family, FitSettings, Laid};
use crate::numeric::linear::lower_factor;
use crate::quantity::{Angle, Estimate, Length};
use nalgebra::DMatrix;

/// A curve fitted to a land.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The curve, which goes through its own edge.
    pub curve: Curve,
    /// How far the curve's edge lies below the measured one: the surface's drop is this and the
    /// curve's drop together.
    pub edge_offset: Estimate<Length>,
    /// Root mean square of the residuals of the points that were not left out as outlying.
    pub rms: Length,
    /// How the solver stopped.
    pub stop: Stop,
    /// Whether figures from it may be relied on.
    pub trust: Trust,
    /// Correlation of the errors of neighbouring points, from 0 to 1.
    pub lag_correlation: f64,
    /// Independent points that would say as much as all of them do.
    pub effective_points: f64,
    /// Degrees of freedom of the uncertainties; infinite where they rest on what was stated.
    pub degrees_of_freedom: f64,
    /// By what stated uncertainties were multiplied, 1 or more, since residuals are larger than
    /// them or go together.
    pub inflation: f64,
    /// Root mean square of what of the residuals varies slowly along the land.
    pub slow_residual: Length,
    /// Condition number of the Jacobian with its columns scaled.
    pub condition: f64,
    /// Parameters that stuck at the end of the range they may have.
    pub at_bound: Vec<&'static str>,
    /// Share of the points that were left out as outlying.
    pub outlying: f64,
    /// Share of the land that was seen.
    pub coverage: f64,
    /// How often the model was evaluated.
    pub evaluations: usize,
    /// Of the offset in mm and the curve's parameters in the solver's units.
    pub(super) covariance: DMatrix<f64>,
    /// Other curves of the family that explain the land about as well.
    pub(super) others: Vec<Other>,
    /// Indices of the curve's parameters that stuck at a bound.
    pub(super) held: Vec<usize>,
    /// Parameters that were fitted, the offset among them; of a free curve, what they come to.
    pub(super) parameters: usize,
    /// Rows of the Jacobian that hold a free curve back; none for the others.
    pub(super) stiff: DMatrix<f64>,
    /// What it was asked for, so that it can be asked again.
    pub(super) settings: FitSettings,
    /// Robust weights, by point.
    pub(super) weights: Vec<f64>,
    /// Residuals in mm, by point.
    pub(super) residuals: Vec<f64>,
}

/// A curve that might as well be the true one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Other {
    pub curve: Curve,
    /// In mm.
    pub offset: f64,
    /// Probability that it is this one.
    pub odds: f64,
}

impl Fit {
    /// The curve's family.
    pub fn family(&self) -> Family {
        self.curve.family()
    }

    /// Drop of the curve below its own edge, with the uncertainty that the fit brings.
    pub fn drop(&self, arc: Angle) -> Estimate<Length> {
        self.length(|_, curve| curve.drop(arc).mm())
    }

    /// Drop below the edge of the metal, as [`Laid::drop_below_edge`], with the uncertainty that the
    /// fit brings.
    pub fn drop_below_edge(&self, arc: Angle, trust: Option<Length>) -> Estimate<Length> {
        self.length(|offset, curve| {
            let laid = Laid {
                curve: *curve,
                edge_offset: Length::from_mm(offset),
            };
            laid.drop_below_edge(arc, trust).mm()
        })
    }

    /// The relief angle at the edge, with the uncertainty that the fit brings.
    pub fn relief_angle(&self) -> Estimate<Angle> {
        let (value, u) = self.propagate(|_, curve| curve.relief_angle().rad());
        Estimate::new(Angle::from_rad(value), Angle::from_rad(u))
    }

    /// The relief angle where the family begins, with the uncertainty that the fit brings.
    pub fn relief_behind_margin(&self) -> Estimate<Angle> {
        let (value, u) = self.propagate(|_, curve| curve.relief_behind_margin().rad());
        Estimate::new(Angle::from_rad(value), Angle::from_rad(u))
    }

    /// Arc of the first of two facets and relief angle of the second, each with the uncertainty that the
    /// fit brings; nothing of another family.
    pub fn facets(&self) -> Option<[Estimate<Angle>; 2]> {
        self.curve.secondary()?;
        let known = |of: fn(&Curve) -> Option<Angle>| {
            let (value, u) = self.propagate(|_, curve| of(curve).map_or(f64::NAN, Angle::rad));
            Estimate::new(Angle::from_rad(value), Angle::from_rad(u))
        };
        Some([known(Curve::primary), known(Curve::secondary)])
    }

    /// Arc behind the edge without relief, at the latest to `end`, with the uncertainty that the fit
    /// brings.
    pub fn without_relief(&self, end: Angle) -> Estimate<Angle> {
        let (value, u) = self.propagate(|_, curve| curve.without_relief(end).rad());
        Estimate::new(Angle::from_rad(value), Angle::from_rad(u))
    }

    fn length(&self, figure: impl Fn(f64, &Curve) -> f64) -> Estimate<Length> {
        let (value, u) = self.propagate(figure);
        Estimate::new(Length::from_mm(value), Length::from_mm(u))
    }

    /// A figure of offset and curve, and its standard uncertainty.
    ///
    /// The figure is taken again one standard deviation to either side along each column of a
    /// factor of the covariance. For a linear figure that is the law of propagation (JCGM 100,
    /// 5.2.2); for one at a turning point, such as the relief angle of a cam that starts to fall at
    /// the edge, it does not come to nothing as a derivative would.
    fn propagate(&self, figure: impl Fn(f64, &Curve) -> f64) -> (f64, f64) {
        let offset = self.edge_offset.value.mm();
        let value = figure(offset, &self.curve);
        let shifted = |column: &[f64], sign: f64| {
            let curve = self.curve.changed_by(|j| sign * column[j + 1]);
            (figure(offset + sign * column[0], &curve) - value).abs()
        };
        let factor = lower_factor(&self.covariance);
        let variance: f64 = factor
            .column_iter()
            .map(|column| {
                let column: Vec<f64> = column.iter().copied().collect();
                let (up, down) = (shifted(&column, 1.0), shifted(&column, -1.0));
                // Where the curve ends on one side, `max` takes the other.
                up.max(down).powi(2)
            })
            .sum();
        // Variance of a figure that is this one or that of another curve, by their odds.
        let between: f64 = self
            .others
            .iter()
            .map(|other| other.odds * (figure(other.offset, &other.curve) - value).powi(2))
            .sum();
        (value, (variance + between).sqrt())
    }
}
