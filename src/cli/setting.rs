//! `setting`: what to set on the grinder, before grinding.

mod answer;
mod cam;
mod drop;
mod face;
mod relief;
mod skim;
mod speed;
mod taper;

pub(super) use skim::lists_in_one;

use super::keep_motion::KeepMotion;
use super::learn::Learn;
use super::set_up::{Match, Sheet};
use super::{Out, Status};
use crate::error::Result;
use clap::{Args, Subcommand};

/// Work out what to set on the grinder: relief, cam, taper, speed, stock
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting relief --diameter 20 --angle 8
  heelclear setting relief --diameter 3/4in --angle 8deg30min --wheel-diameter 150mm
  heelclear setting drop --diameter 20 --distance 0.5 --angle 8
  heelclear setting cam --diameter 50 --flutes 8 --angle 10 --land 30
  heelclear setting taper --now 0.05 --angle 0.5 --length 100
  heelclear setting speed --wheel-diameter 150 --rpm 2850 --marked 35m/s
  heelclear setting skim --diameter 16 --angle 9 --edges 0 -0.032 -0.004 --wear 0.1 0 0
  heelclear setting face --diameter 50 --angle 10 --off 0.3

A length is in mm, or has its unit behind it: 20, 20mm, 0.75in, 3/4in, 1 1/2in, 500um.
An angle is in degrees, or has its units behind it: 8, 8.5deg, 8°, 8deg30min, 8:30.
Stop the wheel and lock it out before you set anything. Ground edges cut. The wheel maker's speed
limit, the shop's own safety rules and licensed practice go first.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    wanted: Wanted,
}

#[derive(Subcommand)]
enum Wanted {
    Relief(relief::Relief),
    Drop(drop::Drop),
    Cam(cam::Cam),
    Taper(taper::Taper),
    Speed(speed::WheelSpeed),
    Skim(skim::Skim),
    Face(face::Face),
    Match(Match),
    Sheet(Sheet),
    Learn(Learn),
    KeepMotion(KeepMotion),
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let answer = match &arguments.wanted {
        Wanted::Relief(wanted) => wanted.answer(),
        Wanted::Drop(wanted) => wanted.answer()?,
        Wanted::Cam(wanted) => wanted.answer()?,
        Wanted::Taper(wanted) => wanted.answer(),
        Wanted::Speed(wanted) => wanted.answer()?,
        Wanted::Skim(wanted) => return wanted.run(out),
        Wanted::Face(wanted) => return wanted.run(out),
        Wanted::Learn(wanted) => return wanted.run(out),
        Wanted::KeepMotion(wanted) => return wanted.run(out),
        Wanted::Match(wanted) => return wanted.run(out),
        Wanted::Sheet(wanted) => return wanted.run(out),
    };
    answer.tell(out)
}
