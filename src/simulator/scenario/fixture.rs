//! A grinder with relieving fixtures: what its card says, and by what it really is off.

use super::part::Surface;
use serde::{Deserialize, Serialize};

/// What a tool is ground on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Grinder {
    /// What people call it.
    #[serde(default = "default_grinder")]
    pub name: String,
    /// The least in-feed of its slides.
    #[serde(default = "default_feed_graduation")]
    pub feed_graduation_mm: f64,
    /// Stock that comes off over what is fed in, less 1; on no card.
    #[serde(default)]
    pub feed_error: f64,
    /// In what steps a careful hand comes near until it sees the first touch.
    #[serde(default = "default_touch_step")]
    pub touch_step_mm: f64,
    /// Eccentricity of the tool about the fixture's axis while it is ground; on no card.
    #[serde(default)]
    pub eccentricity_mm: f64,
    /// The angle of the tool at which that stands nearest to the wheel.
    #[serde(default)]
    pub eccentric_at_deg: f64,
    /// The wheel.
    pub wheel: GrindingWheel,
    /// Fixtures, one for each direction that a tool is moved in.
    pub fixture: Vec<Fixture>,
}

/// A wheel, dressed to the steps of the tool.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GrindingWheel {
    /// Which part of it grinds.
    #[serde(default)]
    pub cuts: WheelPart,
    /// As its card says.
    pub diameter_mm: f64,
    /// Radius of the corner between rim and side, where that grinds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corner_mm: Option<f64>,
    /// By how much it really is larger than its card says; on no card.
    #[serde(default)]
    pub diameter_error_mm: f64,
}

/// The part of a wheel that grinds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum WheelPart {
    /// The rim of a straight wheel.
    #[default]
    Rim,
    /// The corner between rim and side.
    Corner,
    /// The face of a cup.
    Side,
}

/// A fixture that moves the tool to and from the wheel while it turns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fixture {
    /// What people call it.
    #[serde(default = "default_fixture")]
    pub name: String,
    /// Along which direction it moves the tool.
    #[serde(default)]
    pub direction: Surface,
    /// The throw, on its scale, at which its motion is traced, and for which the cam's rise is stated.
    pub throw_mm: f64,
    /// The least throw.
    #[serde(default)]
    pub least_throw_mm: f64,
    /// The greatest throw.
    pub greatest_throw_mm: f64,
    /// The least change of throw that can be set.
    pub graduation_mm: f64,
    /// Play of the throw's scale.
    #[serde(default)]
    pub play_mm: f64,
    /// The least change of cam angle that can be set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cam_graduation_deg: Option<f64>,
    /// Whether it turns the tool heel first.
    #[serde(default)]
    pub backing: bool,
    /// The cam in it.
    pub cam: Cam,
    /// Whether the grinder's card states the cam.
    #[serde(default)]
    pub state_cam: bool,
    /// Whether its motion is traced on the first reference, or on a true round.
    #[serde(default = "yes")]
    pub trace_motion: bool,
    /// The features that are traced with it engaged.
    #[serde(default)]
    pub residual: Vec<String>,
    /// Throw, on its scale, in the traces of features with it engaged; absent where as in the others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub residual_throw_mm: Option<f64>,
    /// Angle of the cam, on its scale, in the traces of features with it engaged. The motion is traced
    /// with the cam at 0.
    #[serde(default)]
    pub residual_cam_deg: f64,
    /// Throw that it makes over the throw that its scale shows, less 1; on no card.
    #[serde(default)]
    pub throw_error: f64,
    /// Throw that it makes where its scale shows none; on no card.
    #[serde(default)]
    pub throw_zero_mm: f64,
    /// By how much the scale stood beyond what was read off it in the traces, as a hand sets it; on no card.
    #[serde(default)]
    pub traced_off_mm: f64,
    /// By how much the cam stands ahead of what its scale shows; on no card.
    #[serde(default)]
    pub cam_error_deg: f64,
}

/// A cam by its figures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cam {
    /// How it rises.
    pub law: CamRise,
    /// How far it moves the tool towards the wheel, at the fixture's `throw_mm` if its scale were true.
    pub rise_mm: f64,
    /// Arc of the tool over which it rises.
    pub rise_deg: f64,
    /// Arc over which it stands.
    #[serde(default)]
    pub dwell_deg: f64,
    /// Arc over which it goes back.
    #[serde(default)]
    pub return_deg: f64,
    /// How often it does so in one turn of the tool.
    #[serde(default = "one")]
    pub lobes: u32,
}

/// How a cam rises.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CamRise {
    /// By the same for each degree.
    Constant,
    /// As half a cosine.
    Harmonic,
    /// Without a step of its acceleration.
    Cycloidal,
    /// With a constant acceleration up to the middle, and as much less from there.
    Parabolic,
}

fn default_grinder() -> String {
    "tool grinder by the window".to_owned()
}
fn default_fixture() -> String {
    "relieving head".to_owned()
}
fn default_feed_graduation() -> f64 {
    0.005
}
fn default_touch_step() -> f64 {
    0.001
}
fn yes() -> bool {
    true
}
fn one() -> u32 {
    1
}
