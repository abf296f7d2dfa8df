//! Constant rise: `d = R phi tan a`; the same on both surfaces.

use super::lines;
use super::shape::{Base, Bound, Point, Shape};
use crate::card::Surface;
use crate::fit::land::Data;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Spiral {
    /// At the edge.
    pub relief: f64,
}

impl Shape for Spiral {
    const FEWEST: usize = 4;

    fn guesses(data: &Data, _: Surface) -> Vec<Self> {
        let (tan, _) = lines::bow(data);
        vec![Self { relief: tan.atan() }]
    }

    fn map(self, _: &Base, mut next: impl FnMut(f64, Bound) -> f64) -> Self {
        Self {
            relief: next(self.relief, Bound::relief("relief angle")),
        }
    }

    fn at(&self, base: &Base, phi: f64) -> Point {
        let (radius, tan) = (base.radius, self.relief.tan());
        Point::new(
            radius * phi * tan,
            radius * tan,
            [radius * phi * (1.0 + tan * tan)],
        )
    }
}
