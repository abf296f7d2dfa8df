//! Curves that might as well be the true one, drawn as likely as they are.

use super::fitted::Other;
use super::{Curve, Fit, Laid};
use crate::numeric::linear::lower_factor;
use crate::quantity::Length;
use nalgebra::DMatrix;

/// Draws curves from what a fit leaves open: its parameters by their covariance, and the other
/// curves of the family that explain the land about as well by their odds.
#[derive(Clone, Debug)]
pub struct Likely {
    curve: Curve,
    /// In mm.
    offset: f64,
    /// Lower factor of the covariance of the offset and the curve's parameters.
    factor: DMatrix<f64>,
    others: Vec<Other>,
}

impl Fit {
    /// What draws curves that this fit leaves open.
    pub fn likely(&self) -> Likely {
        Likely {
            curve: self.curve,
            offset: self.edge_offset.value.mm(),
            factor: lower_factor(&self.covariance),
            others: self.others.clone(),
        }
    }
}

impl Likely {
    /// How many normal numbers a draw takes.
    pub fn normals(&self) -> usize {
        self.factor.nrows()
    }

    /// One curve. `normals` are independent with mean 0 and standard deviation 1, `chance` lies
    /// anywhere from 0 to 1 alike. A parameter stays within the range that it may have.
    pub fn draw(&self, normals: &[f64], chance: f64) -> Laid {
        let mut left = chance;
        let other = self.others.iter().find(|other| {
            left -= other.odds;
            left < 0.0
        });
        let (curve, offset) = match other {
            Some(other) => (&other.curve, other.offset),
            None => (&self.curve, self.offset),
        };
        // The factor is lower: row `i` has its last entry on the diagonal.
        let change = |row: usize| -> f64 {
            let taken = normals.iter().take(row + 1).enumerate();
            taken
                .map(|(column, normal)| self.factor[(row, column)] * normal)
                .sum()
        };
        Laid {
            curve: curve.changed_by(|j| change(j + 1)),
            edge_offset: Length::from_mm(offset + change(0)),
        }
    }
}
