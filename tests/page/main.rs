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
mod archive;
mod archive_door;
mod browser;
#[cfg(unix)]
mod crowd;
mod dial;
mod door;
mod faults;
mod grinder;
mod learnt;
mod noted;
#[cfg(target_os = "linux")]
#[path = "../fixtures/postgres_client.rs"]
mod postgres_client;
#[cfg(target_os = "linux")]
#[path = "../fixtures/postgres_server.rs"]
mod postgres_server;
mod sense;
mod server;
mod shelf;
mod sketches;
mod strange;
#[cfg(unix)]
mod stuck;
mod token;
#[cfg(unix)]
mod turning;
mod walk;
