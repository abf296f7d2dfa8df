//! The recipe of a simulated inspection: the tool as it really is, the bench, the hand, the faults.
//!
//! A recipe is TOML, so that sample data can be made again from a file that a person can read.
//! Its lengths and angles are bare numbers with their unit in the name, as in a card.

use super::face::Face;
use crate::card::drawn;
use crate::error::{Code, Error, Result};
use serde::{Deserialize, Serialize};

/// All that is needed to make an inspection, the seed included.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// What the sample shows, in a sentence.
    pub about: String,
    /// Where the random numbers start.
    #[serde(default = "default_seed")]
    pub seed: u64,
    /// When it is said to be taken.
    #[serde(default = "default_taken")]
    pub taken: String,
    /// Who is said to have taken it.
    #[serde(default = "default_operator")]
    pub operator: String,
    /// `before-grind` or `after-grind`.
    #[serde(default = "default_stage")]
    pub stage: String,
    /// Unit of cards and traces when written.
    #[serde(default)]
    pub unit: Unit,
    /// The tool.
    pub tool: Tool,
    /// Rounds of the same clamping, in the order taken, before the features.
    #[serde(default)]
    pub reference: Vec<Round>,
    /// The surfaces measured, in the order taken.
    #[serde(default)]
    pub feature: Vec<Feature>,
    /// Faces traced over table travel, after the features.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub face: Vec<Face>,
    /// The instruments as their card states them.
    #[serde(default)]
    pub gauge: Gauge,
    /// What the bench really does.
    #[serde(default)]
    pub bench: Bench,
    /// How the tool really sits in the spindle.
    #[serde(default)]
    pub clamping: Clamping,
    /// How the tool is turned.
    #[serde(default)]
    pub hand: Hand,
    /// What goes wrong on the wire.
    #[serde(default)]
    pub faults: Faults,
}

/// The unit of a written card.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches.
    In,
}

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
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Tooth {
    /// Its edge, above (or below) that of a true tooth.
    pub height_mm: f64,
    /// Its edge, behind (or ahead of) equal spacing.
    pub angle_deg: f64,
    /// Added to the relief angle of its land.
    pub relief_deg: f64,
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

/// The instruments as their card states them; the simulated ones keep to it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs)] // the keys of `gauge.toml`, by their own names
pub struct Gauge {
    pub resolution_mm: f64,
    pub max_error_mm: f64,
    pub hysteresis_mm: f64,
    pub lever_angle_deg: f64,
    pub stylus: Tip,
    pub radius_mm: f64,
    pub counts_per_rev: u32,
    pub positive: Positive,
    pub probe_offset_mm: f64,
    pub probe_offset_tolerance_mm: f64,
    pub runout_mm: Option<f64>,
    pub delay_ms: Option<f64>,
}

/// The turning direction in which the encoder counts up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Positive {
    /// The way the tool cuts.
    #[default]
    Cutting,
    /// The other way.
    Backing,
}

/// The end of the stylus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tip {
    /// A sphere.
    Ball,
    /// A flat face.
    Flat,
    /// A point.
    Point,
}

/// What the bench really does.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Bench {
    /// Standard deviation of one reading.
    pub noise_mm: f64,
    /// How the indicator errs along its travel.
    pub error: ErrorCurve,
    /// The indicator's play; absent where it is all that the card states.
    pub hysteresis_mm: Option<f64>,
    /// What the lever's angle is off by from the card.
    pub lever_error_deg: f64,
    /// What the stylus' radius is off by from the card.
    pub radius_error_mm: f64,
    /// What the probe's offset is off by from the card.
    pub probe_offset_error_mm: f64,
    /// By how much the table's travel leans from the spindle's axis, so that a probe carried
    /// towards the shank comes nearer to the tool.
    pub table_lean_deg: f64,
    /// How much later than the encoder the indicator is read.
    pub delay_ms: f64,
    /// What the indicator reads more for every second since the first trace began.
    pub drift_mm_per_s: f64,
    /// From the start of one trace to that of the next, for the drift.
    pub trace_every_s: f64,
    /// Chips and bumps in a thousand readings.
    pub spikes_per_1000: f64,
    /// Readings a second.
    pub rate_hz: f64,
    /// Whether the angle file wraps at a whole turn.
    pub wrapped: bool,
    /// Whether indicator and encoder are written as two files with clocks of their own.
    pub two_clocks: bool,
}

/// How an indicator errs within its limits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ErrorCurve {
    /// As one wave, smaller than the limit allows: a good indicator.
    #[default]
    Wave,
    /// Not at all.
    None,
    /// Anywhere within the limit at each place, and elsewhere a quarter of a millimetre on: all
    /// that its certificate allows.
    Wander,
}

