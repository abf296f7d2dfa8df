//! `verdict.json`: lengths in mm, angles in degrees, always.

use serde::{Deserialize, Serialize};

/// The identifier of this form of the record.
pub const SCHEMA: &str = "heelclear.verdict/1";

/// Everything an inspection came to. A report is a function of this alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// The tool's id.
    pub tool: String,
    /// The verdict on the tool; null when nothing has a limit or was measured.
    pub verdict: Option<Verdict>,
    /// Every characteristic that could be computed, and those that could not, with a `why`.
    pub characteristics: Vec<Characteristic>,
    /// Every tooth of every feature.
    pub flutes: Vec<Flute>,
    /// The digest of the cards and traces that it was judged from ([`super::JudgedFrom`]); earlier
    /// programs did not write it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judged_from: Option<String>,
    /// What was seen, what it does to the result, and the next step; a sentence each.
    pub warnings: Vec<String>,
    /// What was seen in the readings that the cards do not say, and that forbids a verdict.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<Doubt>,
    /// What to set otherwise on the grinder, for each cut of a finished grind whose figures do not all
    /// pass; only where the set-up that the tool was ground from is named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settings: Vec<SettingsAdvice>,
    /// What was measured, with what, when and by whom.
    pub about: About,
    /// What was noted and photographed, as it lay in the folder; absent where nothing was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noted: Option<Noted>,
    /// Every feature as judged.
    pub features: Vec<FeatureFacts>,
    /// The lengths in the sentences above, as numbers; programs before 0.2 did not write them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lengths: Vec<LengthInText>,
}

/// Notes and photographs beside an inspection. No figure hangs on them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Noted {
    /// The notes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
    /// The photographs, in the order of their names.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photographs: Vec<Photograph>,
}

impl Noted {
    /// The file of the notes in an inspection's folder.
    pub const NOTES_FILE: &str = "notes.txt";
    /// The folder of the photographs in it.
    pub const PHOTOGRAPHS: &str = "photographs";

    /// Whether a path below the folder is one of notes or photographs.
    pub fn is_of(path: &str) -> bool {
        let rest = path.strip_prefix(Self::PHOTOGRAPHS);
        path == Self::NOTES_FILE || rest.is_some_and(|rest| rest.starts_with('/'))
    }
}

/// A photograph in the folder of an inspection.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Photograph {
    /// Below the folder.
    pub file: String,
    /// How large it is.
    pub bytes: u64,
    /// The SHA-256 of its bytes, in lower-case hexadecimal.
    pub sha256: String,
}

/// A length in a sentence: which of [`Record::sentences`] from 0 on, from and to which byte of it, in
/// mm, its decimals in inches (-1 where it is exact), and 1 where its unit stands with it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct LengthInText(pub [f64; 6]);

/// What one cut of a finished grind tells of its settings: fixture and direction share throw, cam angle
/// and in-feed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SettingsAdvice {
    /// `radial` or `axial`.
    pub direction: String,
    /// The relieving fixture.
    pub fixture: String,
    /// The features that it ground.
    pub features: Vec<String>,
    /// The worst verdict among its figures.
    pub verdict: Verdict,
    /// Whether the settings explain any of the figures that do not pass.
    pub explains: bool,
    /// Whether the errors are told from zero only all together, and not which of them it is.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub together: bool,
    /// What to set; empty where the settings explain nothing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub set: Vec<SetOtherwise>,
    /// The figures that do not pass and on which no doubt sits.
    pub figures: Vec<CameOut>,
    /// How it came out, in plain words.
    pub why: String,
    /// What to set otherwise, or that settings cannot explain it.
    pub remedy: String,
}

/// A setting that was off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetOtherwise {
    /// `throw-gain`, `cam-angle` or `feed`.
    pub setting: String,
    /// What came of what the scale shows, as a part of it; of a cam angle the degrees that it stands
    /// ahead of its scale.
    pub came_to: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// What was set, in `unit`.
    pub was: f64,
    /// What to set on the same scale for what was meant, in `unit`.
    pub set: f64,
    /// `mm` or `deg`.
    pub unit: String,
}

