//! The runout that a reference trace showed.

use crate::quantity::Length;
use crate::shape::Runout;

/// A reference trace's runout.
pub struct Reference {
    /// Where along the tool it was taken.
    pub z: Option<Length>,
    /// What it showed.
    pub runout: Runout,
}
