//! The tool as it really is: its rounds, its surfaces, and how single teeth differ.

use serde::{Deserialize, Serialize};

/// What the tool card says of the whole tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tool {
    /// The shop's number.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// `right` or `left`.
    #[serde(default = "default_hand")]
    pub hand: String,
    /// Teeth, 1 to 24.
    pub flutes: u32,
}

/// A round of the same clamping, whole or broken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Round {
    /// Its diameter.
    pub diameter_mm: f64,
    /// Distance from the tool's front.
    pub z_mm: f64,
    /// Driving flats, evenly spaced.
    #[serde(default)]
    pub flats: u32,
    /// How far each flat lies inside the round.
    #[serde(default)]
    pub flat_depth_mm: f64,
    /// Width of a keyway; 0 for none.
    #[serde(default)]
    pub keyway_width_mm: f64,
    /// Depth of the keyway.
    #[serde(default)]
    pub keyway_depth_mm: f64,
    /// Turns traced, where other than the hand's own.
    pub turns: Option<f64>,
}

/// One surface of the tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feature {
    /// What the cards call it.
    pub name: String,
    /// Along a radius or along the axis.
    #[serde(default)]
    pub surface: Surface,
    /// Circle of the highest edge; for an axial surface the circle that the probe follows.
    pub diameter_mm: f64,
    /// By how much it really is wider than the card says.
    #[serde(default)]
    pub diameter_error_mm: f64,
    /// The smallest diameter that the card allows a regrind to bring it to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_diameter_mm: Option<f64>,
    /// The shortest land that the card allows a regrind to leave.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_land_deg: Option<f64>,
    /// Whether the card says that it is ground on the face.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub on_the_face: bool,
    /// Where the drop is read.
    pub check_distance_mm: f64,
    /// Distances from the tool's front at which it is traced.
    #[serde(default = "default_z")]
    pub z_mm: Vec<f64>,
    /// By how much farther from the front each of them really is than the card says; none where
    /// the list ends.
    #[serde(default)]
    pub z_error_mm: Vec<f64>,
    /// By how much it gets smaller towards the shank.
    #[serde(default)]
    pub back_taper_deg: f64,
    /// Feed a turn, for an axial surface.
    pub feed_mm_per_rev: Option<f64>,
    /// Angle of an axial surface to the tool's axis: less than square where its rim stands back.
    #[serde(default = "default_face")]
    pub face_deg: f64,
    /// Whether the card states that angle.
    #[serde(default = "default_state_face")]
    pub state_face: bool,
    /// Curve that the card asks for.
    pub curve: Option<String>,
    /// Whether the card states the arc of the land.
    #[serde(default)]
    pub state_land: bool,
    /// The land behind each edge.
    pub land: Land,
    /// How deep the floor of the gaps lies under the highest edge.
    #[serde(default = "default_gap")]
    pub gap_depth_mm: f64,
    /// How far the wall behind each heel leans from straight down; the faces do not.
    #[serde(default)]
    pub heel_wall_deg: f64,
    /// Where single teeth differ, in order of growing angle; teeth not listed are true.
    #[serde(default)]
    pub tooth: Vec<Tooth>,
    /// `[feature.limits]` of the card, word for word.
    #[serde(default)]
    pub limits: toml::Table,
}

/// The direction in which the indicator touches.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Surface {
    /// Along a radius.
    #[default]
    Radial,
    /// Parallel to the axis.
    Axial,
}

/// How one tooth differs from the others.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Tooth {
    /// Its edge, above (or below) that of a true tooth.
    pub height_mm: f64,
    /// Its edge, behind (or ahead of) equal spacing.
    pub angle_deg: f64,
    /// Added to the relief angle of its land.
    pub relief_deg: f64,
    /// Width behind its edge that work has worn down to a round about the axis.
    #[serde(skip_serializing_if = "is_none")]
    pub wear_land_mm: f64,
    /// Radius that its edge is rounded to.
    #[serde(skip_serializing_if = "is_none")]
    pub rounding_mm: f64,
    /// A nick in its land.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nick: Option<Nick>,
    /// Its land point by point in place of its feature's: degrees behind the edge, mm under it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ground: Vec<[f64; 2]>,
}

