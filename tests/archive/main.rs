//! The archive through its front door: what goes in comes out, nothing is lost, and what was
//! changed is found.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

mod bench;
mod broken;
mod changed;
mod drawn;
mod everyday;
mod evidence;
#[cfg(unix)]
mod faults;
mod judged_again;
#[cfg(target_os = "linux")]
#[path = "../fixtures/postgres_server.rs"]
mod postgres_server;
mod reports;
mod rows;
#[cfg(target_os = "linux")]
mod shared;
mod tables;
mod years;
