//! `setup.json`: what to set on the grinder, what it will leave, and from what that was worked out.
//! Lengths in mm, angles in degrees, always.

use super::{Bounds, Verdict};
use crate::card::Surface;
use crate::error::{Code, Error, Result};
use serde::{Deserialize, Serialize};

/// The identifier of this form.
pub const SETUP_SCHEMA: &str = "heelclear.setup/1";
/// The file of a set-up in an inspection folder.
pub const SETUP_FILE: &str = "setup.json";

/// A set-up for one grind of one tool. A sheet is a function of this alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Setup {
    /// Always [`SETUP_SCHEMA`].
    pub schema: String,
    /// The tool's id.
    pub tool: String,
    /// What people call the tool.
    pub tool_name: String,
    /// `right` or `left`.
    pub hand: String,
    /// Number of teeth.
    pub flutes: u32,
    /// What people call the grinder.
    pub grinder: String,
    /// When the traces were taken, RFC 3339.
    pub taken: String,
    /// The digest of the cards and traces that it was worked out from.
    pub worked_out_from: String,
    /// `as-it-was` or `as-the-card-wants`.
    pub goal: String,
    /// `pass` where every predicted figure keeps its limits surely, `fail` where no setting keeps them,
    /// `undecided` where neither is proven, or where what was measured does not bear a set-up; null
    /// where nothing has a limit.
    pub verdict: Option<Verdict>,
    /// Why there is no set-up; empty where there is one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub why: Vec<String>,
    /// The wheel that it is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wheel: Option<WheelFacts>,
    /// What is set for each direction of in-feed.
    pub cuts: Vec<CutSetup>,
    /// What the settings will leave.
    pub predicted: Vec<PredictedFigure>,
    /// What is taken for granted, a sentence each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub assumptions: Vec<String>,
    /// What could not be worked out, and what it would need.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lacks: Vec<String>,
    /// The swivels that its sheet sets for what is ground.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub swivels: Vec<SwivelSetup>,
    /// The lines of the sheet, in the order of the work.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<SheetLine>,
}

/// A swivel that is set for a figure which is measured after the grind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SwivelSetup {
    /// The feature's name.
    pub feature: String,
    /// The figure that it makes: `face-angle` or `back-taper`.
    pub figure: String,
    /// The swivel's name.
    pub swivel: String,
    /// What its scale is to show.
    pub set_deg: f64,
    /// Whether its scale counts from across the tool's axis: the figure is what is left to 90°.
    pub across: bool,
    /// The least that can be set.
    pub graduation_deg: f64,
    /// What the swivel is taken to stand over its scale, by the card.
    pub corrected_deg: f64,
}

impl SwivelSetup {
    /// Along which direction its correction counts: a face lies across the axis, and a back taper along
    /// it is a matter of radii.
    pub fn along(&self) -> Surface {
        match self.figure.as_str() {
            "face-angle" => Surface::Axial,
            _ => Surface::Radial,
        }
    }
}

impl Setup {
    /// The text of its file.
    ///
    /// # Errors
    /// `internal` where a number is none.
    pub fn to_json(&self) -> Result<String> {
        let text = serde_json::to_string_pretty(self).map_err(|error| {
            Error::new(
                Code::Internal,
                format!("the set-up could not be written: {error}"),
            )
        })?;
        Ok(text + "\n")
    }

    /// Reads a set-up of this tool.
    ///
    /// # Errors
    /// `card-syntax` where it is none, `card-value` where it is of another form or tool; both name `file`.
    pub fn parse(text: &[u8], file: &str, tool: &str) -> Result<Self> {
        let read: std::result::Result<Self, _> = serde_json::from_slice(text);
        let setup = read.map_err(|error| {
            Error::new(Code::CardSyntax, format!("{error}, expected a set-up"))
                .in_file(file)
                .help("`setting sheet` writes one")
        })?;
        if setup.schema != SETUP_SCHEMA || setup.tool != tool {
            let message = format!(
                "read a set-up of form `{}` for tool `{}`, expected `{SETUP_SCHEMA}` for `{tool}`",
                setup.schema, setup.tool
            );
            return Err(Error::new(Code::CardValue, message).in_file(file));
        }
        Ok(setup)
    }
}

/// The wheel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WheelFacts {
    /// What people call it.
    pub name: String,
    /// `rim`, `corner` or `side`.
    pub cuts: String,
    /// As it is dressed now.
    pub diameter_mm: f64,
}

