//! Starter cards: what is known filled in, and every other key explained and left out.
//!
//! What a key means and may hold comes from [`keys`](super::keys), so that a card never explains a
//! key that the reader does not know, nor lacks one that it does.

mod draft;
mod examples;
mod figures;
mod gauge;
mod grinder;
mod inspection;
mod steps;
mod tool;

use draft::{Draft, Entry, Value};
pub use figures::{Material, Work};
pub use gauge::NewGauge;
pub use grinder::{NewGrinder, NewWheel};
pub use inspection::NewInspection;
pub use steps::features_of_steps;
pub use tool::{NewFeature, NewTool};

/// A card to start from.
#[derive(Clone, Debug, PartialEq)]
pub struct Starter {
    /// The card, as the reader of its kind takes it.
    pub text: String,
    /// Keys that hold an example, since the card cannot do without them and nobody stated them.
    pub to_fill_in: Vec<String>,
    /// Keys that hold a figure from a published source, which the line names.
    pub from_sources: Vec<String>,
}
