//! The archive through its front door: what goes in comes out, nothing is lost, and what was
//! changed is found.
#![allow(clippy::unwrap_used, clippy::panic)]

mod bench;
mod changed;
mod everyday;
#[cfg(unix)]
mod faults;
mod years;
