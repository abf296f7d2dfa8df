//! What is done to the program while it works: killed, out of room, disks that fail, two dozen of it at
//! once, clocks that jump, bits that turn, an endless stream. Nothing that it reported may be lost, nothing
//! it leaves may be wrong in silence, and it never panics.
//!
//! `cargo test --release --test attack -- --nocapture` prints the table of a short round;
//! `HEELCLEAR_ATTACKS=1000` makes so many rounds of each, `HEELCLEAR_SOAK=3600` soaks so many seconds.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

mod clocks;
mod faults;
mod flips;
mod jobs;
mod kills;
mod place;
mod shim;
mod soak;
mod tally;
mod writers;

#[path = "../fixtures/folders.rs"]
mod folders;