/// A figure that does not pass, beside its prediction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameOut {
    /// The feature's name.
    pub feature: String,
    /// Counted from 1; null for the whole feature.
    pub flute: Option<u32>,
    /// The name of the characteristic.
    pub name: String,
    /// `mm` or `deg`.
    pub unit: String,
    /// `fail` or `undecided`.
    pub verdict: Option<Verdict>,
    /// In `unit`; null where the set-up predicted none.
    pub predicted: Option<f64>,
    /// In `unit`.
    pub measured: Option<f64>,
    /// Of what was measured.
    pub standard_uncertainty: Option<f64>,
    /// What it would have come to with the settings corrected; null where nothing was predicted.
    pub then: Option<f64>,
    /// Whether that keeps its limits.
    pub explained: bool,
}

/// Something seen in the readings that the cards do not say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Doubt {
    /// One stable word: `land-longer`.
    pub kind: String,
    /// The feature's name.
    pub feature: String,
    /// Counted from 1; null for all of the feature.
    pub flute: Option<u32>,
    /// The characteristics that it touches; empty for all of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub touches: Vec<String>,
    /// Whether a fail stands all the same.
    pub fail_stands: bool,
    /// What was seen and what that makes doubtful.
    pub seen: String,
    /// What settles it.
    pub cure: String,
}

/// Pass, fail or undecided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Proven inside every limit.
    Pass,
    /// Proven outside at least one.
    Fail,
    /// Neither is proven.
    Undecided,
}

impl Verdict {
    /// The word for it in results.
    pub const fn as_str(self) -> &'static str {
        match self {
            Verdict::Pass => "pass",
            Verdict::Fail => "fail",
            Verdict::Undecided => "undecided",
        }
    }
}

/// One figure with its uncertainty, limit and verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Characteristic {
    /// The feature's name; null for what belongs to the whole tool.
    pub feature: Option<String>,
    /// Counted from 1; null for what belongs to the whole feature or tool.
    pub flute: Option<u32>,
    /// One of the names of characteristics.
    pub name: String,
    /// In `unit`; null when it could not be had, and `why` says why.
    pub value: Option<f64>,
    /// `mm` or `deg`.
    pub unit: String,
    /// In `unit`.
    pub standard_uncertainty: Option<f64>,
    /// The 95 % coverage interval, in `unit`.
    pub interval: Option<[f64; 2]>,
    /// `at-most` or `at-least` where not all was seen that it is read from: the truth may then lie any
    /// way below or above it, and `interval` says only how sure that bound is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bound: Option<Bound>,
    /// How far inside a limit the value must lie to pass, and how far outside to fail, in `unit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guard_band: Option<GuardBand>,
    /// What the card allows; null when it sets no limit.
    pub limit: Option<Bounds>,
    /// Null when there is no limit.
    pub verdict: Option<Verdict>,
    /// Where on the turn of the encoder it lies, where it lies anywhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_deg: Option<f64>,
    /// Distance from the tool's front of the trace it comes from, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub z_mm: Option<f64>,
    /// Plain words: why this verdict, or why there is no value.
    pub why: String,
    /// What would mend it, in the settings of the trade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remedy: Option<String>,
    /// The uncertainty, line by line, greatest contribution first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub budget: Vec<BudgetLine>,
    /// The probability that it lies within its limit, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conformity: Option<f64>,
    /// How the uncertainty was propagated, to first order and by trials; absent where no trials
    /// were made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub propagation: Option<Propagation>,
}

/// Which side of a value the truth lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bound {
    /// It is no more than the value.
    AtMost,
    /// It is no less than the value.
    AtLeast,
}

/// What a value may truly lie below and above where it was found, but for the probability that is
/// allowed to be wrong.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GuardBand {
    /// How much less it may truly be.
    pub below: f64,
    /// How much more it may truly be.
    pub above: f64,
}

