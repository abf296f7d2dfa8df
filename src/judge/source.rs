//! One uncertain input, and how far the part is moved by it.

use super::{Input, Spread};
use crate::quantity::Length;
use crate::shape::Clamping;

/// One input of the measurement model: how it spreads, and how to move it by one standard
/// uncertainty.
pub(super) struct Source {
    pub input: Input,
    /// In the unit of `input`.
    pub estimate: Option<f64>,
    /// In the unit of `input`.
    pub standard_uncertainty: f64,
    pub spread: Spread,
    /// The clamping with this input one standard uncertainty up.
    pub moved: Clamping,
}

/// The diameter of a reground tool may be off the card's by this part: it enters only as the lever
/// arm of the arc and as the curvature under the stylus (common practice, no source).
pub(super) const DIAMETER_TOLERANCE: f64 = 0.005;

/// By how much the diameter of a reground tool may be off the card's.
pub fn diameter_tolerance(diameter: Length) -> Length {
    diameter * DIAMETER_TOLERANCE
}

/// A lever that is set by eye stands within this many radians of where it was meant (2°; common
/// practice, no source).
pub(super) const LEVER_TOLERANCE: f64 = 0.035;
