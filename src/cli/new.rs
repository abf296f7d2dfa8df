//! `new`: cards to start from, what is known of them filled in.

mod gauge;
mod grinder;
mod inspection;
mod kept;
mod quantities;
mod tool;

use super::{Out, Status};
use crate::error::Result;
use clap::{Args, Subcommand};

/// Write a card to start from: of a tool, a gauge, a grinder or an inspection
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear new tool                                  a template, every key explained
  heelclear new tool --id VB-07 --name 'seat counterbore' --diameter 20 --flutes 2 --material steel
  heelclear new tool --id VB-31 --steps '6 to 20 by 2' --chamfer 45 --flutes 1
  heelclear new gauge --resolution 0.001 --tip-radius 1 --counts 4000
  heelclear new grinder --name 'grinder by the window' --wheel-diameter 150 --marked 35m/s
  heelclear new inspection --tool tool.toml --reference 90:20 --step-length 8

Nothing is asked, and no file is written over without --force. Every key that a card may have is in
it, with what it means; those that nobody stated are left out by a `#`, or hold an example that is
marked TO FILL IN. A figure of the trade has its source beside it.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    wanted: Wanted,
}

#[derive(Subcommand)]
enum Wanted {
    Tool(Box<tool::Tool>),
    Gauge(Box<gauge::Gauge>),
    Grinder(Box<grinder::Grinder>),
    Inspection(Box<inspection::Inspection>),
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    match &arguments.wanted {
        Wanted::Tool(wanted) => wanted.run(out),
        Wanted::Gauge(wanted) => wanted.run(out),
        Wanted::Grinder(wanted) => wanted.run(out),
        Wanted::Inspection(wanted) => wanted.run(out),
    }
}
