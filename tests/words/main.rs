//! What a person reads and writes: cards, commands, help, manual, reports.

mod bad_input;
mod cards;
mod circles;
mod demo;
mod help;
mod imports;
mod manual;
mod new;
mod pictures;
#[cfg(unix)]
mod printed;
mod questions;
mod readme;
mod report;
mod set_up_pages;
mod setting;
mod tutorial;
mod verify_command;

#[path = "../fixtures/folders.rs"]
mod folders;
