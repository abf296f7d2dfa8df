//! How a fit answers small changes of its points, without being solved again.

use super::land::Data;
use super::{Curve, Fit, Laid, Land};
use crate::error::{Code, Error, Result};
use crate::numeric::linear;
use crate::quantity::{Angle, Estimate, Length};
use nalgebra::{DMatrix, DVector};

/// The linear answer of a fit to changes of what was measured: `(JᵀWJ)⁻¹ JᵀW` at its optimum, with
/// the weights that it ended with.
///
/// It is exact for a curve that is linear in its parameters and right to first order for the
/// others, which is all that the law of propagation asks for (JCGM 100, 5.1.2).
#[derive(Clone, Debug)]
pub struct Response {
    curve: Curve,
    offset: Length,
    /// Rows: the offset and the curve's parameters; columns: points. Per mm.
    gain: DMatrix<f64>,
    /// What each point's drop exceeds the curve's by.
    residuals: Vec<Length>,
    /// What the land asks the last parameter to change by, and its variance.
    last_pull: f64,
    last_variance: f64,
}

impl Fit {
    /// The curve and the edge's offset alone.
    pub fn laid(&self) -> Laid {
        Laid {
            curve: self.curve,
            edge_offset: self.edge_offset.value,
        }
    }

    /// The answer of this fit to changes of the land that it was fitted to.
    ///
    /// A parameter that stuck at its bound is held there, and one that no place says anything about
    /// stays as it is.
    ///
    /// # Errors
    /// `curve` when the land is not the one that was fitted.
    pub fn response(&self, land: &Land) -> Result<Response> {
        let held: Vec<usize> = self.held.iter().map(|parameter| parameter + 1).collect();
        self.answer(land, self.curve, &held)
    }

    /// The same with a margin that is free to grow, where the curve has none: what the land says of
    /// a margin that was not worth a parameter. A free curve has none at all.
    ///
    /// # Errors
    /// As [`Self::response`].
    pub fn margin_response(&self, land: &Land) -> Result<Response> {
        let mut held: Vec<usize> = self.held.iter().map(|parameter| parameter + 1).collect();
        let curve = match self.curve.margin() {
            Some(_) => self.curve,
            None => self.curve.behind_margin(Angle::ZERO),
        };
        held.retain(|parameter| *parameter != curve.freedom());
        self.answer(land, curve, &held)
    }

    fn answer(&self, land: &Land, curve: Curve, held: &[usize]) -> Result<Response> {
        let data = Data::check(land)?;
        let points = data.arcs.len();
        if points != self.weights.len() {
            return Err(Error::new(
                Code::Curve,
                "read another number of places than were fitted",
            ));
        }
        let parameters = 1 + curve.freedom();
        let edge = points + usize::from(data.edge.is_some());
        let offset = self.edge_offset.value.mm();
        let mut jacobian: DMatrix<f64> = DMatrix::zeros(edge + self.stiff.nrows(), parameters);
        let mut roots = vec![0.0; points];
        let mut change = vec![0.0; parameters - 1];
        let mut misfit: DVector<f64> = DVector::zeros(jacobian.nrows());
        for i in 0..points {
            let drop = curve.at(data.arcs[i]).drop;
            curve.change(data.arcs[i], &mut change);
            let root = self.weights[i].sqrt() / (data.uncertainties[i] * self.inflation);
            roots[i] = root;
            misfit[i] = root * (data.drops[i] - drop - offset);
            jacobian[(i, 0)] = root;
            for (j, slope) in change.iter().enumerate() {
                jacobian[(i, j + 1)] = root * slope;
            }
        }
        if let Some(uncertainty) = data.edge {
            jacobian[(points, 0)] = 1.0 / uncertainty;
            misfit[points] = -offset / uncertainty;
        }
        if !self.stiff.is_empty() {
            jacobian
                .rows_mut(edge, self.stiff.nrows())
                .copy_from(&self.stiff);
        }
        for parameter in held {
            jacobian.column_mut(*parameter).fill(0.0);
        }
        let known = linear::covariance(&jacobian).matrix;
        let mut gain = &known * jacobian.rows(0, points).transpose();
        for (mut column, root) in gain.column_iter_mut().zip(&roots) {
            column *= *root;
        }
        let pull = &known * jacobian.tr_mul(&misfit);
        Ok(Response {
            curve,
            offset: self.edge_offset.value,
            gain,
            last_pull: pull[parameters - 1],
            last_variance: known[(parameters - 1, parameters - 1)],
            residuals: land
                .points
                .iter()
                .map(|point| point.drop - curve.drop(point.arc))
                .collect(),
        })
    }
}

