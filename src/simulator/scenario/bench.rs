//! The bench of a recipe: instruments, what they really do, clamping, hand, and faults.

use serde::{Deserialize, Serialize};

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
    /// The turning direction in which the encoder counts up, seen from the driven end.
    pub grows: Grows,
    /// Whether somebody has watched that, on the day of the inspection.
    pub sense_proven: bool,
    /// In place of both: what an older card says, relative to the tool's hand.
    pub positive: Option<Positive>,
    pub probe_offset_mm: f64,
    pub probe_offset_tolerance_mm: f64,
    pub runout_mm: Option<f64>,
    pub lean_mm: Option<f64>,
    pub lean_over_mm: Option<f64>,
    pub swash_mm: Option<f64>,
    pub delay_ms: Option<f64>,
}

/// A turning direction, seen from the driven end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Grows {
    /// The way a right-hand tool cuts (common practice, no source).
    #[default]
    Clockwise,
    /// The way a left-hand tool cuts.
    CounterClockwise,
}

/// A turning direction, named by what it does to the tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Positive {
    /// The way the tool cuts.
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
            grows: Grows::Clockwise,
            sense_proven: true,
            positive: None,
            probe_offset_mm: 0.0,
            probe_offset_tolerance_mm: 0.05,
            runout_mm: None,
            lean_mm: None,
            lean_over_mm: None,
            swash_mm: None,
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

impl Clamping {
    /// Tangent of the tilt, and the angle of the spindle towards which the tool leans; radians.
    pub(in crate::simulator) fn tilt(&self) -> (f64, f64) {
        let towards = self.tilt_at_deg.unwrap_or(self.at_deg);
        (self.tilt_deg.to_radians().tan(), towards.to_radians())
    }

    /// Eccentricity at a distance from the tool's front in mm, and the angle of the spindle at
    /// which it reads highest, in radians. In one plane with the tilt it may be negative.
    pub(in crate::simulator) fn eccentricity_at(&self, z_mm: f64) -> (f64, f64) {
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
