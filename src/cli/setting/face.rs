//! `setting face`: what a grind on the face costs a form-relieved tool.

use super::answer::{Answer, exact, shown};
use crate::cli::typed;
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length, stated};
use crate::setting::{FaceStock, face_grinds_left, grind_face};
use clap::{ArgGroup, Args};

/// What a grind on the face leaves of a form-relieved tool: diameter, relief, grinds left
#[derive(Args)]
#[command(
    group = ArgGroup::new("stock").required(true).args(["off", "turn"]),
    after_help = "\
Examples:
  heelclear setting face --diameter 50 --angle 10 --off 0.3
  heelclear setting face --diameter 50 --angle 10 --turn 1deg --land 30 \\
      --least-land 10 --least-diameter 48

For a radial face, and a land that a relieving cam of constant rise has made."
)]
pub(super) struct Face {
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Length,
    /// Relief angle at the edge
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true)]
    angle: Angle,
    /// What comes off the face at the edge, along the arc
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    off: Option<Length>,
    /// How far the face goes back, as an angle at the axis
    #[arg(long, value_name = "ANGLE", value_parser = turned, allow_negative_numbers = true)]
    turn: Option<Angle>,
    /// Arc of the land, for the grinds that are left
    #[arg(long, value_name = "ANGLE", value_parser = typed::arc, allow_negative_numbers = true)]
    land: Option<Angle>,
    /// The shortest arc that a tooth is still strong enough with
    #[arg(long, value_name = "ANGLE", value_parser = typed::arc, allow_negative_numbers = true, requires = "land")]
    least_land: Option<Angle>,
    /// The smallest diameter that is allowed
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true, requires = "land")]
    least_diameter: Option<Length>,
}

fn turned(text: &str) -> typed::Read<Angle> {
    typed::angle(text, 0.001, 90.0)
}

impl Face {
    pub(super) fn answer(&self) -> Result<Answer> {
        let stock = match (self.off, self.turn) {
            (Some(off), _) => FaceStock::AtEdge(off),
            (None, turn) => FaceStock::Turned(turn.unwrap_or(Angle::ZERO)),
        };
        let ground = grind_face(self.diameter, self.angle, stock)
            .filter(|ground| ground.turned <= Angle::from_turns(0.25));
        let Some(ground) = ground else {
            return Err(Error::new(
                Code::Usage,
                "read more stock than there is, expected less than a quarter of the turn and than the tool",
            )
            .help("check the units of `--off`, `--turn` and `--diameter`"));
        };
        if self.land.is_some_and(|land| ground.turned >= land) {
            let message = format!(
                "read a stock of {:.3}°, expected less than the land",
                ground.turned.deg()
            );
            return Err(Error::new(Code::Usage, message).help("check `--land`, an arc in degrees"));
        }
        let answer = Answer::of("face")
            .line(format!(
                "{:.3}° the face goes back",
                stated(ground.turned.deg())
            ))
            .line(format!("{}lower stands the edge", shown(ground.comes_down)))
            .line(format!("{}diameter left", shown(ground.diameter)))
            .line(format!(
                "{:.3}° of relief at the new edge",
                ground.relief.deg()
            ))
            .deg("turned_deg", ground.turned)
            .mm("comes_down_mm", ground.comes_down)
            .mm("diameter_mm", ground.diameter)
            .deg("angle_deg", ground.relief);
        Ok(self.left(answer, ground.turned))
    }

    /// The grinds that are left, this one among them.
    fn left(&self, answer: Answer, each: Angle) -> Answer {
        let Some(land) = self.land else {
            return answer;
        };
        let land = [land, self.least_land.unwrap_or(Angle::ZERO)];
        let left = face_grinds_left(self.diameter, self.least_diameter, self.angle, land, each);
        let until = match self.least_diameter {
            Some(least) => format!(" or {} of diameter is reached", exact(least)),
            None => " is reached".to_owned(),
        };
        answer
            .line(match left {
                Some(left) => format!(
                    "{left} grinds like this one until {}° of land{until}",
                    stated(land[1].deg())
                ),
                None => "no telling how many grinds are left".to_owned(),
            })
            .with("grinds_left", left)
    }
}