/// How the tool really sits in the spindle.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Clamping {
    /// Distance of the tool's axis from the spindle's at the tool's front.
    pub eccentricity_mm: f64,
    /// The angle at which that reads highest.
    pub at_deg: f64,
    /// Tilt of the tool's axis: the eccentricity shrinks towards the shank.
    pub tilt_deg: f64,
    /// The angle towards which it leans at its front; absent where that is `at_deg`.
    pub tilt_at_deg: Option<f64>,
    /// Angle at which the first edge passes the probe.
    pub first_edge_deg: f64,
}

/// How the tool is turned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Hand {
    /// Turns, for each direction.
    pub turns: f64,
    /// Which way.
    pub turning: Turning,
    /// Mean speed.
    pub speed_deg_per_s: f64,
    /// How much the speed swings about its mean, 0 to 0.9.
    pub unevenness: f64,
    /// Stops in a turn.
    pub pauses_per_turn: f64,
    /// Short moves back in a turn.
    pub nudges_per_turn: f64,
    /// Angle at the start.
    pub start_deg: f64,
    /// How long it rests before it starts.
    pub rest_s: f64,
}

/// Which way a hand turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Turning {
    /// Edge first.
    Cutting,
    /// Heel first.
    Backing,
    /// Edge first, then back.
    Both,
}

/// What goes wrong on the wire; all off by default.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Faults {
    /// Lines in a thousand with a character changed.
    pub bad_crc_per_1000: f64,
    /// Lines in a thousand that never arrive.
    pub lost_per_1000: f64,
    /// Falls silent this long after `G`.
    pub silence_after_s: Option<f64>,
    /// Starts anew this long after `G`.
    pub restart_after_s: Option<f64>,
    /// Goes away this long after `G`.
    pub unplug_after_s: Option<f64>,
    /// Comes back this long after it went.
    pub replug_after_s: Option<f64>,
}

impl Default for Gauge {
    fn default() -> Self {
        Self {
            resolution_mm: 0.001,
            max_error_mm: 0.002,
            hysteresis_mm: 0.001,
            lever_angle_deg: 0.0,
            stylus: Tip::Ball,
            radius_mm: 1.0,
            counts_per_rev: 4000,
            positive: Positive::Cutting,
            probe_offset_mm: 0.0,
            probe_offset_tolerance_mm: 0.05,
            runout_mm: None,
            delay_ms: None,
        }
    }
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            noise_mm: 0.0004,
            error: ErrorCurve::Wave,
            hysteresis_mm: None,
            lever_error_deg: 0.0,
            radius_error_mm: 0.0,
            table_lean_deg: 0.0,
            probe_offset_error_mm: 0.0,
            delay_ms: 0.0,
            drift_mm_per_s: 0.0,
            trace_every_s: 240.0,
            spikes_per_1000: 0.0,
            rate_hz: 50.0,
            wrapped: false,
            two_clocks: false,
        }
    }
}

impl Default for Hand {
    fn default() -> Self {
        Self {
            turns: 2.0,
            turning: Turning::Cutting,
            speed_deg_per_s: 36.0,
            unevenness: 0.4,
            pauses_per_turn: 1.0,
            nudges_per_turn: 0.7,
            start_deg: 0.0,
            rest_s: 0.3,
        }
    }
}

fn default_seed() -> u64 {
    1
}
fn default_taken() -> String {
    "2026-03-02T09:14:00Z".to_owned()
}
fn default_operator() -> String {
    "bench 2".to_owned()
}
fn default_stage() -> String {
    "after-grind".to_owned()
}
fn default_hand() -> String {
    "right".to_owned()
}
fn default_z() -> Vec<f64> {
    vec![2.0]
}
fn default_gap() -> f64 {
    2.0
}

impl Clamping {
    /// Tangent of the tilt, and the angle of the spindle towards which the tool leans; radians.
    pub(super) fn tilt(&self) -> (f64, f64) {
        let towards = self.tilt_at_deg.unwrap_or(self.at_deg);
        (self.tilt_deg.to_radians().tan(), towards.to_radians())
    }

    /// Eccentricity at a distance from the tool's front in mm, and the angle of the spindle at
    /// which it reads highest, in radians. In one plane with the tilt it may be negative.
    pub(super) fn eccentricity_at(&self, z_mm: f64) -> (f64, f64) {
        let at = self.at_deg.to_radians();
        let (tilt, towards) = self.tilt();
        let less = tilt * z_mm;
        if towards == at {
            return (self.eccentricity_mm - less, at);
        }
        let along = |part: fn(f64) -> f64| self.eccentricity_mm * part(at) - less * part(towards);
        let (x, y) = (along(f64::cos), along(f64::sin));
        (x.hypot(y), y.atan2(x))
    }
}

