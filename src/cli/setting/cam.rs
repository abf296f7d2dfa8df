//! `setting cam`: the rise of a relieving cam, or what the cams of a grinder's card do for a tool.

use super::answer::{Answer, exact, shown};
use crate::card::{CamLaw, Fixture, GrinderCard, MotionEntry, MotionIs, RiseLaw};
use crate::cli::typed;
use crate::error::{Code, Error, Result};
use crate::inspection::grind;
use crate::quantity::{Angle, Length, stated};
use crate::setting::{cam_relief, cam_rise, cam_throw};
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;

/// Rise of a relieving cam for a relief angle, or what the cams of a grinder's card do
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting cam --diameter 50 --flutes 8 --angle 10 --land 30
  heelclear setting cam --diameter 12 --flutes 4 --grinder grinder.toml
  heelclear setting cam --diameter 12 --flutes 4 --angle 8 --grinder grinder.toml \\
      --fixture 'relieving head' --cam 'four lobes'

With a grinder's card it tells for each cam the relief at the throw that its figures hold for, and
with --angle the throw to set. That is what a point would grind: `setting match` counts the wheel in.")]
pub(super) struct Cam {
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Length,
    /// Number of teeth
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=24))]
    flutes: u32,
    /// Relief angle at the edge; not needed with a grinder's card
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true, required_unless_present = "grinder")]
    angle: Option<Angle>,
    /// Arc of the land, for the fall over it; no longer than the pitch
    #[arg(long, value_name = "ANGLE", value_parser = typed::arc, allow_negative_numbers = true)]
    land: Option<Angle>,
    /// The grinder's card with the cams
    #[arg(long, value_name = "FILE")]
    grinder: Option<PathBuf>,
    /// The fixture, where not those of all are wanted
    #[arg(long, value_name = "NAME", requires = "grinder")]
    fixture: Option<String>,
    /// The cam, where not all are wanted
    #[arg(long, value_name = "NAME", requires = "grinder")]
    cam: Option<String>,
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
        let answer = match self.angle {
            Some(angle) => self.rise(angle, land)?,
            None => Answer::of("cam"),
        };
        match &self.grinder {
            Some(file) => self.of_card(answer, &grind::read_grinder(file)?),
            None => Ok(answer),
        }
    }

    fn rise(&self, angle: Angle, land: Angle) -> Result<Answer> {
        let rise = cam_rise(self.diameter, self.flutes, angle, land)
            .ok_or_else(|| Error::new(Code::Usage, "read no teeth, expected 1 to 24"))?;
        let answer = Answer::of("cam")
            .line(format!(
                "{}rise over one tooth pitch",
                shown(rise.per_pitch)
            ))
            .mm("rise_per_pitch_mm", rise.per_pitch)
            .mm("fall_over_land_mm", self.land.map(|_| rise.over_land));
        Ok(match self.land {
            Some(land) => answer.line(format!(
                "{}fall over a land of {}°",
                shown(rise.over_land),
                stated(land.deg())
            )),
            None => answer,
        })
    }

    /// A row for each cam of the card that is wanted.
    fn of_card(&self, mut answer: Answer, card: &GrinderCard) -> Result<Answer> {
        let has = |asked: &Option<String>, name: &str| asked.as_ref().is_none_or(|it| it == name);
        let of_fixture = card
            .motions
            .iter()
            .filter(|it| has(&self.fixture, &it.fixture));
        let wanted: Vec<&MotionEntry> = of_fixture.filter(|it| has(&self.cam, &it.cam)).collect();
        if wanted.is_empty() {
            return Err(self.no_such(card));
        }
        let mut rows = Vec::new();
        for entry in wanted {
            let fixture = card.fixture(&entry.fixture, entry.direction);
            let (line, row) = self.row(entry, fixture);
            answer = answer.line(line);
            rows.push(row);
        }
        Ok(answer.with("cams", rows))
    }

    fn no_such(&self, card: &GrinderCard) -> Error {
        let known: Vec<String> = card
            .motions
            .iter()
            .map(|it| format!("`{}` in `{}`", it.cam, it.fixture))
            .collect();
        let message = match known.is_empty() {
            true => "read no `[[motion]]` on the grinder's card, expected its cams".to_owned(),
            false => format!(
                "read no such cam on the grinder's card, which has {}",
                known.join(", ")
            ),
        };
        Error::new(Code::Usage, message)
            .help("`heelclear manual grinder-card` shows how a cam stands on it; name fixture and cam as the card does")
    }

    fn row(&self, entry: &MotionEntry, fixture: Option<&Fixture>) -> (String, Value) {
        let head = format!(
            "{}, {}, {}",
            entry.fixture,
            entry.cam,
            entry.direction.as_str()
        );
        let mut row = json!({
            "fixture": entry.fixture,
            "cam": entry.cam,
            "direction": entry.direction.as_str(),
            "at_throw_mm": stated(entry.throw.mm()),
        });
        let MotionIs::Law(law) = &entry.is else {
            row["law"] = "traced".into();
            return (
                format!(
                    "{head}: known by a trace and not by figures; `setting match` reads its motion"
                ),
                row,
            );
        };
        let mut told = vec![format!(
            "{head}: {} rise of {} over {}°, at a throw of {}",
            law.law.as_str(),
            exact(law.rise),
            stated(law.rise_arc.deg()),
            exact(entry.throw)
        )];
        let [mean, steepest] = cam_relief(self.diameter, law);
        told.push(match law.law {
            RiseLaw::Constant => format!("{:.2}° of relief", mean.deg()),
            _ => format!(
                "{:.2}° of relief on the mean of its rise, {:.2}° at the steepest",
                mean.deg(),
                steepest.deg()
            ),
        });
        row["law"] = law.law.as_str().into();
        row["rise_mm"] = stated(law.rise.mm()).into();
        row["rise_deg"] = stated(law.rise_arc.deg()).into();
        row["lobes"] = law.lobes.into();
        row["relief_deg"] = stated(mean.deg()).into();
        row["steepest_relief_deg"] = stated(steepest.deg()).into();
        if let Some(angle) = self.angle {
            told.push(self.throw(entry, law, fixture, angle, &mut row));
        }
        told.extend(self.does_not_fit(law));
        row["fits"] = self.does_not_fit(law).is_empty().into();
        (told.join("; "), row)
    }

    /// The throw that gives the angle.
    fn throw(
        &self,
        entry: &MotionEntry,
        law: &CamLaw,
        fixture: Option<&Fixture>,
        angle: Angle,
        row: &mut Value,
    ) -> String {
        let throw = cam_throw(self.diameter, law, entry.throw, angle);
        let within = fixture
            .zip(throw)
            .map(|(it, throw)| (it.least..=it.greatest).contains(&throw));
        row["throw_mm"] = throw.map(|it| stated(it.mm())).into();
        row["in_range"] = within.into();
        let Some(throw) = throw else {
            return "no throw gives it, since it does not move the tool".to_owned();
        };
        let set = format!("set {:.3} mm for {}°", throw.mm(), stated(angle.deg()));
        match (fixture, within) {
            (Some(fixture), Some(false)) => format!(
                "{set}, OUTSIDE the range of the fixture, {} to {}",
                exact(fixture.least),
                exact(fixture.greatest)
            ),
            _ => set,
        }
    }

    /// What of the cam is not for this tool.
    fn does_not_fit(&self, law: &CamLaw) -> Vec<String> {
        let mut not = Vec::new();
        // A cam of one lobe may be indexed from tooth to tooth.
        if law.lobes != self.flutes && law.lobes > 1 {
            not.push(format!(
                "{} lobes a turn are not for {} teeth",
                law.lobes, self.flutes
            ));
        }
        if let Some(land) = self.land.filter(|land| *land > law.rise_arc) {
            not.push(format!(
                "it rises over {}°, less than the land of {}°",
                stated(law.rise_arc.deg()),
                stated(land.deg())
            ));
        }
        not
    }
}