/// A figure's uncertainty, had in two ways.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Propagation {
    /// Which of them is the answer: `first-order` or `distributions`.
    pub used: String,
    /// Why, in plain words.
    pub why: String,
    /// Trials that were made.
    pub trials: u64,
    /// Whether an end of the interval by trials still moved after the most that are made.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unsettled: bool,
    /// By the law of propagation, taken as normal (JCGM 100).
    pub first_order: PropagatedWay,
    /// By propagating distributions (JCGM 101).
    pub distributions: PropagatedWay,
}

/// What one way of propagating gave, in the characteristic's unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PropagatedWay {
    /// The estimate.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// The 95 % coverage interval.
    pub interval: [f64; 2],
}

/// The limits of a characteristic, in its unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bounds {
    /// The least allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub min: Option<f64>,
    /// The most allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max: Option<f64>,
}

/// One line of an uncertainty budget.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// What is uncertain: `indicator error`, `stylus radius`.
    pub quantity: String,
    /// Its estimate with its unit, as people read it: `1.000 mm`.
    pub value: String,
    /// How it spreads: `rectangular ± 3 µm`, `normal, s = 0.4 µm`.
    pub distribution: String,
    /// Change of the characteristic with the quantity, with units, as people read it.
    pub sensitivity: String,
    /// Standard uncertainty it brings, in the characteristic's unit.
    pub contribution: f64,
    /// The same as numbers; null in records of programs before 0.2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub numbers: Option<BudgetNumbers>,
}

/// What a line of a budget says, as numbers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetNumbers {
    /// The best estimate of what is uncertain; null where that is a departure of the characteristic.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimate: Option<f64>,
    /// Of estimate and uncertainty: `mm`, `deg`, `ms`, `um/min`, `um/m` or `1`.
    pub unit: String,
    /// Of what is uncertain.
    pub standard_uncertainty: f64,
    /// `normal`, `rectangular`, `upwards`, `disc`, `path`, `odds` or `offset`.
    pub spread: String,
    /// Change of the characteristic, in its unit, per unit of what is uncertain.
    pub sensitivity: f64,
}

/// One tooth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flute {
    /// The feature's name.
    pub feature: String,
    /// Counted from 1 in the order in which edges pass as the angle grows.
    pub flute: u32,
    /// Distance from the tool's front of the trace it comes from, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub z_mm: Option<f64>,
    /// Angle of the edge on the encoder.
    pub edge_deg: f64,
    /// Arc from the edge to the end of the land.
    pub land_deg: f64,
    /// Height of the edge: distance from the axis (radial), or height along the axis above the
    /// highest edge, so never positive (axial).
    pub edge_mm: f64,
    /// The curve fitted to the land; null when none could be.
    pub curve: Option<Curve>,
    /// The land as measured, thinned for drawing: arc behind the edge growing.
    #[serde(default)]
    pub land: Vec<LandSample>,
    /// The fitted curve, for drawing, over the same arc.
    #[serde(default)]
    pub fitted: Vec<CurveSample>,
    /// Arcs behind the edge, `[from, to]` in degrees, that nothing was read in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holes_deg: Vec<[f64; 2]>,
}

/// A fitted curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// `flat`, `arc`, `spiral`, `log-spiral`, `cam`, `facets` or `free`.
    pub family: String,
    /// By name with unit: `relief_angle_deg`.
    pub parameters: std::collections::BTreeMap<String, f64>,
    /// Root mean square of the residuals.
    pub rms_mm: f64,
    /// Whether figures from it may be relied on.
    pub trusted: bool,
    /// How the solver stopped.
    pub stop: String,
    /// Why it is not trusted; empty when it is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<String>,
}

/// A measured place on a land.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LandSample {
    /// Behind the edge.
    pub arc_deg: f64,
    /// Below the edge.
    pub drop_mm: f64,
    /// One standard uncertainty of the drop.
    pub u_mm: f64,
}

