//! `new grinder`: a grinder's card to start from.

use super::kept::{Made, Where};
use super::quantities::one_of;
use crate::card::starter::{NewGrinder, NewWheel};
use crate::card::{Cuts, GrinderCard};
use crate::cli::{Out, Status, typed};
use crate::error::Result;
use crate::quantity::typed::Mark;
use crate::quantity::{AngularSpeed, Length};
use crate::setting::Pulleys;
use clap::Args;
use serde_json::Map;

/// A grinder's card
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear new grinder
  heelclear new grinder --name 'grinder by the window' --wheel-diameter 148 --full-diameter 150 \\
      --marked 35m/s --motor 2850 --pulleys 90:80 --graduation 0.005
  heelclear new grinder --wheel-diameter 6in --marked 6500ft/min --units in --out -

Copy speeds from the wheel itself and from the motor's plate. Fixtures and cams stand on the card as
keys to fill in: `heelclear manual grinder-card`.")]
pub(super) struct Grinder {
    #[command(flatten)]
    to: Where,
    /// What people call it
    #[arg(long, value_name = "TEXT")]
    name: Option<String>,
    /// Within how much the height of centre is known
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    centre_tolerance: Option<Length>,
    /// Diameter of the wheel as it is dressed now
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    wheel_diameter: Option<Length>,
    /// What people call the wheel
    #[arg(long, value_name = "TEXT", requires = "wheel_diameter")]
    wheel: Option<String>,
    /// Which part of the wheel grinds; its rim when absent
    #[arg(long, value_parser = one_of(&[Cuts::Rim, Cuts::Corner, Cuts::Side], Cuts::as_str), requires = "wheel_diameter")]
    cuts: Option<Cuts>,
    /// Diameter of the wheel when it was new
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, requires = "wheel_diameter", allow_negative_numbers = true)]
    full_diameter: Option<Length>,
    /// Radius of the wheel's corner
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, requires = "wheel_diameter", allow_negative_numbers = true)]
    corner: Option<Length>,
    /// Greatest speed marked on the wheel, with its unit; twice where two are marked
    #[arg(long, value_name = "SPEED", value_parser = typed::mark, requires = "wheel_diameter")]
    marked: Vec<Mark>,
    /// Turns a minute of the motor
    #[arg(long, value_name = "RPM", value_parser = typed::turning)]
    motor: Option<AngularSpeed>,
    /// A pair of pulleys, that of the motor first; as often as there are pairs
    #[arg(long, value_name = "MOTOR:SPINDLE", value_parser = typed::pulleys, requires = "motor")]
    pulleys: Vec<Pulleys>,
    /// The least that the slide along the tool's radius can be set by
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    graduation: Option<Length>,
}

impl Grinder {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let pulleys = self.pulleys.iter();
        let grinder = NewGrinder {
            units: self.to.units.into(),
            name: self.name.clone(),
            centre_tolerance: self.centre_tolerance,
            wheel: self.wheel_diameter.map(|diameter| self.wheel(diameter)),
            motor: self.motor,
            pulleys: pulleys.map(|pair| (pair.motor, pair.spindle)).collect(),
            graduation: self.graduation,
        };
        let made = Made {
            kind: "grinder",
            starter: grinder.card(),
            read: &|text, file| GrinderCard::parse(text, file).map(drop),
            lines: Vec::new(),
            object: Map::new(),
        };
        self.to.keep(made, out)
    }

    fn wheel(&self, diameter: Length) -> NewWheel {
        // Where one is marked twice, the slower goes on the card.
        let mut wheel = NewWheel {
            name: self.wheel.clone(),
            cuts: self.cuts.unwrap_or(Cuts::Rim),
            diameter,
            full_diameter: self.full_diameter,
            corner: self.corner,
            greatest: None,
            greatest_turns: None,
        };
        for mark in &self.marked {
            match *mark {
                Mark::Surface(speed) => {
                    let slower = |known: &_| speed < *known;
                    if wheel.greatest.as_ref().is_none_or(slower) {
                        wheel.greatest = Some(speed);
                    }
                }
                Mark::Turning(turning) => {
                    let slower = |known: &_| turning < *known;
                    if wheel.greatest_turns.as_ref().is_none_or(slower) {
                        wheel.greatest_turns = Some(turning);
                    }
                }
            }
        }
        wheel
    }
}
