//! How well a once-per-turn displacement is known, which may differ from one direction to another.

use super::Eccentricity;
use crate::quantity::Length;

/// Variances and covariance of the two components of an eccentricity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Covariance {
    /// In mm².
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Covariance {
    /// From variances and covariance in mm².
    pub fn of(xx: f64, xy: f64, yy: f64) -> Self {
        Self { xx, xy, yy }
    }

    /// The same standard uncertainty in every direction.
    pub fn alike(each: Length) -> Self {
        let variance = each.mm() * each.mm();
        Self::of(variance, 0.0, variance)
    }

    /// Of what is one standard uncertainty long and lies in one direction only.
    pub fn one_way(step: Eccentricity) -> Self {
        let (x, y) = (step.x.mm(), step.y.mm());
        Self::of(x * x, x * y, y * y)
    }

    /// With another, independent contribution.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self::of(self.xx + other.xx, self.xy + other.xy, self.yy + other.yy)
    }

    /// With every length multiplied.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        let square = factor * factor;
        Self::of(self.xx * square, self.xy * square, self.yy * square)
    }

    /// Standard uncertainty of the component along a direction, given by its cosine and sine.
    pub fn along(self, cos: f64, sin: f64) -> Length {
        let variance = self.xx * cos * cos + 2.0 * self.xy * cos * sin + self.yy * sin * sin;
        Length::from_mm(variance.max(0.0).sqrt())
    }

    /// Two steps at right angles, each one standard uncertainty long, that vary independently of
    /// each other: the half-axes of the ellipse, the longer one first.
    pub fn half_axes(self) -> [Eccentricity; 2] {
        let half_difference = (self.xx - self.yy) / 2.0;
        let middle = f64::midpoint(self.xx, self.yy);
        let off = half_difference.hypot(self.xy);
        // Where all directions are alike, those of the axes of the frame.
        let turn = self.xy.atan2(half_difference) / 2.0;
        let (sin, cos) = turn.sin_cos();
        let long = (middle + off).max(0.0).sqrt();
        let short = (middle - off).max(0.0).sqrt();
        // Without a minus before a zero, which would point the other way.
        [(long * cos, long * sin), (0.0 - short * sin, short * cos)].map(|(x, y)| Eccentricity {
            x: Length::from_mm(x),
            y: Length::from_mm(y),
        })
    }

    /// The largest standard uncertainty of any direction.
    pub fn largest(self) -> Length {
        let [long, _] = self.half_axes();
        long.size()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(x: f64, y: f64) -> Eccentricity {
        Eccentricity {
            x: Length::from_mm(x),
            y: Length::from_mm(y),
        }
    }

    #[test]
    fn the_half_axes_make_up_the_whole() {
        let covariance =
            Covariance::alike(Length::from_mm(0.3)).and(Covariance::one_way(step(0.6, -0.8)));
        let [long, short] = covariance.half_axes();
        assert!((long.size().mm() - 1.09_f64.sqrt()).abs() < 1e-12);
        assert!((short.size().mm() - 0.3).abs() < 1e-12);
        let again = Covariance::one_way(long).and(Covariance::one_way(short));
        for (cos, sin) in [(1.0, 0.0), (0.0, 1.0), (0.6, 0.8)] {
            let apart = (again.along(cos, sin) - covariance.along(cos, sin)).mm();
            assert!(apart.abs() < 1e-12, "{apart} along {cos}, {sin}");
        }
    }

    #[test]
    fn what_is_alike_in_all_directions_has_the_axes_of_the_frame() {
        let each = Length::from_mm(0.5);
        let axes = Covariance::alike(each).half_axes();
        assert_eq!(axes, [step(0.5, 0.0), step(0.0, 0.5)]);
    }
}
