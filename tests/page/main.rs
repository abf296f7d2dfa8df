//! The bench page: its door, and walks through it in a real browser.
//!
//! The walks need `chromium` and `chromedriver`; without them each says that it did not run.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

mod access;
mod browser;
mod dial;
mod door;
mod faults;
mod grinder;
mod learnt;
mod noted;
mod sense;
mod server;
mod sketches;
#[cfg(unix)]
mod turning;
mod walk;