/// A place on a fitted curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CurveSample {
    /// Behind the edge.
    pub arc_deg: f64,
    /// Below the edge.
    pub drop_mm: f64,
}

/// A feature as the card gives it, with what a report needs to draw it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeatureFacts {
    /// Its name.
    pub feature: String,
    /// `radial` or `axial`.
    pub surface: String,
    /// Edge circle, or for axial the circle that the probe follows.
    pub diameter_mm: f64,
    /// The smallest diameter that regrinding may bring it to, where the card says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_diameter_mm: Option<f64>,
    /// `face` where the card says that a regrind is ground there; absent where it is the land.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sharpened_on: Option<String>,
    /// The shortest arc that regrinding may leave of its lands, where the card says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_land_deg: Option<f64>,
    /// Arc length behind the edge at which the drop is read.
    pub check_distance_mm: f64,
    /// The same as an angle.
    pub check_deg: f64,
    /// Feed a turn, for axial surfaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feed_mm_per_rev: Option<f64>,
    /// Limits by characteristic.
    pub limits: std::collections::BTreeMap<String, Bounds>,
    /// The narrowest burr and land that its readings would have shown; null where no edge was
    /// found, and earlier programs did not write it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub would_show: Option<WouldShow>,
    /// The merged trace over one turn for the drawn section, tool's runout and stylus taken out:
    /// angle on the encoder and height relative to the highest edge; thinned, holes as breaks.
    #[serde(default)]
    pub section: Vec<Vec<SectionSample>>,
}

impl FeatureFacts {
    /// The least that a land has to fall so far behind its edge, from the check distance on: what the
    /// limit of the heel's clearance asks for, and what the feed takes on an end face.
    pub fn least_drop_mm(&self, arc_deg: f64) -> f64 {
        let limit = self.limits.get("heel-clearance");
        let least = limit.and_then(|limit| limit.min).unwrap_or(0.0);
        least + self.feed_mm_per_rev.unwrap_or(0.0) * arc_deg / 360.0
    }
}

/// What the readings of a feature would have shown behind each of its edges.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WouldShow {
    /// How far neighbouring readings of all turns lie apart along the arc at the most.
    pub apart_mm: f64,
    /// Width of the narrowest burr of `burr_height_mm`.
    pub burr_mm: f64,
    /// Height of the lowest burr, above the edge or above what the limit of the clearance allows.
    pub burr_height_mm: f64,
    /// Height at which every burr would have shown, however narrow; null where none would.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub any_burr_height_mm: Option<f64>,
    /// Width of the narrowest land.
    pub land_mm: f64,
}

/// A place on the drawn section.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionSample {
    /// On the encoder.
    pub angle_deg: f64,
    /// Relative to the highest edge; negative below it.
    pub height_mm: f64,
}

/// What was measured, with what, when and by whom.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct About {
    /// Name and version of the program.
    pub program: String,
    /// What people call the tool.
    pub tool_name: String,
    /// `right` or `left`.
    pub hand: String,
    /// Number of teeth.
    pub flutes: u32,
    /// When it was taken, RFC 3339.
    pub taken: String,
    /// Who took it.
    pub operator: String,
    /// Whose tool it is; absent where nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    /// Temperature at the bench; absent where it was not read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// `before-grind` or `after-grind`.
    pub stage: String,
    /// Whether the capture was cut short.
    pub interrupted: bool,
    /// Whether the readings come from a simulated gauge: no tool was measured.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub simulated: bool,
    /// Probability of conformity asked for.
    pub confidence: f64,
    /// Where the random numbers of the trials started: with it they can be made again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seed: Option<u64>,
    /// How many trials of each figure a person asked for; absent where as many were made as the
    /// verdict needed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trials: Option<u64>,
    /// The gauge in a line or two, as people read it: `indicator 1 µm, limit of error 3 µm`.
    pub gauge: Vec<String>,
    /// What was taken for granted, a sentence each.
    pub assumptions: Vec<String>,
    /// What was done to each trace, a sentence a step.
    pub history: Vec<String>,
}
