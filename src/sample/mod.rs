//! One reading on one time line, with its quality marks.

mod bridge;
mod index;
mod marks;
mod overheard;
mod plausible;
mod text;

pub use bridge::{FromBridge, Tally};
pub use index::IndexPlace;
pub use marks::{Mark, Marks};
pub use overheard::{IndexMark, Introduction, Overheard};
pub use text::{FromText, TextSamples};

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

/// What one line says, before anything is joined: a live picture is made of these.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// On the device's own clock, since its first line.
    pub time: Time,
    /// Angle of the tool, growing as it turns the way it cuts; absent where the device gives none.
    pub angle: Option<Angle>,
    /// Height under the probe; absent where only the encoder was read.
    pub reading: Option<Length>,
    /// What was noticed about it.
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

/// What turns an instrument's whole numbers into lengths and angles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bench {
    /// What one count of the indicator is worth.
    pub count: Length,
    /// Whether that is a count of an indicator that shows inches.
    pub count_is_inch: bool,
    /// Counts in a turn.
    pub counts_per_turn: u32,
    /// Whether the encoder counts down as the tool turns the way it cuts.
    pub counts_down: bool,
}

impl Bench {
    /// With an indicator whose count is worth this and an encoder of so many counts in a turn.
    pub fn new(count: Length, counts_per_turn: u32, counts_down: bool) -> Self {
        Self {
            count,
            count_is_inch: bridge::is_inch(count),
            // A turn of no counts would make every angle infinite.
            counts_per_turn: counts_per_turn.max(1),
            counts_down,
        }
    }
}
