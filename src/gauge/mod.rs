//! Where readings come from: the bridge and text instruments.
//!
//! [`frame`] and [`text`] read bytes and touch nothing; [`serial`] and [`serial_reader`] talk to a port,
//! each on a thread of its own; [`raw_log`] has every byte on disk before anything looks at it.
//! A port, real or simulated, stands behind one trait, [`Instrument`].

pub mod frame;
mod instrument;
pub mod raw_log;
pub mod serial;
pub mod serial_access;
pub mod serial_reader;
pub mod text;

pub use instrument::{Instrument, Port};
