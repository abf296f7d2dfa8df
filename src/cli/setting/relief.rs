//! `setting relief`: what to move on the grinder, and by how much, for a relief angle.

use super::answer::{Answer, exact, shown};
use crate::cli::typed;
use crate::fit::relief::flat_limit;
use crate::quantity::{Angle, Length, stated};
use crate::setting::{relief_offset, relief_within, turned_by_height, widest_flat};
use clap::{Args, ValueEnum};

/// Offset of the tooth rest or the wheel head for a relief angle
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting relief --diameter 20 --angle 8                        a cup wheel
  heelclear setting relief --diameter 3/4in --angle 8deg30min --rest head
  heelclear setting relief --diameter 20 --angle 8 --wheel-diameter 150   the rim of a straight one

Heights are for a rest under the tooth; one that holds it from above has them the other way.")]
pub(super) struct Relief {
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Length,
    /// Relief angle
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true)]
    angle: Angle,
    /// Diameter of a straight wheel that grinds with its rim; a cup wheel when absent
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    wheel_diameter: Option<Length>,
    /// Where the tooth rest is fixed: to the table, or to the wheel head, so that it moves with it
    #[arg(long, value_enum, default_value_t = Rest::Table)]
    rest: Rest,
    /// How far under the edge's circle the heel of the widest flat land has to lie
    #[arg(long, value_name = "LENGTH", default_value = "0.02", value_parser = typed::from_zero, allow_negative_numbers = true)]
    clearance: Length,
    /// How far the height of centre may be off, for what that does to the relief
    #[arg(long, value_name = "LENGTH", default_value = "0.1", value_parser = typed::from_zero, allow_negative_numbers = true)]
    height_error: Length,
}

/// What the tooth rest is fixed to.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Rest {
    Table,
    Head,
}

/// What is moved, in a word for scripts and in a sentence for people.
const fn move_of(rim: bool, rest: Rest) -> (&'static str, &'static str) {
    match (rim, rest) {
        (false, Rest::Table) => ("tooth-rest", "down from the tool's centre: the tooth rest"),
        (false, Rest::Head) => (
            "wheel-head-with-rest",
            "down: the wheel head with its rest, from where the rest is level with the tool's centre",
        ),
        (true, Rest::Table) => (
            "wheel-head",
            "up from the tool's centre: the centre of the wheel; the tooth rest stays level with the tool's",
        ),
        (true, Rest::Head) => (
            "wheel-head-then-rest",
            "up from the tool's centre: the centre of the wheel; then set the rest on the head back, level with the tool's",
        ),
    }
}

impl Relief {
    pub(super) fn answer(&self) -> Answer {
        let governs = self.wheel_diameter.unwrap_or(self.diameter);
        let offset = relief_offset(governs, self.angle);
        let rim = self.wheel_diameter.is_some();
        let (moved, words) = move_of(rim, self.rest);
        let answer = Answer::of("relief")
            .line(format!("{}{words}", shown(offset)))
            .line(match rim {
                true => format!(
                    "the rim of a straight wheel grinds, so its diameter counts: {}",
                    exact(governs)
                ),
                false => format!(
                    "a cup wheel grinds, so the tool's diameter counts: {}",
                    exact(governs)
                ),
            })
            .with("wheel", if rim { "rim" } else { "cup" })
            .with(
                "rest",
                if self.rest == Rest::Head {
                    "head"
                } else {
                    "table"
                },
            )
            .with("moves", moved)
            .mm("governing_diameter_mm", governs)
            .mm("offset_mm", offset);
        self.height(self.flat(answer), rim)
    }

    /// How wide the land may be.
    fn flat(&self, answer: Answer) -> Answer {
        let widest = widest_flat(self.diameter, self.angle, self.clearance);
        let line = match widest {
            Some(widest) => format!(
                "{}widest flat land: its heel lies {} under the edge's circle, a wider one's less",
                shown(widest),
                exact(self.clearance)
            ),
            None => {
                let deepest = flat_limit(self.angle, self.diameter / 2.0);
                let deepest = deepest.map_or(Length::ZERO, |flat| flat.greatest_drop);
                format!(
                    "no flat land of this relief lies {} under the edge's circle, {:.4} mm at the deepest: another `--clearance`, or a secondary",
                    exact(self.clearance),
                    deepest.mm()
                )
            }
        };
        answer
            .line(line)
            .mm("clearance_mm", self.clearance)
            .mm("widest_flat_mm", widest)
    }

    /// What an error of the height of centre does.
    fn height(&self, answer: Answer, rim: bool) -> Answer {
        let error = self.height_error;
        let turned = turned_by_height(self.diameter, error);
        let within = relief_within(self.diameter, self.angle, rim, error);
        // Nothing has a relief of a ten-thousandth of a degree to lose.
        let rubs = |least: Angle| least.deg() < -1e-4;
        let line = match (within, turned) {
            (Some([least, greatest]), Some(turned)) => format!(
                "{:.2}° to {:.2}° of relief if the height of centre is off by {}; asin(2h/D) is {:.2}°{}",
                stated(least.deg()),
                stated(greatest.deg()),
                exact(error),
                turned.deg(),
                if rubs(least) {
                    ": BELOW 0° THE HEEL RUBS; set the height of centre more closely, or more relief"
                } else {
                    ""
                }
            ),
            _ => format!(
                "no telling what relief comes out if the height of centre is off by {}: a tool of {} does not reach there",
                exact(error),
                exact(self.diameter)
            ),
        };
        answer
            .line(line)
            .mm("height_error_mm", error)
            .deg("height_error_deg", turned)
            .deg("least_relief_deg", within.map(|[least, _]| least))
            .deg("greatest_relief_deg", within.map(|[_, greatest]| greatest))
            .with("may_rub", within.map(|[least, _]| rubs(least)))
    }
}
