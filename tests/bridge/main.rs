//! The bridge's firmware: built, run on an emulated controller, its pins driven, its lines read by the
//! codec and by `heelclear capture`. What is missing for that is told, and nothing is run then.
//!
//! Times are those of the emulated controller; nothing here depends on how fast this computer is.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

mod attacks;
mod bars;
mod by_capture;
mod drive;
mod emulated;
mod indicators;
mod made;
mod truth;
mod wire;
