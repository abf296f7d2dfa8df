//! Where readings come from: the bridge, text instruments, and a simulated gauge.
//!
//! [`frame`] and [`text`] read bytes and touch nothing; [`serial`] and [`serial_reader`] talk to a port,
//! each on a thread of its own; [`raw_log`] has every byte on disk before anything looks at it.
//! [`simulated`] stands beside the real port behind the same trait, [`Instrument`].

pub mod frame;
mod instrument;
pub mod raw_log;
pub mod serial;
pub mod serial_access;
pub mod serial_reader;
pub mod simulated;
pub mod text;

pub use instrument::{Instrument, Port};
