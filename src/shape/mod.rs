//! The part without the stylus and the clamping.

pub mod circle;
mod round_arcs;
mod runout;

pub use runout::{LeftOut, Runout, along_axis, runout};
