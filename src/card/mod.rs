//! What a person writes: the tool card, the gauge card, and what was done in an inspection.

mod gauge;
mod inspection;
mod limits;
mod tool;

pub use gauge::{Encoder, GaugeCard, Indicator, Link, Positive, Setup, Stylus, StylusShape};
pub use inspection::{InspectionCard, Role, Source, Stage, TraceEntry};
pub use limits::{Limit, Limits, Name};
pub use tool::{CurveChoice, Feature, Hand, Surface, ToolCard};
