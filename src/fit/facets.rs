//! A flat primary and a flat secondary behind it: drop with its derivatives.

use super::lines::{self, Point};
use crate::card::Surface;

/// Two flats; lengths in mm, angles in radians.
#[derive(Clone, Copy, Debug)]
pub(super) struct Facets {
    pub surface: Surface,
    /// Of the edge circle.
    pub radius: f64,
    /// Relief angle at the edge.
    pub primary: f64,
    /// Arc behind the edge where the secondary begins.
    pub width: f64,
    /// Relief angle of the secondary to the motion where it begins.
    pub secondary: f64,
}

impl Facets {
    /// Drop, slope, and change with the primary's relief, its width and the secondary's relief.
    ///
    /// The drop is continuous where the flats meet; its slope and the change with the width jump
    /// there, and each is exact on its own side.
    pub fn at(&self, phi: f64) -> (f64, f64, [f64; 3]) {
        if phi <= self.width {
            let first = self.flat(self.radius, self.primary, phi);
            return (first.drop, first.slope, [first.change[0], 0.0, 0.0]);
        }
        let end = self.flat(self.radius, self.primary, self.width);
        // Where the secondary begins it is the flat of an edge that stands on a smaller circle; an
        // axial one stays on the probe's.
        let radius = match self.surface {
            Surface::Radial => self.radius - end.drop,
            Surface::Axial => self.radius,
        };
        let second = self.flat(radius, self.secondary, phi - self.width);
        // What of a deeper beginning is left here.
        let left = match self.surface {
            Surface::Radial => 1.0 - second.drop / radius,
            Surface::Axial => 1.0,
        };
        (
            end.drop + second.drop,
            second.slope,
            [
                end.change[0] * left,
                end.slope * left - second.slope,
                second.change[0],
            ],
        )
    }

    fn flat(&self, radius: f64, relief: f64, phi: f64) -> Point {
        match self.surface {
            Surface::Radial => lines::radial_flat(radius, relief, phi),
            Surface::Axial => lines::axial_flat(radius, relief, phi),
        }
    }
}