impl Response {
    /// The fit's own curve.
    pub fn laid(&self) -> Laid {
        Laid {
            curve: self.curve,
            edge_offset: self.offset,
        }
    }

    /// Width of the margin that the land asks for, to first order and below 0 where it asks for less
    /// than none, with its standard uncertainty. `None` for a curve without a margin.
    pub fn margin(&self) -> Option<Estimate<Angle>> {
        let width = self.curve.margin()?;
        Some(Estimate::new(
            width + Angle::from_rad(self.last_pull),
            Angle::from_rad(self.last_variance.sqrt()),
        ))
    }

    /// Change of the margin after the same places were measured elsewhere, below 0 where the land
    /// asks for less than none. `None` when their number is another, or there is no margin.
    pub fn margin_moved(&self, to: &Land) -> Option<Angle> {
        self.curve.margin()?;
        let (_, moved) = self.changes(to)?;
        Some(Angle::from_rad(moved[self.curve.freedom()]))
    }

    /// The curve after the same places were measured elsewhere: on another radius, at other arcs,
    /// at other drops. `None` when their number is another, or such a land cannot be.
    pub fn moved(&self, to: &Land) -> Option<Laid> {
        let (curve, moved) = self.changes(to)?;
        Some(Laid {
            curve: curve.changed_by(|j| moved[j + 1]),
            edge_offset: self.offset + Length::from_mm(moved[0]),
        })
    }

    /// Change of a figure with the drop of each point, in the figure's unit per mm.
    pub fn weights(&self, figure: impl Fn(&Laid) -> f64) -> Vec<f64> {
        let base = self.laid();
        let here = figure(&base);
        let mut weights = DVector::zeros(self.gain.ncols());
        for (row, gain) in self.gain.row_iter().enumerate() {
            // A step that moves the curve by some tenths of a micrometre.
            let reach = gain.iter().fold(0.0_f64, |most, each| most.max(each.abs()));
            let step = (1e-4 * reach).max(1e-12);
            let stepped = match row.checked_sub(1) {
                None => Laid {
                    edge_offset: base.edge_offset + Length::from_mm(step),
                    ..base
                },
                Some(parameter) => Laid {
                    curve: self
                        .curve
                        .map(|j, value, _| value + if j == parameter { step } else { 0.0 }),
                    ..base
                },
            };
            weights.axpy((figure(&stepped) - here) / step, &gain.transpose(), 1.0);
        }
        weights.iter().copied().collect()
    }

    /// The curve on the new circle, and what offset and parameters change by.
    fn changes(&self, to: &Land) -> Option<(Curve, DVector<f64>)> {
        // An input so little known that the tool would have no size left says nothing of it.
        let sized = [to.radius.mm(), to.end.rad()];
        let sized = sized.iter().all(|it| it.is_finite() && *it > 0.0);
        if to.points.len() != self.residuals.len() || !sized {
            return None;
        }
        let curve = self.curve.moved_to(to.radius, to.end);
        let mut moved: DVector<f64> = DVector::zeros(self.gain.nrows());
        for ((column, point), before) in self.gain.column_iter().zip(to.points).zip(&self.residuals)
        {
            let change = point.drop - curve.drop(point.arc) - *before;
            moved.axpy(change.mm(), &column, 1.0);
        }
        Some((curve, moved))
    }
}
