//! One relief angle. Constant rise: `d = R phi tan a`, the same on both surfaces; and the same angle
//! everywhere, seen along the radius: `r = R exp(-phi tan a)`.

use super::lines;
use super::shape::{Base, Bound, Point, Shape};
use crate::card::Surface;
use crate::fit::land::Data;

pub(in crate::fit) type Spiral = OneAngle<false>;
pub(in crate::fit) type LogSpiral = OneAngle<true>;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct OneAngle<const EVERYWHERE: bool> {
    /// At the edge.
    pub relief: f64,
}

impl<const EVERYWHERE: bool> Shape for OneAngle<EVERYWHERE> {
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
        let (drop, shrink) = match EVERYWHERE {
            true => (-radius * (-phi * tan).exp_m1(), (-phi * tan).exp()),
            false => (radius * phi * tan, 1.0),
        };
        Point::new(
            drop,
            radius * tan * shrink,
            [radius * phi * shrink * (1.0 + tan * tan)],
        )
    }
}
