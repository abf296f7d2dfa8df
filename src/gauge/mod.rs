//! Where readings come from: the bridge, text instruments, and a simulated gauge.

pub mod frame;
pub mod simulated;
