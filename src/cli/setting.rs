//! `setting`: what to set on the grinder, before grinding.

use super::set_up::{Match, Sheet};
use super::{Out, Status};
use crate::error::{Code, Error, Result};
use crate::fit::relief::flat_limit;
use crate::quantity::{Angle, Length};
use crate::setting::{Worn, cam_rise, least_skim, relief_offset, table_swing};
use clap::{Args, Subcommand};
use serde_json::{Value, json};

/// Work out what to set on the grinder: relief offset, cam rise, table swing, least stock
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting relief --diameter 20 --angle 8
  heelclear setting relief --diameter 6in --angle 7 --wheel-diameter 150mm
  heelclear setting cam --diameter 50 --flutes 8 --angle 10 --land 30
  heelclear setting taper --now 0.05 --angle 0.5 --length 100
  heelclear setting skim --diameter 16 --angle 9 --edges 0,-0.032,-0.004 --wear 0.1,0,0

A length is in mm, or has its unit behind it: 20, 20mm, 0.75in, 500um.
Stop the wheel and lock it out before you set anything. Ground edges cut. The wheel maker's speed
limit, the shop's own safety rules and licensed practice go first.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    wanted: Wanted,
}

#[derive(Subcommand)]
enum Wanted {
    Match(Match),
    Sheet(Sheet),
    Relief(Relief),
    Cam(Cam),
    Taper(Taper),
    Skim(Skim),
}

/// Offset of the tooth rest or the wheel head for a relief angle
#[derive(Args)]
#[command(after_help = "\
Example:
  heelclear setting relief --diameter 20 --angle 8")]
struct Relief {
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    diameter: Length,
    /// Relief angle in degrees
    #[arg(long, value_name = "DEG", value_parser = relief)]
    angle: Angle,
    /// Diameter of a straight wheel that grinds with its rim
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    wheel_diameter: Option<Length>,
}

/// Rise of a relieving cam for a relief angle
#[derive(Args)]
#[command(after_help = "\
Example:
  heelclear setting cam --diameter 50 --flutes 8 --angle 10 --land 30")]
struct Cam {
    /// Diameter of the tool
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    diameter: Length,
    /// Number of teeth
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=24))]
    flutes: u32,
    /// Relief angle at the edge in degrees
    #[arg(long, value_name = "DEG", value_parser = relief)]
    angle: Angle,
    /// Arc of the land in degrees, for the fall over it
    #[arg(long, value_name = "DEG", value_parser = arc)]
    land: Option<Angle>,
}

/// Swing of the table for a back taper
#[derive(Args)]
#[command(after_help = "\
Example:
  heelclear setting taper --now 0.05 --angle 0.5 --length 100")]
struct Taper {
    /// Back taper wanted, in degrees, positive where the tool gets smaller towards the shank
    #[arg(long, value_name = "DEG", value_parser = taper, allow_negative_numbers = true)]
    angle: Angle,
    /// Back taper that the table grinds now, in degrees
    #[arg(long, value_name = "DEG", default_value = "0", value_parser = taper, allow_negative_numbers = true)]
    now: Angle,
    /// Length along the table that an indicator is moved over
    #[arg(long, value_name = "LENGTH", default_value = "100", value_parser = length)]
    length: Length,
}

/// Least stock that makes all edges even and clears the wear lands
#[derive(Args)]
#[command(after_help = "\
Example:
  heelclear setting skim --diameter 16 --angle 9 --edges 0,-0.032,-0.004 --wear 0.1,0,0")]
struct Skim {
    /// Diameter of the highest edge
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    diameter: Length,
    /// Relief angle that the lands are ground to, in degrees
    #[arg(long, value_name = "DEG", value_parser = relief)]
    angle: Angle,
    /// Heights of the edges above any common level, flute by flute
    #[arg(
        long,
        value_name = "LENGTH,…",
        value_delimiter = ',',
        required = true,
        value_parser = height,
        allow_hyphen_values = true
    )]
    edges: Vec<Length>,
    /// Widths of the wear lands, flute by flute; none when absent
    #[arg(long, value_name = "LENGTH,…", value_delimiter = ',', value_parser = height)]
    wear: Vec<Length>,
}

