//! A length, kept in millimetres.

use super::linear_quantity;

/// A length; millimetres inside.
///
/// ```
/// use heelclear::quantity::Length;
/// assert_eq!(Length::from_in(1.0).mm(), 25.4); // the inch is 25.4 mm by definition
/// assert_eq!(Length::from_um(5.0), Length::from_mm(0.005));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Length(pub(super) f64);

linear_quantity!(Length);

/// Millimetres in an inch, by definition (international yard and pound agreement, 1959).
const MM_PER_INCH: f64 = 25.4;

impl Length {
    /// From millimetres.
    pub const fn from_mm(mm: f64) -> Self {
        Self(mm)
    }

    /// From micrometres.
    pub fn from_um(um: f64) -> Self {
        Self(um / 1000.0)
    }

    /// From inches.
    pub fn from_in(inches: f64) -> Self {
        Self(inches * MM_PER_INCH)
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.0
    }

    /// In micrometres.
    pub fn um(self) -> f64 {
        self.0 * 1000.0
    }

    /// In inches.
    pub fn inches(self) -> f64 {
        self.0 / MM_PER_INCH
    }
}
