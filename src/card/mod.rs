//! What a person writes: the tool card, the gauge card, the grinder's card, and what was done in an
//! inspection.
//!
//! Each card is TOML and is read whole: [`ToolCard::parse`], [`GaugeCard::parse`],
//! [`GrinderCard::parse`] and [`InspectionCard::parse`] take text and give a card, or one error that holds everything wrong
//! with it, every line drawn. What a key may hold is declared once, in [`keys`].

mod as_studied;
mod choices;
mod gauge;
mod grinder;
mod inside;
mod inspection;
mod key;
pub mod keys;
mod lean;
mod limits;
mod page;
mod range;
mod reader;
mod sense;
mod shop;
pub mod starter;
mod studies;
mod tool;
mod values;
mod writer;

pub use choices::{
    CurveChoice, Cuts, Hand, Positive, RiseLaw, Rotation, Setting, SharpenedOn, Stage, StylusShape,
    Surface, SwivelZero, Turns,
};
pub use gauge::{Encoder, GaugeCard, Identity, Indicator, Link, Setup, Stylus};
pub use grinder::{
    CamLaw, Correction, Fixture, GrinderCard, MotionEntry, MotionIs, Pulleys, Slide, Spindle,
    Swivel, Wheel,
};
pub use inside::{INSIDE, objection};
pub use inspection::{Engaged, InspectionCard, Role, Source, TraceEntry};
pub use key::{Key, Kind, Section};
pub use lean::LeanBound;
pub use limits::{Limit, Limits, Name};
pub(crate) use page::drawn;
pub use range::Range;
pub use sense::{Sense, SenseProven};
pub use shop::ShopCard;
pub use studies::{Studied, StudiedDrift, StudiedGain, StudiedLean, StudiedSpread, Studies};
pub use tool::{Feature, ToolCard};
