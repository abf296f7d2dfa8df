//! A flat primary and a flat secondary behind it.

use super::lines;
use super::shape::{Base, Bound, Point, Search, Shape};
use crate::card::Surface;
use crate::fit::hinge;
use crate::fit::land::Data;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Facets {
    /// Relief angle at the edge.
    pub primary: f64,
    /// Arc behind the edge where the secondary begins.
    pub width: f64,
    /// Relief angle of the secondary to the motion where it begins.
    pub secondary: f64,
}

impl Shape for Facets {
    const FEWEST: usize = 8;
    const SEARCH: Search = Search::Best;

    /// Two flats that meet where two straight lines do best.
    ///
    /// Over `tan phi`, `R / (r cos phi)` of a flat is a straight line, so that two of them can be
    /// found by linear least squares for every place at which they could meet.
    fn guesses(data: &Data, surface: Surface) -> Vec<Self> {
        /// Flats are not seen further round than this, in radians (chosen, no source).
        const REACH: f64 = 1.4;
        let places: Vec<[f64; 2]> = hinge::thinned(data)
            .into_iter()
            .filter(|[phi, _]| *phi < REACH)
            .map(|[phi, drop]| match surface {
                Surface::Radial => [
                    phi.tan(),
                    data.radius / ((data.radius - drop) * phi.cos()) - 1.0,
                ],
                Surface::Axial => [phi, drop / data.radius],
            })
            .collect();
        let found = hinge::search(&places, 0.0, |x, at| [x, (x - at).max(0.0)]);
        let arcs = |[level, first, more]: [f64; 3], at: f64| match surface {
            Surface::Radial => Self {
                primary: first.atan(),
                width: at.atan(),
                // `A + B tan phi` leans by `B / A` to the edge's tangent; the motion has turned since.
                secondary: ((first + more) / (1.0 + level - more * at)).atan() - at.atan(),
            },
            Surface::Axial => Self {
                primary: first.atan(),
                width: at,
                secondary: (first + more).atan(),
            },
        };
        found.into_iter().map(|(at, line)| arcs(line, at)).collect()
    }

    fn map(self, base: &Base, mut next: impl FnMut(f64, Bound) -> f64) -> Self {
        Self {
            primary: next(self.primary, Bound::relief("relief angle")),
            width: next(
                self.width,
                Bound::new("width of the primary", 0.0, base.end),
            ),
            secondary: next(self.secondary, Bound::relief("secondary relief angle")),
        }
    }

    /// The drop is continuous where the flats meet; its slope and the change with the width jump
    /// there, and each is exact on its own side.
    fn at(&self, base: &Base, phi: f64) -> Point {
        let flat = |radius, relief, phi| lines::flat(base.surface, radius, relief, phi);
        if phi <= self.width {
            return flat(base.radius, self.primary, phi);
        }
        let end = flat(base.radius, self.primary, self.width);
        // Where the secondary begins it is the flat of an edge that stands on a smaller circle; an
        // axial one stays on the probe's.
        let radius = match base.surface {
            Surface::Radial => base.radius - end.drop,
            Surface::Axial => base.radius,
        };
        let second = flat(radius, self.secondary, phi - self.width);
        // What of a deeper beginning is left here.
        let left = match base.surface {
            Surface::Radial => 1.0 - second.drop / radius,
            Surface::Axial => 1.0,
        };
        Point::new(
            end.drop + second.drop,
            second.slope,
            [
                end.change[0] * left,
                end.slope * left - second.slope,
                second.change[0],
            ],
        )
    }

    fn figures(&self, base: &Base) -> Vec<(&'static str, f64)> {
        vec![
            ("primary_mm", base.radius * self.width),
            ("secondary_relief_deg", self.secondary.to_degrees()),
        ]
    }

    fn bends_at(&self) -> Option<f64> {
        Some(self.width)
    }
}
