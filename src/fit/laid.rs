//! A curve laid on a land, with the offset of its edge.

use super::Curve;
use crate::quantity::{Angle, Length};

/// A curve and the edge's offset, as a fit gives them or as they answer a change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// The curve.
    pub curve: Curve,
    /// How far its edge lies below the measured one.
    pub edge_offset: Length,
}

impl Laid {
    /// Drop below the edge of the metal. That is the curve's own edge, to which all of the land
    /// speaks, as long as the measured one is within `trust` of it; what it stands off by more is no
    /// chance: a margin or a worn edge too narrow for the curve.
    pub fn drop_below_edge(&self, arc: Angle, trust: Option<Length>) -> Length {
        let beyond = trust.map_or(Length::ZERO, |trust| {
            let off = self.edge_offset;
            off - off.max(-trust).min(trust)
        });
        self.curve.drop(arc) + beyond
    }
}
