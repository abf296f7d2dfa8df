//! Many samples merged over the turn: one time line, passes, teeth, gaps, history.

pub mod align;
pub mod apart;
mod bent;
mod combine;
pub mod csv;
mod delay;
mod graduation;
mod grid;
mod history;
mod merge;
mod merged;
mod noise;
mod pace;
pub mod passes;
mod scatter;
pub mod slide;
mod spikes;
mod standing;
mod teeth;
mod turns;
mod within;

pub use graduation::coarser_step;
pub use merge::{MergeSettings, merge};
pub use merged::{Cell, Delay, DelaySource, Hole, Merged, Pass, Single, Turning};
pub use pace::Pace;
pub use standing::{Standing, standing};
pub use teeth::{ToothSpan, teeth};
pub use turns::{Agreement, Step, agreement};

use crate::card::Role;
use crate::quantity::{Length, Time};
use crate::sample::Sample;

/// The samples of one trace with what was done to them since the wire.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// The file's name, for messages.
    pub name: String,
    /// What it is for.
    pub role: Role,
    /// Distance from the tool's front, where known.
    pub z: Option<Length>,
    /// Whether the indicator was set anew before it.
    pub rezeroed: bool,
    /// Whether angle and reading had clocks of their own.
    pub two_clocks: bool,
    /// How far the readings' clock was set back before they were joined to angles.
    pub apart: Time,
    /// Oldest first; marked, never removed.
    pub samples: Vec<Sample>,
    /// What was done, a sentence a step.
    pub history: Vec<String>,
}