/// One direction of in-feed: the features that share throw, index and in-feed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CutSetup {
    /// `radial` or `axial`.
    pub direction: String,
    /// The features that it grinds.
    pub features: Vec<String>,
    /// The relieving fixture.
    pub fixture: String,
    /// The cam.
    pub cam: String,
    /// Whether its motion was traced, or worked out from figures.
    pub motion_traced: bool,
    /// Throw to set, on the fixture's scale.
    pub throw_mm: f64,
    /// The least change of throw that can be set.
    pub throw_graduation_mm: f64,
    /// The same over the throw at which the motion was taken.
    pub throw_gain: f64,
    /// How far the tool is turned in the fixture against the cam's beginning.
    pub cam_angle_deg: f64,
    /// The corrections of the grinder's card that are in it: gain of the throw, degrees that the cam
    /// stands ahead, and stock that comes off over what is fed in.
    pub corrected: [f64; 3],
    /// What the wheel is taken to lose of its radius in this grind, by the same card: it is in the
    /// in-feed.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub wear_mm: f64,
    /// How far throw and cam angle stray when they are set, as standard uncertainties: mm and degrees.
    #[serde(default)]
    pub strays: [f64; 2],
    /// How far the scales themselves may be off: the throw in parts of it, the cam angle in degrees;
    /// standard uncertainties, 0 where the motion was traced on the same scales.
    #[serde(default)]
    pub unknown: [f64; 2],
    /// From and to where any cam angle does as well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cam_free_deg: Option<[f64; 2]>,
    /// Greatest less least of old land against new surface, damage left out.
    pub mismatch_mm: f64,
    /// In-feed after first touch, as computed.
    pub skim_mm: f64,
    /// Its standard uncertainty.
    pub skim_uncertainty_mm: f64,
    /// In-feed after first touch that cleans up 95 times in 100, in whole steps.
    pub skim_sure_mm: f64,
    /// The least in-feed that can be set; null where the card names no slide.
    pub step_mm: Option<f64>,
    /// In-feeds one after the other, the last ones fine.
    pub passes_mm: Vec<f64>,
    /// Where the wheel touches first.
    pub first_touch: SpotFacts,
    /// What comes clean last.
    pub last_clean: SpotFacts,
    /// How the fixture stood where a feature was traced in it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stands: Vec<StandsFacts>,
    /// For drawing: old and new lands.
    pub lands: Vec<GroundLand>,
}

/// How a fixture stood while a feature was traced in it, told by what it added to the readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StandsFacts {
    /// The feature's name.
    pub feature: String,
    /// The file of its trace.
    pub file: String,
    /// What the fixture's scale showed, by the inspection card.
    pub stated_mm: f64,
    /// Throw, on the fixture's scale.
    pub throw_mm: f64,
    /// Its standard uncertainty.
    pub throw_uncertainty_mm: f64,
    /// Cam angle, on the fixture's scale; absent where any does as well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cam_angle_deg: Option<f64>,
    /// Its standard uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cam_uncertainty_deg: Option<f64>,
    /// What no throw and no cam angle explains, root mean square.
    pub misfit_mm: f64,
    /// Whether that is no more than readings scatter by.
    pub steady: bool,
    /// Whether that is too much for the lands that were traced with the fixture locked.
    pub strange: bool,
    /// Whether throw and cam angle stand as they are to be set.
    pub right: bool,
}

fn is_nothing(mm: &f64) -> bool {
    *mm == 0.0
}

impl CutSetup {
    /// The corrections that it was worked out with, in words; empty where there are none.
    pub fn corrections(&self) -> Vec<String> {
        let [gain, cam, feed] = self.corrected;
        let percent = |of: f64| format!("{:+.1} %", (of - 1.0) * 100.0);
        let each = [
            (gain != 1.0).then(|| format!("the throw opens {} against its scale", percent(gain))),
            (cam != 0.0).then(|| format!("the cam stands {cam:+.2}° ahead of its scale")),
            (feed != 1.0).then(|| format!("stock comes off {} against the feed", percent(feed))),
            (self.wear_mm != 0.0)
                .then(|| format!("the wheel loses {:.3} mm of its radius", self.wear_mm)),
        ];
        each.into_iter().flatten().collect()
    }

    /// Along which direction it is fed in.
    pub fn along(&self) -> Surface {
        match self.direction.as_str() {
            "axial" => Surface::Axial,
            _ => Surface::Radial,
        }
    }
}

/// A place on a land.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpotFacts {
    /// The feature's name.
    pub feature: String,
    /// Counted from 1.
    pub flute: u32,
    /// Behind its edge.
    pub behind_deg: f64,
}

/// A land before and after.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GroundLand {
    /// The feature's name.
    pub feature: String,
    /// Counted from 1.
    pub flute: u32,
    /// How much the edge's height falls.
    pub stock_at_edge_mm: f64,
    /// Behind the edge in degrees; old and new height under the highest old place of the feature.
    pub places: Vec<[f64; 3]>,
}

/// A figure that the settings will leave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PredictedFigure {
    /// The feature's name.
    pub feature: String,
    /// Counted from 1; null for the whole feature.
    pub flute: Option<u32>,
    /// The name of a characteristic, or `diameter`.
    pub name: String,
    /// In `unit`.
    pub value: f64,
    /// `mm` or `deg`.
    pub unit: String,
    /// In `unit`.
    pub standard_uncertainty: f64,
    /// The 95 % coverage interval.
    pub interval: [f64; 2],
    /// What the card allows.
    pub limit: Option<Bounds>,
    /// As a measured figure would be judged.
    pub verdict: Option<Verdict>,
    /// What it does for 1 of the throw's gain, for a degree of the cam angle, and for 1 of the stock
    /// that comes off over what is fed in.
    #[serde(default)]
    pub by: [f64; 3],
    /// Of a diameter, what the card had before the grind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<f64>,
}

/// A line of the sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SheetLine {
    /// The part of the work: `safety`, `tool`, `fixture`, `height`, `throw`, `swivel`, `wheel`,
    /// `touch`, `feed`, `leaves` or `measure`.
    pub part: String,
    /// What to do or to look at.
    pub what: String,
    /// The number, in `unit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// `mm`, `deg`, `1/min` or `m/s`; empty without a number.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// How near is near enough, in `unit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within: Option<f64>,
}
