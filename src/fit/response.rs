//! How a fit answers small changes of its points, without being solved again.

use super::land::Data;
use super::{Curve, Fit, Land};
use crate::error::{Code, Error, Result};
use crate::quantity::Length;
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
}

impl Fit {
    /// The answer of this fit to changes of the land that it was fitted to.
    ///
    /// # Errors
    /// `curve` when the land is not the one that was fitted, or its points do not tell the
    /// parameters apart.
    pub fn response(&self, land: &Land) -> Result<Response> {
        let data = Data::check(land)?;
        if data.arcs.len() != self.weights.len() {
            return Err(refused("read another number of places than were fitted"));
        }
        let parameters = 1 + self.curve.freedom();
        let mut weighted = DMatrix::zeros(parameters, data.arcs.len());
        let mut normal = DMatrix::zeros(parameters, parameters);
        if let Some(edge) = data.edge {
            normal[(0, 0)] = 1.0 / (edge * edge);
        }
        let mut row = DVector::zeros(parameters);
        for (i, arc) in data.arcs.iter().enumerate() {
            let (_, _, change) = self.curve.at(*arc);
            row[0] = 1.0;
            for (j, slope) in change.iter().take(parameters - 1).enumerate() {
                row[j + 1] = *slope;
            }
            let u = data.uncertainties[i] * self.inflation;
            let weight = self.weights[i] / (u * u);
            weighted.set_column(i, &(&row * weight));
            normal.ger(weight, &row, &row, 1.0);
        }
        // Parameters differ in size by orders of magnitude; the scaled matrix does not.
        let scale = normal.diagonal().map(|d: f64| 1.0 / d.max(1e-300).sqrt());
        let scaled = DMatrix::from_fn(parameters, parameters, |i, j| {
            normal[(i, j)] * scale[i] * scale[j]
        });
        let solved = scaled
            .cholesky()
            .map(|factor| {
                let right = DMatrix::from_fn(parameters, data.arcs.len(), |i, j| {
                    weighted[(i, j)] * scale[i]
                });
                factor.solve(&right)
            })
            .ok_or_else(|| refused("the land does not tell the curve's parameters apart"))?;
        let gain = DMatrix::from_fn(parameters, data.arcs.len(), |i, j| {
            solved[(i, j)] * scale[i]
        });
        Ok(Response {
            curve: self.curve,
            offset: self.edge_offset.value,
            gain,
            residuals: land
                .points
                .iter()
                .map(|point| point.drop - self.curve.drop(point.arc))
                .collect(),
        })
    }
}

/// A curve and the edge's offset, as a fit gives them or as they answer a change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// The curve.
    pub curve: Curve,
    /// How far its edge lies below the measured one.
    pub edge_offset: Length,
}

impl Response {
    /// The fit's own curve.
    pub fn laid(&self) -> Laid {
        Laid {
            curve: self.curve,
            edge_offset: self.offset,
        }
    }

    /// The curve after the same places were measured elsewhere: on another radius, at other arcs,
    /// at other drops. `None` when their number is another.
    pub fn moved(&self, to: &Land) -> Option<Laid> {
        if to.points.len() != self.residuals.len() {
            return None;
        }
        let curve = self.curve.moved_to(to.radius, to.end);
        let changes = to
            .points
            .iter()
            .zip(&self.residuals)
            .map(|(point, before)| {
                let now = point.drop - curve.drop(point.arc);
                now - *before
            });
        Some(self.step(&curve, changes))
    }

    /// Change of a figure with the drop of each point, in the figure's unit per mm.
    pub fn weights(&self, figure: impl Fn(&Laid) -> f64) -> Vec<f64> {
        let base = self.laid();
        let here = figure(&base);
        let theta = self.curve.theta();
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
                Some(parameter) => {
                    let values = theta.iter().enumerate();
                    let moved =
                        values.map(|(j, value)| value + if j == parameter { step } else { 0.0 });
                    Laid {
                        curve: self.curve.with_theta(moved),
                        ..base
                    }
                }
            };
            weights.axpy((figure(&stepped) - here) / step, &gain.transpose(), 1.0);
        }
        weights.iter().copied().collect()
    }

    fn step(&self, curve: &Curve, changes: impl Iterator<Item = Length>) -> Laid {
        let mut moved: DVector<f64> = DVector::zeros(self.gain.nrows());
        for (column, change) in self.gain.column_iter().zip(changes) {
            moved.axpy(change.mm(), &column, 1.0);
        }
        let theta = curve.theta().iter().enumerate().map(|(j, value)| {
            let (_, least, greatest) = curve.bounds(j);
            (value + moved[j + 1]).clamp(least, greatest)
        });
        Laid {
            curve: curve.with_theta(theta),
            edge_offset: self.offset + Length::from_mm(moved[0]),
        }
    }
}

fn refused(message: &str) -> Error {
    Error::new(Code::Curve, message)
}
