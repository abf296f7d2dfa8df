//! A value and how far it may be off.

/// A value with its standard uncertainty, both in the quantity's own unit (JCGM 100, 2.3.1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate<Q> {
    /// The best estimate.
    pub value: Q,
    /// One standard uncertainty, never negative.
    pub standard_uncertainty: Q,
}

impl<Q> Estimate<Q> {
    /// Joins a value and its standard uncertainty.
    pub const fn new(value: Q, standard_uncertainty: Q) -> Self {
        Self {
            value,
            standard_uncertainty,
        }
    }
}
