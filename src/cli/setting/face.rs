//! `setting face`, measured or typed by hand: what a grind on the face costs a form-relieved tool.

use super::answer::{Answer, exact, shown};
use crate::cli::care::CARE;
use crate::cli::{Out, Status, typed};
use crate::error::{Code, Error, Result};
use crate::inspection::Folder;
use crate::inspection::grind::{self, FeatureFace, Predicted};
use crate::quantity::{Angle, Length, stated};
use crate::setting::{FaceStock, face_grinds_left, grind_face};
use clap::{ArgGroup, Args};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What a grind on the face leaves of a form-relieved tool: diameter, relief, grinds left
#[derive(Args)]
#[command(
    group = ArgGroup::new("stock").required(true).args(["off", "turn", "folder"]),
    after_help = "\
Examples:
  heelclear setting face bench/VB-41 --step 0.1deg
  heelclear setting face --diameter 50 --angle 10 --off 0.3
  heelclear setting face --diameter 50 --angle 10 --turn 1deg --land 30 \\
      --least-land 10 --least-diameter 48

For a radial face, and typed by hand for a land that a relieving cam of constant rise has made. Of a
folder, the lands that were measured tell what follows, and the tool is indexed from tooth to tooth."
)]
pub(super) struct Face {
    /// Folder of the inspection before the grind, in place of all figures; its card says
    /// `sharpened_on = \"face\"`
    #[arg(value_name = "DIR", conflicts_with_all = ["diameter", "angle", "land", "least_land", "least_diameter"])]
    folder: Option<PathBuf>,
    /// The least turn that the index can be set by, for whole steps
    #[arg(long, value_name = "ANGLE", value_parser = turned, allow_negative_numbers = true, requires = "folder")]
    step: Option<Angle>,
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true, required_unless_present = "folder")]
    diameter: Option<Length>,
    /// Relief angle at the edge
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true, required_unless_present = "folder")]
    angle: Option<Angle>,
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
    /// What was measured of the folder, where one is named, and else what was typed.
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        match &self.folder {
            Some(folder) => measured(folder, self.step, out),
            None => self.answer()?.tell(out),
        }
    }

    fn answer(&self) -> Result<Answer> {
        let (Some(diameter), Some(angle)) = (self.diameter, self.angle) else {
            return Err(Error::new(
                Code::Usage,
                "read no folder, expected one, or `--diameter` and `--angle`",
            ));
        };
        let stock = match (self.off, self.turn) {
            (Some(off), _) => FaceStock::AtEdge(off),
            (None, turn) => FaceStock::Turned(turn.unwrap_or(Angle::ZERO)),
        };
        let ground = grind_face(diameter, angle, stock)
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
        Ok(self.left(answer, (diameter, angle), ground.turned))
    }

    /// The grinds that are left, this one among them.
    fn left(&self, answer: Answer, (diameter, angle): (Length, Angle), each: Angle) -> Answer {
        let Some(land) = self.land else {
            return answer;
        };
        let land = [land, self.least_land.unwrap_or(Angle::ZERO)];
        let left = face_grinds_left(diameter, self.least_diameter, angle, land, each);
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

/// The grind on the face of a worn tool that was measured.
fn measured(folder: &Path, step: Option<Angle>, out: &mut Out) -> Result<Status> {
    let plan = grind::face(&Folder::open(folder)?, step)?;
    if out.json() {
        out.object(&json!({
            "setting": "face",
            "verdict": if plan.why.is_empty() { None } else { Some("undecided") },
            "why": plan.why,
            "features": plan.features.iter().map(object).collect::<Vec<_>>(),
        }))?;
    } else {
        for line in plan.features.iter().flat_map(lines) {
            out.line(&line)?;
        }
        if !plan.why.is_empty() {
            out.line("undecided: nothing is set on this")?;
        }
        for why in &plan.why {
            out.line(&format!("  {why}"))?;
        }
        out.note(CARE);
    }
    Ok(match plan.why.is_empty() {
        true => Status::Clear,
        false => Status::Undecided,
    })
}

fn lines(of: &FeatureFace) -> Vec<String> {
    let face = &of.face;
    let mut lines = vec![
        format!(
            "{}: every face back by the same, from the first that is touched",
            of.feature
        ),
        format!(
            "{:9.3}° of land comes off, {} along the arc at the edge: all edges are new 95 times in 100 (computed {:.3}°, u {:.3}°)",
            face.sure.deg(),
            exact(Length::from_um(of.at_edge.um().round())),
            face.turn.deg(),
            face.standard_uncertainty.deg()
        ),
    ];
    if let Some(diameter) = &of.diameter {
        let [low, high] = diameter.interval();
        lines.push(format!(
            "{}diameter left, {low:.3} to {high:.3} mm",
            shown(Length::from_mm(diameter.value))
        ));
    }
    for (at, (off, relief)) in face.off.iter().zip(&of.relief).enumerate() {
        let [low, high] = relief.interval();
        lines.push(format!(
            "{:9.3}° off the land of flute {}: {:.2}° of relief at its new edge, {low:.2}° to {high:.2}°",
            off.deg(),
            at + 1,
            relief.value
        ));
    }
    lines.push(format!(
        "{:9.3}° of land left, at the shortest",
        of.land_left.deg()
    ));
    lines.push(match of.least_land {
        Some(least) => format!(
            "  {} more such grinds until {}° of land or the smallest diameter allowed",
            of.grinds_left,
            stated(least.deg())
        ),
        None => format!(
            "  {} more such grinds until no land is left or the smallest diameter allowed; write how short a land may get, `least_land_deg`, on the tool's card",
            of.grinds_left
        ),
    });
    lines
}

fn object(of: &FeatureFace) -> Value {
    let predicted = |it: &Predicted| {
        json!({
            "value": stated(it.value),
            "standard_uncertainty": stated(it.standard_uncertainty),
            "interval": it.interval().map(stated),
        })
    };
    let degrees = |angle: Angle| stated(angle.deg());
    json!({
        "feature": of.feature,
        "turn_deg": degrees(of.face.sure),
        "computed_deg": degrees(of.face.turn),
        "standard_uncertainty_deg": degrees(of.face.standard_uncertainty),
        "off_mm": stated(of.at_edge.mm()),
        "off_land_deg": of.face.off.iter().map(|it| degrees(*it)).collect::<Vec<_>>(),
        "diameter_mm": of.diameter.as_ref().map(predicted),
        "relief_deg": of.relief.iter().map(predicted).collect::<Vec<_>>(),
        "land_left_deg": degrees(of.land_left),
        "least_land_deg": of.least_land.map(degrees),
        "grinds_left": of.grinds_left,
    })
}
