//! `new tool`: a tool card to start from.

use super::kept::{Made, Where};
use super::quantities::{self, Steps, one_of};
use crate::card::starter::{Material, NewFeature, NewTool, Work, features_of_steps};
use crate::card::{CurveChoice, Hand, Limit, Surface, ToolCard};
use crate::cli::{Out, Status, typed};
use crate::error::Result;
use crate::quantity::{Angle, Length};
use clap::Args;
use serde_json::Map;

/// A tool card
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear new tool
  heelclear new tool --id VB-07 --name 'seat counterbore' --diameter 20 --flutes 2 --relief '6 to 9'
  heelclear new tool --id VB-24 --work reamer --material steel --diameter 10 --flutes 6
  heelclear new tool --id VB-31 --steps '6 to 20 by 2' --chamfer 45 --flutes 1 --out VB-31.toml
  heelclear new tool --id VB-52 --diameter 3/4in --units in --out -

--steps makes a diameter and the shoulder before it for each step, from the front on; the first
shoulder is taken to be as high as the next. A length is in mm, or has its unit behind it.
Published figures are set as limits, with their source; those that are only recalled are left out.")]
pub(super) struct Tool {
    #[command(flatten)]
    to: Where,
    /// The shop's own number for the tool
    #[arg(long, value_name = "TEXT")]
    id: Option<String>,
    /// What people call it
    #[arg(long, value_name = "TEXT")]
    name: Option<String>,
    /// Which way it cuts
    #[arg(long, value_parser = one_of(&[Hand::Right, Hand::Left], Hand::as_str))]
    hand: Option<Hand>,
    /// Number of teeth
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=24))]
    flutes: Option<u32>,
    /// Whose figures of the trade hold: a cutter is a milling cutter, counterbore or chamfer cutter
    #[arg(long, value_parser = one_of(Work::ALL, Work::as_str), default_value = "cutter")]
    work: Work,
    /// What it cuts: fills limits that a published source has
    #[arg(long, value_parser = one_of(Material::ALL, Material::as_str))]
    material: Option<Material>,
    /// Diameters of a step tool: `6 to 20 by 2`, or each from the front on
    #[arg(long, value_name = "STEPS", value_parser = quantities::steps, conflicts_with_all = ["diameter", "feature", "surface", "face", "least_diameter"], allow_hyphen_values = true)]
    steps: Option<Steps>,
    /// Angle of the shoulders of a step tool to its axis; square when absent
    #[arg(long, value_name = "ANGLE", value_parser = chamfer, requires = "steps", allow_negative_numbers = true)]
    chamfer: Option<Angle>,
    /// What traces call its one feature
    #[arg(long, value_name = "NAME")]
    feature: Option<String>,
    /// Along which direction the indicator touches it; radial when absent
    #[arg(long, value_parser = one_of(&[Surface::Radial, Surface::Axial], Surface::as_str))]
    surface: Option<Surface>,
    /// Diameter of the edge circle; on an axial surface, of the circle that the probe follows
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Option<Length>,
    /// Smallest diameter that regrinding may bring it to
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    least_diameter: Option<Length>,
    /// Angle of an axial surface to the axis
    #[arg(long, value_name = "ANGLE", value_parser = face, allow_negative_numbers = true)]
    face: Option<Angle>,
    #[command(flatten)]
    every: EveryFeature,
}

/// What holds for every feature.
#[derive(Args)]
struct EveryFeature {
    /// Arc length behind the edge at which the drop is read
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    check_distance: Option<Length>,
    /// Arc to judge behind each edge
    #[arg(long, value_name = "ANGLE", value_parser = typed::arc, allow_negative_numbers = true)]
    land: Option<Angle>,
    /// Feed a turn, for axial surfaces
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    feed: Option<Length>,
    /// Family of curves that describes the lands
    #[arg(long, value_parser = one_of(CurveChoice::ALL, CurveChoice::as_str))]
    curve: Option<CurveChoice>,
    /// Least and greatest relief angle, as `6 to 9`
    #[arg(long, value_name = "RANGE", value_parser = quantities::relief, allow_hyphen_values = true)]
    relief: Option<Limit>,
    /// Least height of the edge above what follows it
    #[arg(long, value_name = "LENGTH", value_parser = typed::from_zero, allow_negative_numbers = true)]
    clearance: Option<Length>,
}

impl Tool {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let units = self.to.units.into();
        let features = match &self.steps {
            Some(steps) => {
                let square = Angle::from_turns(0.25);
                features_of_steps(&steps.0, self.chamfer.unwrap_or(square), units)
            }
            None => vec![self.alone()],
        };
        let of_steps = self.steps.is_some();
        let features = features.into_iter();
        let features: Vec<NewFeature> = features.map(|it| self.every.on(it, of_steps)).collect();
        let tool = NewTool {
            units,
            id: self.id.clone(),
            name: self.name.clone(),
            hand: self.hand,
            flutes: self.flutes,
            work: self.work,
            material: self.material,
            features,
        };
        let starter = tool.card();
        if let Some(material) = self.material
            && starter.from_sources.is_empty()
        {
            out.note(&format!(
                "no published figure for a {} in {}: limits that nobody stated are left out",
                self.work.as_str(),
                material.as_str()
            ));
        }
        let made = Made {
            kind: "tool",
            starter,
            read: &|text, file| ToolCard::parse(text, file).map(drop),
            lines: Vec::new(),
            object: Map::new(),
        };
        self.to.keep(made, out)
    }

    fn alone(&self) -> NewFeature {
        NewFeature {
            name: self.feature.clone(),
            surface: self.surface.unwrap_or(Surface::Radial),
            diameter: self.diameter,
            least_diameter: self.least_diameter,
            face: self.face,
            ..NewFeature::default()
        }
    }
}

impl EveryFeature {
    /// With steps a feed is that of the shoulders; on a radial surface alone the reader says why not.
    fn on(&self, feature: NewFeature, of_steps: bool) -> NewFeature {
        let fed = !of_steps || feature.surface == Surface::Axial;
        let feed = self.feed.filter(|_| fed);
        NewFeature {
            check_distance: self.check_distance,
            land: self.land,
            feed,
            curve: self.curve,
            relief: self.relief,
            clearance: self.clearance,
            ..feature
        }
    }
}

fn chamfer(text: &str) -> typed::Read<Angle> {
    typed::angle(text, 20.0, 90.0)
}

fn face(text: &str) -> typed::Read<Angle> {
    typed::angle(text, 20.0, 160.0)
}
