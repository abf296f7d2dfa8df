//! What a person writes: the tool card, the gauge card, the grinder's card, and what was done in an
//! inspection.
//!
//! Each card is TOML and is read whole: [`ToolCard::parse`], [`GaugeCard::parse`],
//! [`GrinderCard::parse`] and [`InspectionCard::parse`] take text and give a card, or one error that holds everything wrong
//! with it, every line drawn. What a key may hold is declared once, in [`keys`].

mod as_studied;
mod curve;
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

pub use curve::CurveChoice;
pub use gauge::{Encoder, GaugeCard, Identity, Indicator, Link, Setup, Stylus, StylusShape};
pub use grinder::{
    CamLaw, Correction, Cuts, Fixture, GrinderCard, MotionEntry, MotionIs, Pulleys, RiseLaw,
    Setting, Slide, Spindle, Swivel, SwivelZero, Turns, Wheel,
};
pub use inside::{INSIDE, objection};
pub use inspection::{Engaged, InspectionCard, Role, Source, Stage, TraceEntry};
pub use key::{Key, Kind, Section};
pub use lean::LeanBound;
pub use limits::{Limit, Limits, Name};
pub(crate) use page::drawn;
pub use range::Range;
pub use sense::{Positive, Rotation, Sense, SenseProven};
pub use shop::ShopCard;
pub use studies::{Studied, StudiedDrift, StudiedGain, StudiedLean, StudiedSpread, Studies};
use tool::SURFACES;
pub use tool::{Feature, Hand, SharpenedOn, Surface, ToolCard};
