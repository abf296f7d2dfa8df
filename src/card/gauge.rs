//! The gauge card: the instruments and how they are set up.

use crate::quantity::{Angle, Length, Time};

/// Indicator, stylus, encoder and set-up of one bench.
#[derive(Clone, Debug, PartialEq)]
pub struct GaugeCard {
    /// The indicator.
    pub indicator: Indicator,
    /// What touches the tool.
    pub stylus: Stylus,
    /// The rotary encoder.
    pub encoder: Encoder,
    /// How probe and tool stand to each other.
    pub setup: Setup,
    /// How to talk to the instruments, where they are read live.
    pub link: Option<Link>,
}

/// The indicator and its stated errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indicator {
    /// Its least count.
    pub resolution: Length,
    /// Limit of error over the travel used, from its certificate.
    pub max_error: Length,
    /// Difference between readings with the plunger going in and coming out.
    pub hysteresis: Length,
    /// Angle of a lever to the surface's normal; 0 for a plunger.
    pub lever_angle: Angle,
}

/// What touches the tool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stylus {
    /// Its shape.
    pub shape: StylusShape,
    /// Radius of the ball, half the width of a flat, 0 for a point.
    pub radius: Length,
}

/// The shape of the stylus' end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StylusShape {
    /// A sphere.
    Ball,
    /// A flat face across the direction of motion.
    Flat,
    /// A point, or a knife edge along the axis.
    Point,
}

/// The rotary encoder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Encoder {
    /// Counts in one turn of the tool, after the edges are counted.
    pub counts_per_turn: u32,
    /// The turning direction in which its angle grows.
    pub positive: Positive,
}

/// A turning direction, named by what it does to the tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Positive {
    /// The way the tool cuts: edge first.
    Cutting,
    /// The other way: heel first.
    Backing,
}

/// How probe and tool stand to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// How far the probe's line passes from the axis, positive towards where the surface moves to
    /// when the tool turns the way it cuts.
    pub probe_offset: Length,
    /// Half-width of what `probe_offset` may be off by.
    pub probe_offset_tolerance: Length,
    /// Bound on the eccentricity left when no reference trace was taken; absent = not known.
    pub runout: Option<Length>,
    /// How much later than the encoder the indicator is read; absent = found from the trace.
    pub delay: Option<Time>,
}

/// How to talk to the instruments.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Link {
    /// Which protocol the indicator speaks: `bridge` (the default) or `text`.
    pub protocol: Option<String>,
    /// Bits a second.
    pub baud: Option<u32>,
    /// For text: the pattern with named groups.
    pub pattern: Option<String>,
    /// For text: what ends a line, `lf`, `cr` or `crlf`.
    pub line_ending: Option<String>,
    /// For text: what to send to ask for a reading.
    pub request: Option<String>,
    /// For text: how often to ask.
    pub request_every: Option<Time>,
    /// For text: the unit of a reading when no `unit` group tells, `mm`, `in` or `um`.
    pub unit: Option<String>,
    /// For a second instrument that gives the angle: its pattern.
    pub angle_pattern: Option<String>,
    /// For a second instrument that gives the angle: its bits a second.
    pub angle_baud: Option<u32>,
}
