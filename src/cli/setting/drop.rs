//! `setting drop`: what an indicator shows for a relief angle, and the angle for what it shows.

use super::answer::{Answer, both, exact};
use crate::cli::typed;
use crate::error::{Code, Error, Result};
use crate::fit::relief::{
    axial_flat_drop, axial_flat_equivalent_relief, flat_drop, flat_equivalent_relief,
};
use crate::quantity::{Angle, Length, deg_min, stated};
use clap::{ArgGroup, Args};

/// Indicator drop of a flat land for a relief angle, or the angle for a drop
#[derive(Args)]
#[command(
    group = ArgGroup::new("known").required(true).args(["angle", "drop"]),
    after_help = "\
Examples:
  heelclear setting drop --diameter 20 --distance 0.5 --angle 8
  heelclear setting drop --diameter 3/4in --distance 0.030in --drop 0.0030in
  heelclear setting drop --diameter 20 --distance 1 --angle 6 --axial

The drop is that of a sharp stylus that points at the axis, or along it with --axial, while the tool
is turned until the distance behind the edge has come under it."
)]
pub(super) struct Drop {
    /// Diameter of the tool; with --axial that of the circle which the stylus runs on
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Length,
    /// Check distance behind the edge, along the arc
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    distance: Length,
    /// Relief angle, for the drop
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true)]
    angle: Option<Angle>,
    /// Drop, for the relief angle
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    drop: Option<Length>,
    /// The land is on an end face, and the stylus stands along the axis
    #[arg(long)]
    axial: bool,
}

impl Drop {
    pub(super) fn answer(&self) -> Result<Answer> {
        let radius = self.diameter / 2.0;
        let arc = Angle::from_rad(self.distance / radius);
        if arc >= Angle::from_turns(0.25) {
            let message = format!(
                "read a check distance of {}, expected less than {:.3} mm, a quarter of the turn",
                exact(self.distance),
                (self.diameter * std::f64::consts::FRAC_PI_4).mm()
            );
            return Err(Error::new(Code::Usage, message)
                .help("the distance is along the arc, and much shorter than the land is wide"));
        }
        let (relief, drop) = match (self.angle, self.drop) {
            (Some(relief), _) => (relief, self.fallen(relief, arc)?),
            (None, Some(drop)) => (self.relief_of(drop, arc)?, drop),
            // The group of the two leaves nothing else.
            (None, None) => {
                return Err(Error::new(
                    Code::Usage,
                    "read neither `--angle` nor `--drop`",
                ));
            }
        };
        let told = match self.angle {
            Some(_) => format!(
                "{:.4} mm ({:.5} in) drop over {} behind the edge, for {} of relief",
                drop.mm(),
                drop.inches(),
                both(self.distance),
                format_args!("{}°", stated(relief.deg()))
            ),
            None => format!(
                "{:.2}° ({}) of relief, for a drop of {} over {} behind the edge",
                relief.deg(),
                deg_min(relief),
                both(drop),
                both(self.distance)
            ),
        };
        Ok(Answer::of("drop")
            .line(told)
            .line("of a flat land under a sharp stylus; a ball reads less where it still rests on the edge")
            .with("land", "flat")
            .with("surface", if self.axial { "axial" } else { "radial" })
            .deg("angle_deg", relief)
            .mm("drop_mm", drop)
            .mm("distance_mm", self.distance)
            .deg("arc_deg", arc))
    }

    /// How far a flat of this relief has fallen.
    fn fallen(&self, relief: Angle, arc: Angle) -> Result<Length> {
        let radius = self.diameter / 2.0;
        if self.axial {
            return Ok(axial_flat_drop(relief, arc, radius));
        }
        if arc >= relief * 2.0 {
            let back = radius * (relief * 2.0).rad();
            let message = format!(
                "read a check distance of {}, expected less than {:.3} mm, where a flat of {}° is back at the height of its edge",
                exact(self.distance),
                back.mm(),
                stated(relief.deg())
            );
            return Err(Error::new(Code::Usage, message)
                .help("check nearer behind the edge, or a tool that is larger"));
        }
        Ok(flat_drop(relief, arc, radius))
    }

    /// The relief of a flat that falls so far.
    fn relief_of(&self, drop: Length, arc: Angle) -> Result<Angle> {
        let radius = self.diameter / 2.0;
        let relief = match self.axial {
            true => axial_flat_equivalent_relief(drop, arc, radius),
            false => flat_equivalent_relief(drop, arc, radius),
        };
        let sensible = relief.filter(|relief| relief.deg() <= 60.0);
        sensible.ok_or_else(|| {
            let message = format!(
                "read a drop of {} over {}, expected one of a relief up to 60°",
                exact(drop),
                exact(self.distance)
            );
            Error::new(Code::Usage, message).help("check the units of `--drop` and `--distance`")
        })
    }
}
