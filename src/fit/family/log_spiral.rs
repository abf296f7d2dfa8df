//! The same relief angle everywhere, seen along the radius: `r = R exp(-phi tan a)`.

use super::lines;
use super::shape::{Base, Bound, Point, Shape};
use crate::card::Surface;
use crate::fit::land::Data;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct LogSpiral {
    pub relief: f64,
}

impl Shape for LogSpiral {
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
        let shrink = (-phi * tan).exp();
        Point::new(
            -radius * (-phi * tan).exp_m1(),
            radius * tan * shrink,
            [radius * phi * shrink * (1.0 + tan * tan)],
        )
    }
}