/// On every answer, since a person goes on to a grinder with it.
const CARE: &str = "stop the wheel and lock it out before you set anything; ground edges cut; \
                    the wheel maker's speed limit and the shop's own rules go first";

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let answer = match &arguments.wanted {
        Wanted::Match(wanted) => return wanted.run(out),
        Wanted::Sheet(wanted) => return wanted.run(out),
        Wanted::Relief(wanted) => wanted.answer(),
        Wanted::Cam(wanted) => wanted.answer()?,
        Wanted::Taper(wanted) => wanted.answer(),
        Wanted::Skim(wanted) => wanted.answer()?,
    };
    if out.json() {
        out.object(&answer.json)?;
    } else {
        for line in &answer.lines {
            out.line(line)?;
        }
        out.note(CARE);
    }
    Ok(Status::Clear)
}

/// The same for people and for scripts.
struct Answer {
    lines: Vec<String>,
    json: Value,
}

impl Relief {
    fn answer(&self) -> Answer {
        let offset = relief_offset(self.diameter, self.angle);
        let wheel = self
            .wheel_diameter
            .map(|wheel| relief_offset(wheel, self.angle));
        let flat = flat_limit(self.angle, self.diameter / 2.0);
        let mut lines = vec![format!(
            "{} tooth rest below centre, or wheel head above it, under a cup wheel",
            shown(offset)
        )];
        lines.extend(wheel.map(|wheel| {
            format!(
                "{} wheel head above centre, with the rim of this straight wheel",
                shown(wheel)
            )
        }));
        lines.extend(flat.map(|flat| {
            format!(
                "{} widest flat land: a wider one drags its heel",
                shown(flat.widest)
            )
        }));
        Answer {
            lines,
            json: json!({
                "setting": "relief",
                "offset_mm": offset.mm(),
                "wheel_offset_mm": wheel.map(Length::mm),
                "widest_flat_mm": flat.map(|flat| flat.widest.mm()),
            }),
        }
    }
}

impl Cam {
    fn answer(&self) -> Result<Answer> {
        let land = self.land.unwrap_or(Angle::ZERO);
        let pitch = Angle::TURN / f64::from(self.flutes);
        if land > pitch * (1.0 + 1e-9) {
            let message = format!(
                "read a land of {}°, expected at most {:.4}°, the pitch of {} teeth",
                land.deg(),
                pitch.deg(),
                self.flutes
            );
            return Err(Error::new(Code::Usage, message).help(
                "the next tooth begins where a pitch ends: check `--land`, which is an arc in degrees, and `--flutes`",
            ));
        }
        let rise = cam_rise(self.diameter, self.flutes, self.angle, land)
            .ok_or_else(|| Error::new(Code::Usage, "read no teeth, expected 1 to 24"))?;
        let mut lines = vec![format!(
            "{} rise over one tooth pitch",
            shown(rise.per_pitch)
        )];
        lines.extend(self.land.map(|land| {
            format!(
                "{} fall over a land of {}°",
                shown(rise.over_land),
                land.deg()
            )
        }));
        Ok(Answer {
            lines,
            json: json!({
                "setting": "cam",
                "rise_per_pitch_mm": rise.per_pitch.mm(),
                "fall_over_land_mm": self.land.map(|_| rise.over_land.mm()),
            }),
        })
    }
}

