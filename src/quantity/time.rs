//! A time since the start of a trace, or a span of it, kept in seconds.

use super::linear_quantity;

/// A time or a span of time; seconds inside.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Time(pub(super) f64);

linear_quantity!(Time);

impl Time {
    /// From seconds.
    pub const fn from_s(s: f64) -> Self {
        Self(s)
    }

    /// From milliseconds.
    pub fn from_ms(ms: f64) -> Self {
        Self(ms / 1000.0)
    }

    /// In seconds.
    pub const fn s(self) -> f64 {
        self.0
    }

    /// In milliseconds.
    pub fn ms(self) -> f64 {
        self.0 * 1000.0
    }
}
