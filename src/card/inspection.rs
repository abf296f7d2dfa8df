//! The inspection card: what was done, and which traces hold it.

use crate::quantity::Length;
use jiff::Timestamp;

/// What was done, when, by whom, with which traces.
#[derive(Clone, Debug, PartialEq)]
pub struct InspectionCard {
    /// File of the tool card, relative to the folder.
    pub tool: String,
    /// File of the gauge card, relative to the folder.
    pub gauge: String,
    /// When it was taken.
    pub taken: Timestamp,
    /// Who took it.
    pub operator: String,
    /// Before or after the grind.
    pub stage: Stage,
    /// Whether the capture was cut short.
    pub interrupted: bool,
    /// The traces, in the order taken.
    pub traces: Vec<TraceEntry>,
}

/// Before or after the grind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// The worn tool.
    BeforeGrind,
    /// The reground tool.
    AfterGrind,
}

/// One trace of an inspection.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceEntry {
    /// Where its samples are.
    pub source: Source,
    /// What it is for.
    pub role: Role,
    /// Distance from the tool's front, where known.
    pub z: Option<Length>,
    /// Diameter of the round, for a reference.
    pub diameter: Option<Length>,
    /// Whether the indicator was set anew before it: heights are not compared across.
    pub rezeroed: bool,
}

/// The files of a trace, relative to the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// One file with angle (or travel) and reading on one clock.
    One(String),
    /// Two instruments with clocks of their own.
    Two {
        /// `time_s,angle_deg`
        angle: String,
        /// `time_s,reading_mm`
        reading: String,
    },
}

/// What a trace is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// A round of the same clamping.
    Reference,
    /// A feature of the tool card, by name.
    Feature(String),
}
