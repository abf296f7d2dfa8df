//! Lengths, angles, times and estimates: the units live in the types.

mod angle;
mod estimate;
mod length;
mod round;
mod speed;
mod time;
pub mod told;
pub mod typed;
mod units;

pub use angle::{Angle, AngularSpeed};
pub use estimate::Estimate;
pub use length::Length;
use round::decimals_for;
pub use round::{
    COVERAGE_FACTOR, deg_min, expanded, rounded, rounded_down, rounded_up, stated, with_uncertainty,
};
pub use speed::Speed;
pub use time::Time;
pub use units::Units;

/// Implements the arithmetic that a one-dimensional quantity has: sums, scaling, and the ratio of two.
macro_rules! linear_quantity {
    ($name:ident) => {
        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl std::ops::AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl std::ops::SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                self.0 -= other.0;
            }
        }
        impl std::ops::Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl std::ops::Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl std::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
                Self(items.map(|item| item.0).sum())
            }
        }
        impl $name {
            /// Nothing at all.
            pub const ZERO: Self = Self(0.0);

            /// The distance from zero.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// Whether it is neither infinite nor not a number.
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }

            /// The smaller of the two.
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of the two.
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The order that also places infinities and not-a-number, for sorting.
            pub fn total_cmp(&self, other: &Self) -> std::cmp::Ordering {
                self.0.total_cmp(&other.0)
            }
        }
    };
}
pub(crate) use linear_quantity;
