//! `setting taper`: the swing of the table for a back taper.

use super::answer::{Answer, exact, shown};
use crate::card::SwivelZero;
use crate::cli::typed;
use crate::quantity::{Angle, Length, deg_min, stated};
use crate::setting::{sine_bar_height, swivel_setting, table_swing, taper_over};
use clap::{Args, ValueEnum};

/// Swing of the table for a back taper
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting taper --now 0.05 --angle 0.5 --length 100
  heelclear setting taper --angle 1deg30min --bar 5in
  heelclear setting taper --angle 5/8in/ft --swivel-zero across

An angle is that of the side to the axis; a taper, 5/8in/ft or 1:20, is of the diameter.")]
pub(super) struct Taper {
    /// Back taper wanted, positive where the tool gets smaller towards the shank
    #[arg(long, value_name = "TAPER", value_parser = typed::taper, allow_hyphen_values = true)]
    angle: Angle,
    /// Back taper that the table grinds now
    #[arg(long, value_name = "TAPER", default_value = "0", value_parser = typed::taper, allow_hyphen_values = true)]
    now: Angle,
    /// Length along the table that an indicator is moved over
    #[arg(long, value_name = "LENGTH", default_value = "100", value_parser = typed::positive, allow_negative_numbers = true)]
    length: Length,
    /// Where the zero of a swivel lies, for what to set on it
    #[arg(long, value_enum, value_name = "WAY")]
    swivel_zero: Option<Zero>,
    /// Length of a sine bar, for the height of the blocks under it
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    bar: Option<Length>,
}

/// Where a swivel stands at zero.
#[derive(Clone, Copy, ValueEnum)]
enum Zero {
    /// Along the tool's axis
    Along,
    /// Across it
    Across,
}

impl Taper {
    pub(super) fn answer(&self) -> Answer {
        let swing = table_swing(self.now, self.angle, self.length);
        let towards = match swing.angle < Angle::ZERO {
            true => "larger",
            false => "smaller",
        };
        let a_foot = taper_over(self.angle, Length::from_in(12.0)).inches();
        let ratio = taper_over(self.angle, Length::from_mm(1.0)).mm();
        let of_diameter = match ratio == 0.0 {
            true => "no taper".to_owned(),
            false => format!(
                "{a_foot:.4} in/ft of the diameter, {}1:{:.3}",
                if ratio < 0.0 { "-" } else { "" },
                1.0 / ratio.abs()
            ),
        };
        let answer = Answer::of("taper")
            .line(format!(
                "{:.3}° ({}) swing of the table, the tool getting {towards} towards the shank",
                swing.angle.abs().deg(),
                deg_min(swing.angle.abs())
            ))
            .line(format!(
                "{}more on an indicator moved over {} of the table",
                shown(swing.over_length.abs()),
                exact(self.length)
            ))
            .line(format!(
                "{:.3}° ({}) to the axis is {of_diameter}",
                stated(self.angle.deg()),
                deg_min(self.angle)
            ))
            .deg("swing_deg", swing.angle)
            .mm("over_length_mm", swing.over_length)
            .mm("length_mm", self.length)
            .deg("angle_deg", self.angle)
            .with("taper_in_per_ft", stated(a_foot))
            .with("taper_of_diameter", stated(ratio));
        self.bar(self.swivel(answer))
    }

    fn swivel(&self, answer: Answer) -> Answer {
        let Some(zero) = self.swivel_zero else {
            return answer;
        };
        let (zero, lies) = match zero {
            Zero::Along => (SwivelZero::Along, "along"),
            Zero::Across => (SwivelZero::Across, "across"),
        };
        let set = swivel_setting(self.angle, zero);
        answer
            .line(format!(
                "{:.3}° ({}) on a swivel whose zero lies {lies} the axis",
                stated(set.deg()),
                deg_min(set)
            ))
            .deg("swivel_deg", set)
    }

    fn bar(&self, answer: Answer) -> Answer {
        let Some(bar) = self.bar else {
            return answer;
        };
        let height = sine_bar_height(self.angle.abs(), bar);
        answer
            .line(format!(
                "{}under a sine bar of {}",
                shown(height),
                exact(bar)
            ))
            .mm("bar_mm", bar)
            .mm("bar_height_mm", height)
    }
}
