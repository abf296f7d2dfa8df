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
#[path = "../fixtures/postgres_client.rs"]
mod postgres_client;
#[cfg(target_os = "linux")]
#[path = "../fixtures/postgres_server.rs"]
mod postgres_server;
mod reports;
#[cfg(target_os = "linux")]
mod roles;
mod rows;
#[cfg(target_os = "linux")]
mod shared;
#[cfg(target_os = "linux")]
mod silent;
mod tables;
mod years;

#[path = "../fixtures/folders.rs"]
mod folders;
