//! Raw logs read again: as traces, as the files of traces, and for the encoder's index mark.

mod device;
mod rebuild;
mod replay;
mod tie;

pub(super) use device::{Device, Duty};
pub(super) use rebuild::make;
pub use rebuild::{Made, rebuild};
pub(super) use replay::{Logged, logged, readings_file};
pub(super) use tie::{index_of, tied};
