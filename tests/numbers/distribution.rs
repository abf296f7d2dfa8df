//! Distributions of inputs that published examples have and no budget of the program does.

use heelclear::judge::Random;
use rand::Rng;
use rand_distr::{Distribution as _, StandardNormal, StudentT};
use std::f64::consts::TAU;

/// How a quantity spreads about its estimate (JCGM 101, 6.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distribution(Shape);

#[derive(Clone, Copy, Debug, PartialEq)]
enum Shape {
    Normal {
        mean: f64,
        deviation: f64,
    },
    StudentT {
        mean: f64,
        scale: f64,
        free: f64,
        unit: StudentT<f64>,
    },
    Trapezoidal {
        low: f64,
        high: f64,
        top: f64,
    },
    Arcsine {
        low: f64,
        high: f64,
    },
    InexactLimits {
        low: f64,
        high: f64,
        inexact: f64,
    },
}

impl Distribution {
    /// The normal distribution. `None` unless the numbers are finite and the deviation not negative.
    pub fn normal(mean: f64, standard_deviation: f64) -> Option<Self> {
        let usable =
            mean.is_finite() && standard_deviation.is_finite() && standard_deviation >= 0.0;
        usable.then_some(Self(Shape::Normal {
            mean,
            deviation: standard_deviation,
        }))
    }

    /// Student's distribution about `mean`: what is known of a mean from a few readings, where
    /// `scale` is its standard uncertainty from their scatter (JCGM 101, 6.4.9).
    pub fn student_t(mean: f64, scale: f64, degrees_of_freedom: f64) -> Option<Self> {
        let usable = mean.is_finite() && scale.is_finite() && scale >= 0.0;
        let unit = StudentT::new(degrees_of_freedom).ok()?;
        (usable && degrees_of_freedom.is_finite()).then_some(Self(Shape::StudentT {
            mean,
            scale,
            free: degrees_of_freedom,
            unit,
        }))
    }

    /// Anywhere between two limits alike (JCGM 101, 6.4.2).
    pub fn rectangular(low: f64, high: f64) -> Option<Self> {
        Self::trapezoidal(low, high, 1.0)
    }

    /// Falls off on both sides of a flat top, which takes `top` (0 to 1) of the whole width
    /// (JCGM 101, 6.4.4); 0 is a triangle.
    pub fn trapezoidal(low: f64, high: f64, top: f64) -> Option<Self> {
        let usable = limits(low, high) && (0.0..=1.0).contains(&top);
        usable.then_some(Self(Shape::Trapezoidal { low, high, top }))
    }

    /// What swings to and fro between two limits, at an unknown phase (JCGM 101, 6.4.6).
    pub fn arcsine(low: f64, high: f64) -> Option<Self> {
        limits(low, high).then_some(Self(Shape::Arcsine { low, high }))
    }

    /// Anywhere between limits that are themselves known to `inexact` only (JCGM 101, 6.4.3).
    pub fn inexact_limits(low: f64, high: f64, inexact: f64) -> Option<Self> {
        let usable = limits(low, high) && inexact >= 0.0 && inexact <= (high - low) / 2.0;
        usable.then_some(Self(Shape::InexactLimits { low, high, inexact }))
    }

    /// Its mean; Student's about its middle.
    pub fn mean(&self) -> f64 {
        match self.0 {
            Shape::Normal { mean, .. } | Shape::StudentT { mean, .. } => mean,
            Shape::Trapezoidal { low, high, .. }
            | Shape::Arcsine { low, high }
            | Shape::InexactLimits { low, high, .. } => f64::midpoint(low, high),
        }
    }

    /// Its standard deviation; Student's has none up to two degrees of freedom.
    pub fn standard_uncertainty(&self) -> Option<f64> {
        match self.0 {
            Shape::Normal { deviation, .. } => Some(deviation),
            Shape::StudentT { scale, free, .. } => {
                (free > 2.0).then(|| scale * (free / (free - 2.0)).sqrt())
            }
            Shape::Trapezoidal { low, high, top } => {
                Some((high - low) * ((1.0 + top * top) / 24.0).sqrt())
            }
            Shape::Arcsine { low, high } => Some((high - low) / 8f64.sqrt()),
            Shape::InexactLimits { low, high, inexact } => {
                let (width, inexact) = (high - low, inexact);
                Some((width * width / 12.0 + inexact * inexact / 9.0).sqrt())
            }
        }
    }

    /// One value.
    #[inline]
    pub fn draw(&self, random: &mut Random) -> f64 {
        match self.0 {
            Shape::Normal { mean, deviation } => {
                let unit: f64 = StandardNormal.sample(random);
                mean + deviation * unit
            }
            Shape::StudentT {
                mean, scale, unit, ..
            } => mean + scale * unit.sample(random),
            Shape::Trapezoidal { low, high, top } => {
                let (first, second): (f64, f64) = (random.random(), random.random());
                low + (high - low) / 2.0 * ((1.0 + top) * first + (1.0 - top) * second)
            }
            Shape::Arcsine { low, high } => {
                let phase = TAU * random.random::<f64>();
                f64::midpoint(low, high) + (high - low) / 2.0 * phase.sin()
            }
            Shape::InexactLimits { low, high, inexact } => {
                let (first, second): (f64, f64) = (random.random(), random.random());
                let from = low - inexact + 2.0 * inexact * first;
                let to = low + high - from;
                from + (to - from) * second
            }
        }
    }
}

fn limits(low: f64, high: f64) -> bool {
    low.is_finite() && high.is_finite() && low <= high
}