/// What a simulated regrind takes off a diameter.
const TAKEN_OFF_MM: f64 = 0.2;

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

impl Scenario {
    /// The same tool after so many more regrinds: smaller on every radial surface, with another
    /// hand and another noise.
    pub fn reground(mut self, times: u32) -> Self {
        for feature in &mut self.feature {
            if feature.surface == Surface::Radial {
                feature.diameter_mm -= TAKEN_OFF_MM * f64::from(times);
                // A card has no more decimals than a person would write.
                feature.diameter_mm = (feature.diameter_mm * 1e4).round() / 1e4;
            }
        }
        self.seed = self.seed.wrapping_add(u64::from(times));
        self
    }

    /// Reads a recipe; `file` is its name in messages.
    pub fn from_toml(text: &str, file: &str) -> Result<Self> {
        let scenario: Self = toml::from_str(text).map_err(|error| {
            let message = error.message().replace('\n', ", ");
            let code = if message.starts_with("unknown field") {
                Code::UnknownKey
            } else {
                Code::CardSyntax
            };
            let mistake = Error::new(code, message).in_file(file);
            let mistake = match error.span() {
                Some(span) => drawn(mistake, text, span),
                None => mistake,
            };
            mistake.help("`heelclear simulate NAME --recipe` prints a recipe with every key")
        })?;
        scenario.check().map_err(|error| error.in_file(file))?;
        Ok(scenario)
    }

    /// Refuses what no tool can be or no computer can draw.
    pub fn check(&self) -> Result<()> {
        let mut errors = Vec::new();
        let mut range = |what: String, value: f64, low: f64, high: f64| {
            if !(low..=high).contains(&value) {
                let message = format!("{what} is `{value}`, expected {low} to {high}");
                errors.push(Error::new(Code::CardValue, message));
            }
        };
        range("tool.flutes".into(), f64::from(self.tool.flutes), 1.0, 24.0);
        for feature in &self.feature {
            let name = &feature.name;
            let pitch = 360.0 / f64::from(self.tool.flutes.max(1));
            let radius = feature.diameter_mm / 2.0;
            range(
                format!("{name}.diameter_mm"),
                feature.diameter_mm,
                0.5,
                500.0,
            );
            range(
                format!("{name}.land.arc_deg"),
                feature.land.arc_deg,
                0.1,
                pitch,
            );
            range(
                format!("{name}.land.margin_mm"),
                feature.land.margin_mm,
                0.0,
                radius,
            );
            range(
                format!("{name}.gap_depth_mm"),
                feature.gap_depth_mm,
                0.0,
                radius * 0.9,
            );
            for tooth in &feature.tooth {
                range(
                    format!("{name}.tooth.height_mm"),
                    tooth.height_mm,
                    -1.0,
                    1.0,
                );
                range(
                    format!("{name}.tooth.angle_deg"),
                    tooth.angle_deg,
                    -pitch,
                    pitch,
                );
            }
        }
        for face in &self.face {
            let name = &face.feature;
            range(format!("{name}: face.angle_deg"), face.angle_deg, 0.0, 90.0);
            range(format!("{name}: face.travel_mm"), face.travel_mm, 0.1, 50.0);
            let speed = face.speed_mm_per_s;
            range(format!("{name}: face.speed_mm_per_s"), speed, 0.001, 50.0);
            range(format!("{name}: face.lean_deg"), face.lean_deg, -5.0, 5.0);
        }
        for round in &self.reference {
            range(
                "reference.diameter_mm".into(),
                round.diameter_mm,
                0.5,
                500.0,
            );
        }
        range("gauge.radius_mm".into(), self.gauge.radius_mm, 0.0, 10.0);
        range(
            "gauge.resolution_mm".into(),
            self.gauge.resolution_mm,
            1e-6,
            1.0,
        );
        let counts = f64::from(self.gauge.counts_per_rev);
        range("gauge.counts_per_rev".into(), counts, 4.0, 1e8);
        range("bench.rate_hz".into(), self.bench.rate_hz, 0.1, 1e5);
        range("hand.turns".into(), self.hand.turns, 0.01, 1e4);
        range(
            "hand.speed_deg_per_s".into(),
            self.hand.speed_deg_per_s,
            0.01,
            1e5,
        );
        range("hand.unevenness".into(), self.hand.unevenness, 0.0, 0.9);
        range("hand.rest_s".into(), self.hand.rest_s, 0.0, 1e6);
        range(
            "clamping.eccentricity_mm".into(),
            self.clamping.eccentricity_mm,
            0.0,
            1.0,
        );
        Error::all(errors).map_or(Ok(()), Err)
    }
}
