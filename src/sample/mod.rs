//! One reading on one time line, with its quality marks.

mod marks;

pub use marks::{Mark, Marks};

use crate::quantity::{Angle, Length, Time};

/// One sample: when, at which angle, how high, and what is known against it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Since the start of the trace.
    pub time: Time,
    /// Angle of the tool, growing as it turns the way it cuts, continuous over turns.
    pub angle: Angle,
    /// Height under the probe, growing as the plunger is pushed in.
    pub reading: Length,
    /// What was noticed about it; a sample is never removed.
    pub marks: Marks,
}

/// One position on the encoder's own clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    /// Since the start of the trace.
    pub time: Time,
    /// Continuous over turns.
    pub angle: Angle,
    /// What was noticed about it.
    pub marks: Marks,
}

/// One height on the indicator's own clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Height {
    /// Since the start of the trace.
    pub time: Time,
    /// Growing as the plunger is pushed in.
    pub reading: Length,
    /// What was noticed about it.
    pub marks: Marks,
}
