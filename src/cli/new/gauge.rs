//! `new gauge`: a gauge card to start from.

use super::kept::{Made, Where};
use super::quantities::one_of;
use crate::card::starter::NewGauge;
use crate::card::{GaugeCard, Rotation, StylusShape};
use crate::cli::{Out, Status, typed};
use crate::error::Result;
use crate::quantity::{Angle, Length};
use clap::Args;
use serde_json::Map;

/// A gauge card
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear new gauge
  heelclear new gauge --resolution 0.001 --max-error 0.003 --hysteresis 0.001 --tip-radius 1
  heelclear new gauge --resolution 0.01 --stylus flat --tip-radius 2 --counts 4000 --grows clockwise
  heelclear new gauge --resolution 0.0001in --tip-radius 0.04in --units in --out bench.toml

What the indicator may err by stands on its certificate; without --max-error and --hysteresis a dial
of 0.001, 0.005 or 0.01 mm gets the limits of its standard. `heelclear ready` proves --grows.")]
pub(super) struct Gauge {
    #[command(flatten)]
    to: Where,
    /// Least count of the indicator
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    resolution: Option<Length>,
    /// Range of its plunger
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    travel: Option<Length>,
    /// Limit of error over the travel used
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    max_error: Option<Length>,
    /// Difference between readings going in and coming out
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    hysteresis: Option<Length>,
    /// Angle of a lever to the surface's normal, 0 for a plunger
    #[arg(long, value_name = "ANGLE", value_parser = lever, allow_negative_numbers = true)]
    lever_angle: Option<Angle>,
    /// Shape of the stylus' end
    #[arg(long, value_parser = one_of(&[StylusShape::Ball, StylusShape::Flat, StylusShape::Point], StylusShape::as_str))]
    stylus: Option<StylusShape>,
    /// Radius of the ball, or half the width of the flat
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    tip_radius: Option<Length>,
    /// Counts of the encoder in one turn, after the edges are counted
    #[arg(long, value_name = "N")]
    counts: Option<u32>,
    /// Turning direction in which its angle grows, seen from the driven end
    #[arg(long, value_parser = one_of(&[Rotation::Clockwise, Rotation::CounterClockwise], Rotation::as_str))]
    grows: Option<Rotation>,
    /// How far the probe's line passes from the axis
    #[arg(long, value_name = "LENGTH", value_parser = typed::signed, allow_negative_numbers = true)]
    probe_offset: Option<Length>,
    /// What the probe offset may be off by
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    probe_offset_tolerance: Option<Length>,
    /// Bound on the eccentricity left without a reference trace
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    runout: Option<Length>,
    /// Bound on how much the eccentricity grows over 100 mm along the tool
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    lean: Option<Length>,
    /// Speed of the indicator's port
    #[arg(long, value_name = "N")]
    baud: Option<u32>,
}

impl Gauge {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let gauge = NewGauge {
            units: self.to.units.into(),
            resolution: self.resolution,
            travel: self.travel,
            max_error: self.max_error,
            hysteresis: self.hysteresis,
            lever_angle: self.lever_angle,
            shape: self.stylus,
            tip_radius: self.tip_radius,
            counts: self.counts,
            grows: self.grows,
            probe_offset: self.probe_offset,
            probe_offset_tolerance: self.probe_offset_tolerance,
            runout: self.runout,
            lean: self.lean,
            baud: self.baud,
        };
        let made = Made {
            kind: "gauge",
            starter: gauge.card(),
            read: &|text, file| GaugeCard::parse(text, file).map(drop),
            lines: Vec::new(),
            object: Map::new(),
        };
        self.to.keep(made, out)
    }
}

fn lever(text: &str) -> typed::Read<Angle> {
    typed::angle(text, -75.0, 75.0)
}
