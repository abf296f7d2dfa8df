//! The tool card: what the reground tool should be.

use super::Limits;
use crate::quantity::{Angle, Length};

/// A tool and what is wanted of each of its features.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolCard {
    /// The shop's own number for it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Which way it cuts.
    pub hand: Hand,
    /// Number of teeth, 1 to 24.
    pub flutes: u32,
    /// Probability of conformity that a pass or fail needs, 0.95 by default.
    pub confidence: f64,
    /// What is measured on it.
    pub features: Vec<Feature>,
}

/// Which way a tool cuts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// Clockwise seen from the shank.
    Right,
    /// Counter-clockwise seen from the shank.
    Left,
}

/// One surface of a tool whose lands are judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Feature {
    /// What traces call it.
    pub name: String,
    /// Whether the probe moves along a radius or along the axis.
    pub surface: Surface,
    /// Diameter of the edge circle; for an axial surface, of the circle that the probe follows.
    pub diameter: Length,
    /// Arc length behind the edge at which the drop is read.
    pub check_distance: Length,
    /// Arc to judge behind each edge; found in the trace when absent.
    pub land: Option<Angle>,
    /// Feed a turn, for axial surfaces.
    pub feed: Option<Length>,
    /// Which family of curves describes the land.
    pub curve: CurveChoice,
    /// What is allowed.
    pub limits: Limits,
}

/// The direction in which the indicator touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// Along a radius.
    Radial,
    /// Parallel to the axis.
    Axial,
}

/// Which family of curves a card asks for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum CurveChoice {
    /// Let the data choose.
    #[default]
    Auto,
    /// A flat land.
    Flat,
    /// A circular arc, convex or hollow.
    Arc,
    /// Constant-rise cam relief.
    Spiral,
    /// The same relief angle everywhere.
    LogSpiral,
    /// Fall, dwell, return.
    Cam,
    /// A flat primary and a flat secondary.
    Facets,
    /// A smoothing spline.
    Free,
}
