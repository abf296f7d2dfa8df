//! A reading that stands above the edge before it.

use super::doubt::{Doubt, DoubtKind, Leaves};
use crate::card::Name;
use crate::quantity::{Angle, Length, told};
use crate::shape::Standing;
use crate::trace::Single;
use std::f64::consts::TAU;

/// A reading above its line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Above {
    pub standing: Standing,
    pub behind: Angle,
    pub higher: Length,
    /// Whether it is the limit of the clearance that it stands above.
    pub by_limit: bool,
}

/// What something stands higher than.
pub(super) fn than(by_limit: bool) -> &'static str {
    if by_limit {
        "than the limit of the heel clearance allows"
    } else {
        "than the edge"
    }
}

impl Above {
    pub fn doubt(&self, index: usize) -> Doubt {
        let above = than(self.by_limit);
        Doubt {
            tooth: Some(index),
            touches: vec![Name::HeelClearance],
            leaves: Leaves::NoPass,
            ..Doubt::about(
                DoubtKind::StandsAboveEdge,
                format!(
                    "a reading {:.1}° behind the edge, at {:.1}° of the encoder, stands {} higher {above}, and no other turn shows that nothing is there",
                    self.behind.deg(),
                    self.standing.angle.deg(),
                    told::um(self.higher, 1),
                ),
                "look there for a burr, dirt or a ridge, and turn once more slowly over it",
            )
        }
    }
}

/// Whether two readings were taken in one turn.
pub(super) fn same_turn(one: &Single, other: &Single) -> bool {
    one.pass == other.pass && (one.angle - other.angle).abs().rad() < TAU / 2.0
}