impl Taper {
    fn answer(&self) -> Answer {
        let swing = table_swing(self.now, self.angle, self.length);
        let towards = if swing.angle < Angle::ZERO {
            "larger"
        } else {
            "smaller"
        };
        Answer {
            lines: vec![
                format!(
                    "{:.3}° swing of the table, the tool getting {towards} towards the shank",
                    swing.angle.abs().deg()
                ),
                format!(
                    "{} more on an indicator moved over {} mm of the table",
                    shown(swing.over_length.abs()),
                    self.length.mm()
                ),
            ],
            json: json!({
                "setting": "taper",
                "swing_deg": swing.angle.deg(),
                "over_length_mm": swing.over_length.mm(),
                "length_mm": self.length.mm(),
            }),
        }
    }
}

impl Skim {
    fn answer(&self) -> Result<Answer> {
        if !self.wear.is_empty() && self.wear.len() != self.edges.len() {
            return Err(Error::new(
                Code::Usage,
                format!(
                    "read {} wear lands for {} edges, expected as many",
                    self.wear.len(),
                    self.edges.len()
                ),
            )
            .help("name one a flute, 0 where there is none"));
        }
        let wear = self
            .wear
            .iter()
            .copied()
            .chain(std::iter::repeat(Length::ZERO));
        let teeth: Vec<Worn> = self
            .edges
            .iter()
            .zip(wear)
            .map(|(&height, wear_land)| Worn { height, wear_land })
            .collect();
        let skim = least_skim(self.diameter, &teeth, self.angle).ok_or_else(|| {
            Error::new(
                Code::Usage,
                "read a wear land that no flat of this relief can clear",
            )
            .help("a wear land must be narrower than half the diameter times the sine of the relief angle")
        })?;
        let mut lines: Vec<String> = skim
            .stock
            .iter()
            .enumerate()
            .map(|(at, stock)| format!("{} off flute {}", shown(*stock), at + 1))
            .collect();
        lines.push(format!("{} diameter left", shown(skim.diameter)));
        Ok(Answer {
            lines,
            json: json!({
                "setting": "skim",
                "stock_mm": skim.stock.iter().map(|stock| stock.mm()).collect::<Vec<_>>(),
                "diameter_mm": skim.diameter.mm(),
            }),
        })
    }
}

/// A length to a micrometre and to a tenth of a thousandth, numbers below each other.
fn shown(length: Length) -> String {
    format!("{:9.3} mm ({:.4} in) ", length.mm(), length.inches())
}

/// A length with its unit behind it; mm where none stands there.
fn height(text: &str) -> std::result::Result<Length, String> {
    let expected = "expected a length such as 20, 20mm, 0.75in or 500um";
    let text = text.trim();
    let unit_at = text
        .find(|c: char| c.is_ascii_alphabetic())
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(unit_at);
    let number: f64 = number.trim().parse().map_err(|_| expected.to_owned())?;
    let length = match unit {
        "" | "mm" => Length::from_mm(number),
        "in" => Length::from_in(number),
        "um" => Length::from_um(number),
        _ => return Err(expected.to_owned()),
    };
    let sensible = length.abs() < Length::from_mm(2000.0);
    sensible
        .then_some(length)
        .ok_or_else(|| "expected less than 2000 mm".to_owned())
}

fn length(text: &str) -> std::result::Result<Length, String> {
    let length = height(text)?;
    let positive = length > Length::ZERO;
    positive
        .then_some(length)
        .ok_or_else(|| "expected a length above 0".to_owned())
}

fn angle(text: &str, least: f64, most: f64) -> std::result::Result<Angle, String> {
    let number = text.trim().parse().ok();
    let within = number.filter(|deg: &f64| (least..=most).contains(deg));
    within
        .map(Angle::from_deg)
        .ok_or_else(|| format!("expected an angle from {least} to {most} degrees"))
}

fn relief(text: &str) -> std::result::Result<Angle, String> {
    angle(text, 0.01, 60.0)
}

fn arc(text: &str) -> std::result::Result<Angle, String> {
    angle(text, 0.1, 360.0)
}

fn taper(text: &str) -> std::result::Result<Angle, String> {
    angle(text, -45.0, 45.0)
}
