//! A plane through the edge.

use super::lines;
use super::shape::{Base, Bound, Point, Shape};
use crate::card::Surface;
use crate::fit::land::Data;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Flat {
    /// At the edge.
    pub relief: f64,
}

impl Shape for Flat {
    const FEWEST: usize = 4;

    fn guesses(data: &Data, _: Surface) -> Vec<Self> {
        let (tan, _) = lines::bow(data);
        // The second reaches further round, should the first not reach the last point.
        [tan.atan(), 1.0].map(|relief| Self { relief }).to_vec()
    }

    fn map(self, _: &Base, mut next: impl FnMut(f64, Bound) -> f64) -> Self {
        Self {
            relief: next(self.relief, Bound::relief("relief angle")),
        }
    }

    fn at(&self, base: &Base, phi: f64) -> Point {
        lines::flat(base.surface, base.radius, self.relief, phi)
    }
}
