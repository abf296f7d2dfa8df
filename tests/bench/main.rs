//! At the bench: from bytes on a wire to traces, live views and studies.
#![allow(clippy::unwrap_used)]

mod capture;
mod capture_command;
mod faults;
mod full_screen;
mod live;
mod ready;
mod screen;
mod studies;
mod wire;

#[path = "../fixtures/pty.rs"]
mod pty;

#[path = "../fixtures/traces.rs"]
mod traces;
