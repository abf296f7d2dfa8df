//! Places: in the tool's frame, on the path of the stylus, and of a land.

use super::Clamping;
use crate::card::Surface;
use crate::quantity::{Angle, Length};

/// A place in the tool's frame: along the arc and up from the axis (radial) or along it (axial).
///
/// Inside this stage lengths are bare millimetres and angles bare radians: the inverse offset is
/// plain plane geometry, done some ten thousand times for one verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    /// Angle about the tool's axis, growing towards the heel, continuous over the tooth; radians.
    pub arc: f64,
    /// Distance from the axis (radial), or height along it (axial); mm.
    pub height: f64,
}

/// The plane in which a feature is judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Plane {
    /// Across the axis, in polar coordinates.
    Polar,
    /// The cylinder that the probe follows, unrolled; its radius in mm.
    Unrolled { radius: f64 },
}

impl Plane {
    pub fn of(clamping: &Clamping) -> Self {
        match clamping.surface {
            Surface::Radial => Plane::Polar,
            Surface::Axial => Plane::Unrolled {
                radius: clamping.radius.mm(),
            },
        }
    }

    /// The lever arm that turns an arc at this height into a length; mm.
    pub fn arm(self, height: f64) -> f64 {
        match self {
            Plane::Polar => height,
            Plane::Unrolled { radius } => radius,
        }
    }
}

/// One place of the centre's path and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct PathPoint {
    pub place: Place,
    /// Standard uncertainty of the height from scatter alone; mm.
    pub scatter: f64,
    /// What the encoder's steps leave open of the angle, as a standard uncertainty; radians.
    pub steps: f64,
    /// Index of the merged cell.
    pub cell: usize,
}

/// One place of a land.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LandPlace {
    /// Behind the edge.
    pub arc: Angle,
    /// Below the edge.
    pub drop: Length,
    /// Standard uncertainty of the surface's height here, from scatter alone.
    pub scatter: Length,
}
