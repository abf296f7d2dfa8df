//! `setting cam`: the rise of a relieving cam.

use super::answer::{Answer, shown};
use crate::cli::typed;
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length, stated};
use crate::setting::cam_rise;
use clap::Args;

/// Rise of a relieving cam for a relief angle
#[derive(Args)]
#[command(after_help = "\
Example:
  heelclear setting cam --diameter 50 --flutes 8 --angle 10 --land 30")]
pub(super) struct Cam {
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Length,
    /// Number of teeth
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=24))]
    flutes: u32,
    /// Relief angle at the edge
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true)]
    angle: Angle,
    /// Arc of the land, for the fall over it; no longer than the pitch
    #[arg(long, value_name = "ANGLE", value_parser = typed::arc, allow_negative_numbers = true)]
    land: Option<Angle>,
}

impl Cam {
    pub(super) fn answer(&self) -> Result<Answer> {
        let land = self.land.unwrap_or(Angle::ZERO);
        let pitch = Angle::TURN / f64::from(self.flutes);
        if land > pitch * (1.0 + 1e-9) {
            let message = format!(
                "read a land of {}°, expected at most {:.4}°, the pitch of {} teeth",
                stated(land.deg()),
                pitch.deg(),
                self.flutes
            );
            return Err(Error::new(Code::Usage, message).help(
                "the next tooth begins where a pitch ends: check `--land`, which is an arc in degrees, and `--flutes`",
            ));
        }
        let rise = cam_rise(self.diameter, self.flutes, self.angle, land)
            .ok_or_else(|| Error::new(Code::Usage, "read no teeth, expected 1 to 24"))?;
        let mut answer = Answer::of("cam")
            .line(format!(
                "{}rise over one tooth pitch",
                shown(rise.per_pitch)
            ))
            .mm("rise_per_pitch_mm", rise.per_pitch)
            .mm("fall_over_land_mm", self.land.map(|_| rise.over_land));
        if let Some(land) = self.land {
            let land = stated(land.deg());
            answer = answer.line(format!(
                "{}fall over a land of {land}°",
                shown(rise.over_land)
            ));
        }
        Ok(answer)
    }
}