/// A nick across a land: a parabola, deepest in its middle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Nick {
    /// Its middle behind the edge.
    pub at_mm: f64,
    /// Its width along the land.
    pub width_mm: f64,
    /// Its depth.
    pub depth_mm: f64,
}

/// A land: its arc, a margin without relief, and the relief behind that.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Land {
    /// From the edge to where the land ends.
    pub arc_deg: f64,
    /// Width of a cylindrical margin or a wear land behind the edge.
    #[serde(default)]
    pub margin_mm: f64,
    /// What follows it.
    pub relief: Relief,
}

/// The shape of the relief.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "family", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Relief {
    /// No relief at all: a cylinder about the tool's own axis.
    None {},
    /// A flat.
    Flat {
        /// Relief angle at the edge.
        relief_deg: f64,
    },
    /// A circle through the edge.
    Arc {
        /// Relief angle at the edge.
        relief_deg: f64,
        /// Its radius; positive for a convex land, negative for a hollow one.
        radius_mm: f64,
    },
    /// A fall in proportion to the arc.
    Spiral {
        /// Relief angle at the edge.
        relief_deg: f64,
    },
    /// The same relief angle everywhere.
    LogSpiral {
        /// Relief angle.
        relief_deg: f64,
    },
    /// Fall, dwell, return.
    Cam {
        /// How the fall and the return run.
        law: Law,
        /// Depth of the whole fall, the part before the edge included.
        depth_mm: f64,
        /// Arc of the whole fall, the part before the edge included.
        fall_deg: f64,
        /// How much of that arc lies before the edge.
        #[serde(default)]
        before_edge_deg: f64,
        /// Arc behind the edge where the return starts; absent for none.
        return_from_deg: Option<f64>,
        /// Drop under the edge where the land ends.
        heel_drop_mm: Option<f64>,
    },
    /// A spiral with waves in it, as an unsteady hand leaves them: no family describes it.
    Waved {
        /// Relief angle at the edge.
        relief_deg: f64,
        /// How deep each wave goes under the spiral.
        wave_mm: f64,
        /// Waves on the land.
        waves: f64,
    },
    /// A flat primary and a flat secondary.
    Facets {
        /// Relief angle at the edge.
        primary_deg: f64,
        /// Width of the primary, along the arc.
        primary_mm: f64,
        /// Angle of the secondary to the motion at its start.
        secondary_deg: f64,
    },
}

/// The law of a cam.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Law {
    /// Sine of the acceleration.
    Cycloidal,
    /// Cosine of the acceleration.
    Harmonic,
    /// Constant acceleration, then constant deceleration.
    Parabolic,
}

/// A straight face, and how it is traced.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Face {
    /// The feature that it belongs to, by name.
    pub feature: String,
    /// Angle between the face and the tool's axis.
    pub angle_deg: f64,
    /// How far the table moves; the stylus stays on the face.
    pub travel_mm: f64,
    /// Mean speed of the table.
    #[serde(default = "default_table_speed")]
    pub speed_mm_per_s: f64,
    /// Whether the table goes back again.
    #[serde(default = "default_table_back")]
    pub back: bool,
    /// By what share the table's scale shows too much.
    #[serde(default)]
    pub scale_error: f64,
    /// By how much the probe leans from square to the travel.
    #[serde(default)]
    pub lean_deg: f64,
}

/// So that a recipe printed says nothing of what a tooth does not have.
fn is_none(value: &f64) -> bool {
    *value == 0.0
}
fn default_hand() -> String {
    "right".to_owned()
}
fn default_z() -> Vec<f64> {
    vec![2.0]
}
fn default_face() -> f64 {
    90.0
}
fn default_state_face() -> bool {
    true
}
fn default_gap() -> f64 {
    2.0
}
fn default_table_speed() -> f64 {
    0.4
}
fn default_table_back() -> bool {
    true
}

impl Feature {
    /// Diameter of the circle as it really is.
    pub fn true_diameter_mm(&self) -> f64 {
        self.diameter_mm + self.diameter_error_mm
    }

    /// Where its trace of this number really lies.
    pub fn true_z_mm(&self, number: usize) -> f64 {
        let stated = self.z_mm.get(number).copied().unwrap_or(0.0);
        stated + self.z_error_mm.get(number).copied().unwrap_or(0.0)
    }
}
